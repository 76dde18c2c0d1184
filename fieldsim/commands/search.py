"""The ``search`` command: the machine that fulfils a wish best."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

import click

from fieldsim.commands.options import Results, deliver, json_option, progress_bar
from fieldsim.errors import ImpossibleError

if TYPE_CHECKING:
    from concurrent.futures import Executor

    from fieldsim.studies.search import Search

_BETWEEN_TABLES_S = 30.0


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
    help="Write all machines tried to FILE (.h5), also on the way; an existing file is replaced.",
)
@click.option(
    "--plot",
    metavar="FILE",
    help="Write a picture to FILE (.png, .svg or .pdf); an existing file is replaced.",
)
@click.option("--resume", metavar="FILE", help="Go on from the --table of a stopped search.")
@click.option(
    "--workers",
    type=click.IntRange(1, 256),
    default=1,
    metavar="N",
    help="How many processes work; the answer is the same.  [default: 1]",
)
def search(
    file: str,
    as_json: bool,
    out: str | None,
    table: str | None,
    plot: str | None,
    resume: str | None,
    workers: int,
) -> None:
    """Look for the machine that fulfils WISH best.

    WISH is a YAML file: the machine to start from, what may vary, what must hold and what is wanted
    most. `fieldsim keys wish` lists its keys.
    """
    from fieldsim.charts.search_curves import save_search_plot
    from fieldsim.commands.options import checked_outputs
    from fieldsim.files import ending_of, place_for
    from fieldsim.machine_file.writer import write
    from fieldsim.studies.search import search as search_study
    from fieldsim.studies.wish_file import read_wish
    from fieldsim.tables.json_documents import search_json
    from fieldsim.tables.search_file import load_search
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
    with (
        progress_bar("machines") as bar,
        _kept(table) as keep,
        _executor(workers) as executor,
    ):

        def progress(tried: Search) -> None:
            keep(tried)
            bar(len(tried), min(wish.tries, wish.machines))

        found = search_study(wish, executor=executor, progress=progress, known=known)
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


@contextmanager
def _kept(table: str | None) -> Iterator[Callable[[Search], None]]:
    """Yield what takes all that was tried so far, to write it now and then and at the end.

    What was tried is written too where the search is stopped.
    """
    from fieldsim.tables.dataset import save_dataset
    from fieldsim.tables.search_file import search_dataset

    last: list[Search] = []
    written_s = time.monotonic()

    def keep(tried: Search) -> None:
        nonlocal written_s
        last[:] = [tried]
        if table is not None and time.monotonic() - written_s > _BETWEEN_TABLES_S:
            save_dataset(search_dataset(tried), table)
            written_s = time.monotonic()

    try:
        yield keep
    finally:
        if table is not None and last:
            save_dataset(search_dataset(last[0]), table)


@contextmanager
def _executor(workers: int) -> Iterator[Executor | None]:
    if workers == 1:
        yield None
        return
    from fieldsim.report.beside import workers as processes

    with processes(workers) as pool:
        yield pool
