"""The ``search`` command: the machine that fulfils a wish best."""

from __future__ import annotations

import click

from fieldsim.commands.options import Results, deliver, json_option, progress_bar
from fieldsim.errors import ImpossibleError


@click.command()
@click.argument("file", metavar="WISH")
@json_option
@click.option(
    "--out",
    metavar="FILE",
    help="Write the best machine to FILE, a geometry; an existing file is replaced.",
)
@click.option(
    "--table",
    metavar="FILE",
    help="Write all machines tried to FILE (.h5), also when stopped; an existing file is replaced.",
)
@click.option(
    "--plot",
    metavar="FILE",
    help="Write a picture to FILE (.png, .svg or .pdf); an existing file is replaced.",
)
@click.option("--resume", metavar="FILE", help="Go on from the --table of a stopped search.")
def search(
    file: str,
    as_json: bool,
    out: str | None,
    table: str | None,
    plot: str | None,
    resume: str | None,
) -> None:
    """Look for the machine that fulfils WISH best.

    WISH is a YAML file: the machine to start from, what may vary, what must hold and what is wanted
    most. The README lists its keys.
    """
    from fieldsim.charts.search_curves import save_search_plot
    from fieldsim.commands.options import checked_outputs
    from fieldsim.files import ending_of, place_for
    from fieldsim.machine_file.writer import write
    from fieldsim.studies.search import Search
    from fieldsim.studies.search import search as search_study
    from fieldsim.studies.wish import read_wish
    from fieldsim.tables.dataset import save_dataset
    from fieldsim.tables.json_documents import search_json
    from fieldsim.tables.search_file import load_search, search_dataset
    from fieldsim.words.search_text import search_text

    checked_outputs(None, plot)
    if out is not None:
        ending_of(out, (".yaml", ".yml"), "geometry")
        place_for(out)
    if table is not None:
        ending_of(table, (".h5",), "table")
        place_for(table)
    wish = read_wish(file)
    known = None if resume is None else load_search(resume, wish)
    so_far = known
    with progress_bar("machines") as bar:

        def progress(tried: Search) -> None:
            nonlocal so_far
            so_far = tried
            bar(len(tried), wish.tries)

        try:
            found = search_study(wish, progress=progress, known=known)
        except KeyboardInterrupt:
            if table is not None and so_far is not None:
                save_dataset(search_dataset(so_far), table)
            raise
    if table is not None:
        save_dataset(search_dataset(found), table)
    if out is not None and found.best is not None:
        write(found.machine(found.best), out)
    deliver(
        Results(as_json, None, plot),
        picture=lambda path: save_search_plot(found, path),
        as_json=lambda: search_json(found),
        text=lambda width: search_text(found, width),
    )
    if out is not None and found.best is None:
        raise ImpossibleError(f"{out}: not written, for no machine fulfils the wish")
