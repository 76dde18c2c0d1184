"""The ``match`` command: the load and the gauge for most power, the speed that lamps need."""

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
    described: Described,
    crank_speed: float | None,
    rotor_speed: float | None,
    gauges: str,
    tolerance: Tolerance,
    results: Results,
) -> None:
    """Find the load and gauge for most power, and the lowest speed at which each lamp lights."""
    from fieldsim.charts.circuit_plots import save_match_plot
    from fieldsim.commands.wind import gauges_of
    from fieldsim.studies.match import match as match_study
    from fieldsim.tables.json_documents import match_json
    from fieldsim.tables.result_datasets import match_dataset
    from fieldsim.words.wind_text import match_text

    chosen = gauges_of(gauges)
    point = described.point(crank_speed, rotor_speed, tolerance)
    with progress_bar("circuits") as progress:
        study = match_study(point, chosen, progress)
    deliver(
        results,
        table=lambda: match_dataset(study),
        picture=lambda path: save_match_plot(study, path),
        as_json=lambda: match_json(study),
        text=lambda width: match_text(study, width),
    )
