"""The ``compare`` command: several designs side by side."""

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
@click.argument("geometries", type=GEOMETRY, nargs=-1, required=True)
@speed_options
@tolerance_option(1e-6)
@result_options
def compare(
    geometries: tuple[str, ...],
    crank_speed: float | None,
    rotor_speed: float | None,
    tolerance: float,
    results: Results,
) -> None:
    """Show the figures of several GEOMETRIES at one speed, and their ratios to the first."""
    from fieldsim.machine_file.reader import read_geometry
    from fieldsim.studies.compare import compare as compare_designs

    speed_for = speed_of(crank_speed, rotor_speed)
    machines = [read_geometry(path) for path in geometries]
    with progress_bar("designs") as progress:
        comparison = compare_designs(machines, speed_for, tolerance=tolerance, progress=progress)
    if results.out is not None:
        from fieldsim.tables.dataset import save_dataset
        from fieldsim.tables.result_datasets import comparison_dataset

        save_dataset(comparison_dataset(comparison), results.out)
    if results.plot is not None:
        from fieldsim.charts.plots import save_comparison_plot

        save_comparison_plot(comparison, results.plot)
    if results.as_json:
        from fieldsim.tables.json_documents import comparison_json

        print_json(comparison_json(comparison))
        return
    from fieldsim.words.terminal import comparison_text, print_text

    print_text(comparison_text(comparison, speed_for(machines[0])))
