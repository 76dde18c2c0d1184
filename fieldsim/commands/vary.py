"""The ``vary`` command: one or two parameters against all that the machine gives."""

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
@click.argument("paths", nargs=-1, required=True, metavar="PATH [PATH]")
@click.option(
    "--values",
    "texts",
    required=True,
    multiple=True,
    metavar="VALUES",
    help='Values of the path, like "1 mm, 2 mm" or 24..40; once for each path.',
)
@speed_options
@tolerance_option(1e-5)
@result_options
def vary(
    described: Described,
    paths: tuple[str, ...],
    texts: tuple[str, ...],
    crank_speed: float | None,
    rotor_speed: float | None,
    tolerance: Tolerance,
    results: Results,
) -> None:
    """Vary one or two parameters of GEOMETRY and show voltage, light, power and effort.

    PATH is one that `fieldsim parameters` lists, or crank_speed. A range N..M is every whole gauge
    or count between, otherwise steps of the parameter's own.
    """
    from fieldsim.charts.vary_curves import save_vary_plot
    from fieldsim.studies.vary import values_of, varied
    from fieldsim.studies.vary import vary as vary_study
    from fieldsim.tables.json_documents import vary_json
    from fieldsim.tables.result_datasets import vary_dataset
    from fieldsim.words.vary_text import vary_text

    if len(paths) != len(texts) or len(paths) > 2:
        raise click.UsageError(
            f"{len(paths)} paths and {len(texts)} lists of values; give one or two paths, and "
            "--values for each"
        )
    if len(set(paths)) < len(paths):
        raise click.UsageError(f"{paths[0]} is given twice; two different paths make a map")
    point = described.point(crank_speed, rotor_speed, tolerance)
    values = {
        path: values_of(varied(point, path), text) for path, text in zip(paths, texts, strict=True)
    }
    with progress_bar("rows") as progress:
        study = vary_study(point, values, progress)
    deliver(
        results,
        table=lambda: vary_dataset(study),
        picture=lambda path: save_vary_plot(study, point.speed, path),
        as_json=lambda: vary_json(study),
        text=lambda width: vary_text(study, point.speed, width),
    )
