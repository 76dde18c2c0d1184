"""The ``match`` command: the load for most power, the gauge for most light, the speed it takes."""

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
    metavar="WIRES",
    default="24..44",
    show_default=True,
    help='Wires to try, like 24..40, "28, 30" or "0.1 mm..0.4 mm"; numbers alone count in the '
    "file's own gauges, in a file in mm they stand for metric wires.",
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
    """Find the load for most power, the gauge for most light, and the speed each lamp needs."""
    from fieldsim.charts.circuit_plots import save_match_plot
    from fieldsim.commands.wind import chosen_gauges
    from fieldsim.studies.match import match as match_study
    from fieldsim.tables.json_documents import match_json
    from fieldsim.tables.result_datasets import match_dataset
    from fieldsim.words.wind_text import match_text

    point = described.point(crank_speed, rotor_speed, tolerance)
    chosen = chosen_gauges(gauges, point.machine)
    with progress_bar("circuits") as progress:
        study = match_study(point, chosen, progress)
    deliver(
        results,
        table=lambda: match_dataset(study),
        picture=lambda path: save_match_plot(study, path),
        as_json=lambda: match_json(study),
        text=lambda width: match_text(study, width),
    )
