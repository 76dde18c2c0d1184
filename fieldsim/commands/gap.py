"""The ``gap`` command: what the clearance between magnets and winding does to the voltage."""

from __future__ import annotations

import click

from fieldsim.commands.options import (
    GEOMETRY,
    Results,
    print_json,
    progress_bar,
    result_options,
    speed_of,
    speed_options,
    tolerance_option,
)

_MOST_VALUES = 1000


def _gaps(text: str) -> list[float]:
    from fieldsim.machine.units import parse_quantity

    parts = [part.strip() for part in text.split(",")]
    if len(parts) > _MOST_VALUES:
        raise click.BadParameter(f"{len(parts)} values; at most {_MOST_VALUES} are allowed")
    try:
        return [parse_quantity(part, "length") for part in parts]
    except ValueError as error:
        raise click.BadParameter(str(error), param_hint="--values") from None


@click.command()
@click.argument("geometry", type=GEOMETRY)
@click.option(
    "--values", required=True, metavar="GAPS", help='Clearances, like "1 mm, 2 mm, 4 mm".'
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
    geometry: str,
    values: str,
    rotors: tuple[str, ...],
    crank_speed: float | None,
    rotor_speed: float | None,
    tolerance: float,
    results: Results,
) -> None:
    """Move rotors along their shafts to each clearance and show the voltage there."""
    from fieldsim.machine_file.reader import read_geometry
    from fieldsim.studies.gap import gap_study

    gaps = _gaps(values)
    speed_for = speed_of(crank_speed, rotor_speed)
    machine = read_geometry(geometry)
    with progress_bar("gaps") as progress:
        study = gap_study(
            machine, gaps, speed_for, rotors=rotors, tolerance=tolerance, progress=progress
        )
    if results.out is not None:
        from fieldsim.tables.dataset import save_dataset
        from fieldsim.tables.result_datasets import gap_dataset

        save_dataset(gap_dataset(study), results.out)
    if results.plot is not None:
        from fieldsim.charts.plots import save_gap_plot

        save_gap_plot(study, results.plot)
    if results.as_json:
        from fieldsim.tables.json_documents import gap_json

        print_json(gap_json(study))
        return
    from fieldsim.words.terminal import gap_text, print_text

    print_text(gap_text(study, speed_for(machine)))
