"""The ``effort`` command: what the hand feels at the crank, and what could come loose."""

from __future__ import annotations

from functools import partial

import click

from fieldsim.commands.options import (
    Described,
    Results,
    Tolerance,
    crank_speed_option,
    deliver,
    machine_argument,
    progress_bar,
    range_options,
    ranges_wanted,
    result_options,
    tolerance_option,
)


@click.command()
@machine_argument
@crank_speed_option
@tolerance_option(1e-6)
@range_options
@result_options
def effort(
    described: Described,
    crank_speed: float | None,
    tolerance: Tolerance,
    results: Results,
) -> None:
    """Torque and force at the crank, where the power goes, pulls, and what could come loose."""
    from fieldsim.charts.effort_curves import save_effort_plot
    from fieldsim.charts.range_plots import save_effort_range_plot
    from fieldsim.tables.json_documents import effort_json
    from fieldsim.tables.result_datasets import effort_dataset
    from fieldsim.words.effort_text import effort_text
    from fieldsim.words.range_text import effort_range_lines

    with progress_bar("effort") as progress:
        point = described.point(crank_speed, None, tolerance, progress=progress)
        result = point.effort
    study = ranges_wanted(results, point)
    deliver(
        results,
        table=lambda: effort_dataset(result),
        picture=lambda path: save_effort_plot(result, path),
        range_picture=partial(save_effort_range_plot, study, result) if study else None,
        as_json=lambda: effort_json(point.machine, result, study, result.assemblies),
        text=lambda width: effort_text(
            point.machine, result, width, effort_range_lines(study, result)
        ),
    )
