"""The ``light`` command: what lights at a speed, and what the meters show."""

from __future__ import annotations

from functools import partial

import click

from fieldsim.commands.options import (
    Described,
    QuantityType,
    Results,
    Tolerance,
    deliver,
    machine_argument,
    progress_bar,
    range_options,
    ranges_wanted,
    result_options,
    speed_options,
    tolerance_option,
)


@click.command()
@machine_argument
@speed_options
@click.option(
    "--start-up",
    type=QuantityType("time"),
    metavar="TIME",
    help='Also follow a start from rest for this long, like "3 s"; tables and pictures are of it.',
)
@click.option(
    "--ramp",
    type=QuantityType("time"),
    metavar="TIME",
    help="Time from rest to full speed in a start.  [default: 1 s]",
)
@click.option(
    "--wobble",
    type=QuantityType("fraction"),
    metavar="SHARE",
    help="How much the speed wobbles, twice a turn, in a start.  [default: 10 %]",
)
@click.option(
    "--meter-resistance",
    type=QuantityType("resistance"),
    metavar="OHM",
    help="Input resistance of the meter.  [default: 10 Mohm]",
)
@click.option(
    "--meter-update",
    type=QuantityType("time"),
    metavar="TIME",
    help="Time between two numbers of its peak hold.  [default: 0.4 s]",
)
@tolerance_option(1e-5)
@range_options
@result_options
def light(
    described: Described,
    crank_speed: float | None,
    rotor_speed: float | None,
    start_up: float | None,
    ramp: float | None,
    wobble: float | None,
    meter_resistance: float | None,
    meter_update: float | None,
    tolerance: Tolerance,
    results: Results,
) -> None:
    """Say what lights at a speed, how brightly, what the meters show and what to heed."""
    from fieldsim.charts.circuit_plots import save_circuit_plot
    from fieldsim.charts.range_plots import save_light_range_plot
    from fieldsim.circuit.multimeter import INPUT_OHM, UPDATE_S, Meter
    from fieldsim.studies.lamp_start import lamp_start
    from fieldsim.tables.json_documents import light_json
    from fieldsim.tables.result_datasets import circuit_dataset
    from fieldsim.words.light_text import lamp_start_text, light_text
    from fieldsim.words.range_text import light_range_lines

    if start_up is None and (ramp is not None or wobble is not None):
        raise click.UsageError("--ramp and --wobble describe a start; give --start-up as well")
    meter = Meter(
        INPUT_OHM if meter_resistance is None else meter_resistance,
        UPDATE_S if meter_update is None else meter_update,
    )
    with progress_bar("circuit") as progress:
        point = described.point(crank_speed, rotor_speed, tolerance, meter=meter, progress=progress)
        report = point.light
        start = None
        if start_up is not None:
            start = lamp_start(
                point, start_up, 1.0 if ramp is None else ramp, 0.1 if wobble is None else wobble
            )
    result = report.result if start is None else start.result
    study = ranges_wanted(results, point)
    deliver(
        results,
        table=lambda: circuit_dataset(result, report.title),
        picture=lambda path: save_circuit_plot(result, report.title, point.speed, path),
        range_picture=partial(save_light_range_plot, study) if study else None,
        as_json=lambda: light_json(report, start, study),
        text=lambda width: "\n\n".join(
            [
                light_text(point.machine, report, width, light_range_lines(study)),
                *([lamp_start_text(start, width)] if start else []),
            ]
        ),
    )
