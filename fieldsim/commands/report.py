"""The ``report`` command: a page to keep, with its tables beside it."""

from __future__ import annotations

import sys

import click

from fieldsim.commands.options import DEFAULT_CRANK, GEOMETRY, SPEED, progress_bar

_LONGEST_LINE = 600


@click.command()
@click.argument("geometries", type=GEOMETRY, nargs=-1, required=True)
@click.option(
    "--crank-speed",
    type=SPEED,
    metavar="SPEED",
    help=f'Speed of the crank, like "90 rpm" or "1.5 turn/s".  [default: {DEFAULT_CRANK}]',
)
@click.option(
    "--out",
    metavar="DIR",
    required=True,
    help="Folder to make; an empty one, or that of an earlier report, is used again.",
)
@click.pass_context
def report(
    context: click.Context, geometries: tuple[str, ...], crank_speed: float | None, out: str
) -> None:
    """Write a report of GEOMETRIES: what lights, how hard it is, what helps most, and all figures.

    The page is DIR/index.html. Several geometries are compared with the first. If one of several
    cannot be computed, the page says so and the exit code is 1.
    """
    from fieldsim.geometry.units import parse_quantity
    from fieldsim.output.report import make_report, save_report
    from fieldsim.output.report_folder import folder_for
    from fieldsim.output.terminal import print_text

    folder_for(out)
    speed = crank_speed
    if speed is None:
        speed = parse_quantity(DEFAULT_CRANK, "rotation speed")
    with progress_bar("report") as progress:
        made = make_report(geometries, speed, progress=progress)
    page = save_report(made, out)
    print_text(f"The report is {page}")
    if made.failed:
        problems = [
            d.problem if d.problem.startswith(d.file) else f"{d.file}: {d.problem}"
            for d in made.failed
        ]
        line = f"not computed: {'; '.join(problems)}"
        if sys.stderr is not None:
            shown = "".join(c if c.isprintable() else "?" for c in " ".join(line.split()))
            sys.stderr.write(f"fieldsim: {shown[:_LONGEST_LINE]}\n")
        context.exit(1)
