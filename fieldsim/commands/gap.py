"""The ``gap`` command: what the clearance between magnets and winding does to the voltage."""

from __future__ import annotations

import click

from fieldsim.commands.options import (
    Described,
    Results,
    Tolerance,
    deliver,
    machine_argument,
    progress_bar,
    result_options,
    speed_options,
    tolerance_option,
)


@click.command()
@machine_argument
@click.option(
    "--values",
    required=True,
    metavar="GAPS",
    help='Clearances, like "1 mm, 2 mm, 4 mm" or "1 mm..6 mm".',
)
@click.option(
    "--rotor",
    "rotors",
    multiple=True,
    metavar="NAME",
    help="Rotor to move; may be given several times.  [default: all]",
)
@speed_options
@tolerance_option(1e-5)
@result_options
def gap(
    described: Described,
    values: str,
    rotors: tuple[str, ...],
    crank_speed: float | None,
    rotor_speed: float | None,
    tolerance: Tolerance,
    results: Results,
) -> None:
    """Change the smallest clearance between magnets and windings, and show the voltage there."""
    from fieldsim.charts.plots import save_gap_plot
    from fieldsim.machine.units import parse_quantity
    from fieldsim.studies.gap import gap_study
    from fieldsim.studies.vary import values_of, varied
    from fieldsim.tables.json_documents import gap_json
    from fieldsim.tables.result_datasets import gap_dataset
    from fieldsim.words.emf_text import gap_text

    point = described.point(crank_speed, rotor_speed, tolerance)
    try:
        texts = values_of(varied(point, "clearance"), values)
        gaps = [parse_quantity(text, "length") for text in texts]
    except ValueError as error:
        raise click.BadParameter(str(error), param_hint="--values") from None
    with progress_bar("gaps") as progress:
        study = gap_study(point, gaps, rotors, progress)
    deliver(
        results,
        table=lambda: gap_dataset(study),
        picture=lambda path: save_gap_plot(study, point.speed, path),
        as_json=lambda: gap_json(study),
        text=lambda width: gap_text(study, point.machine, point.speed, width),
    )
