"""The ``effort`` command: what the hand feels at the crank, and what could come loose."""

from __future__ import annotations

import click

from fieldsim.commands.options import (
    GEOMETRY,
    Results,
    crank_speed_option,
    print_json,
    progress_bar,
    result_options,
    speed_of,
    tolerance_option,
)


@click.command()
@click.argument("geometry", type=GEOMETRY)
@crank_speed_option
@tolerance_option(1e-6)
@result_options
def effort(
    geometry: str,
    crank_speed: float | None,
    tolerance: float,
    results: Results,
) -> None:
    """Torque and force at the crank, where the power goes, pulls, and what could come loose."""
    from fieldsim.machine_file.reader import read_geometry
    from fieldsim.mechanics.effort import effort as effort_at

    machine = read_geometry(geometry)
    speed = speed_of(crank_speed, None)(machine)
    with progress_bar("flux linkage") as progress:
        result = effort_at(machine, speed, tolerance=tolerance, progress=progress)
    if results.out is not None:
        from fieldsim.tables.dataset import save_dataset
        from fieldsim.tables.result_datasets import effort_dataset

        save_dataset(effort_dataset(result), results.out)
    if results.plot is not None:
        from fieldsim.charts.effort_curves import save_effort_plot

        save_effort_plot(result, results.plot)
    if results.as_json:
        from fieldsim.tables.json_documents import effort_json

        print_json(effort_json(machine, result))
        return
    from fieldsim.words.effort_text import effort_text
    from fieldsim.words.terminal import print_text

    print_text(effort_text(machine, result))
