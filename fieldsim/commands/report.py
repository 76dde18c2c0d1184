"""The ``report`` command: a page to keep, with its tables beside it."""

from __future__ import annotations

import click

from fieldsim.commands.messages import complain, one_line, print_text
from fieldsim.commands.options import (
    DEFAULT_CRANK,
    GEOMETRY,
    crank_speed_option,
    json_option,
    print_json,
    progress_bar,
)


@click.command()
@click.argument("geometries", type=GEOMETRY, nargs=-1, required=True)
@crank_speed_option
@click.option(
    "--out",
    metavar="DIR",
    required=True,
    help="Folder to make; an empty one, or that of an earlier report, is used again.",
)
@json_option
@click.pass_context
def report(
    context: click.Context,
    geometries: tuple[str, ...],
    crank_speed: float | None,
    out: str,
    as_json: bool,
) -> None:
    """Write a report of GEOMETRIES: what lights, how hard it is, what helps most, and all figures.

    The page is DIR/index.html. Several geometries are compared with the first. If one of several
    cannot be computed, the page says so and the exit code is 1.
    """
    from fieldsim.machine.units import parse_quantity
    from fieldsim.report.folder import folder_for
    from fieldsim.report.report import NoDesignError, make_report, save_report

    folder_for(out)
    speed = crank_speed
    if speed is None:
        speed = parse_quantity(DEFAULT_CRANK, "rotation speed")
    try:
        with progress_bar("report") as progress:
            made = make_report(geometries, speed, progress=progress)
    except NoDesignError as error:
        for design in error.failed:
            complain(*design.lines)
        context.exit(2)
    page = save_report(made, out)
    if as_json:
        from fieldsim.report.report_json import report_json

        print_json(report_json(made, page))
    else:
        print_text(f"The report is {one_line(str(page))}")
    for design in made.failed:
        complain(*(f"not computed: {line}" for line in design.lines))
    if made.failed:
        context.exit(1)
