"""The ``match`` command: the load and the gauge for most power, the speed that lamps need."""

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


@click.command()
@click.argument("geometry", type=GEOMETRY)
@speed_options
@click.option(
    "--gauges",
    metavar="AWG",
    default="24..44",
    show_default=True,
    help='Gauges to try, like 24..40 or "28, 30, 32".',
)
@tolerance_option(1e-5)
@result_options
def match(
    geometry: str,
    crank_speed: float | None,
    rotor_speed: float | None,
    gauges: str,
    tolerance: float,
    results: Results,
) -> None:
    """Find the load and gauge for most power, and the lowest speed at which each lamp lights."""
    from fieldsim.commands.wind import gauges_of
    from fieldsim.machine_file.reader import read_geometry
    from fieldsim.studies.match import match as match_study
    from fieldsim.waveform.flux_table import flux_table

    chosen = gauges_of(gauges)
    speed_for = speed_of(crank_speed, rotor_speed)
    machine = read_geometry(geometry)
    speed = speed_for(machine)
    table = flux_table(machine, tolerance=tolerance)
    with progress_bar("circuits") as progress:
        study = match_study(machine, table, speed, chosen, progress)
    if results.out is not None:
        from fieldsim.tables.dataset import save_dataset
        from fieldsim.tables.result_datasets import match_dataset

        save_dataset(match_dataset(study), results.out)
    if results.plot is not None:
        from fieldsim.charts.circuit_plots import save_match_plot

        save_match_plot(study, results.plot)
    if results.as_json:
        from fieldsim.tables.json_documents import match_json

        print_json(match_json(study))
        return
    from fieldsim.words.terminal import print_text
    from fieldsim.words.wind_text import match_text

    print_text(match_text(study))
