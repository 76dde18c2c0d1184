"""The ``compare`` command: several designs side by side."""

from __future__ import annotations

from functools import partial

import click

from fieldsim.commands.options import (
    Described,
    Results,
    Tolerance,
    deliver,
    machines_argument,
    progress_bar,
    range_options,
    ranges_wanted,
    result_options,
    speed_options,
    tolerance_option,
)


@click.command()
@machines_argument
@speed_options
@tolerance_option(1e-6)
@range_options
@result_options
def compare(
    described: tuple[Described, ...],
    crank_speed: float | None,
    rotor_speed: float | None,
    tolerance: Tolerance,
    results: Results,
) -> None:
    """Show the figures of several GEOMETRIES at one speed, and their ratios to the first."""
    from fieldsim.charts.plots import save_comparison_plot
    from fieldsim.charts.range_plots import save_comparison_range_plot
    from fieldsim.studies.compare import compare as compare_designs
    from fieldsim.tables.json_documents import comparison_json
    from fieldsim.tables.result_datasets import comparison_dataset
    from fieldsim.words.emf_text import comparison_text
    from fieldsim.words.range_text import comparison_range_lines

    points = [each.point(crank_speed, rotor_speed, tolerance) for each in described]
    with progress_bar("designs") as progress:
        comparison = compare_designs(points, progress)
    studies = tuple(
        study
        for study in (ranges_wanted(results, point, with_load=False) for point in points)
        if study is not None
    )
    deliver(
        results,
        table=lambda: comparison_dataset(comparison),
        picture=lambda path: save_comparison_plot(comparison, points[0].speed, path),
        range_picture=partial(save_comparison_range_plot, studies),
        as_json=lambda: comparison_json(comparison, studies),
        text=lambda width: comparison_text(
            comparison, points[0].speed, width, comparison_range_lines(studies)
        ),
    )
