"""The ``emf`` command: the open-circuit waveform at a speed."""

from __future__ import annotations

from functools import partial

import click

from fieldsim.commands.options import (
    Described,
    Results,
    Tolerance,
    deliver,
    machine_argument,
    progress_bar,
    range_options,
    ranges_wanted,
    result_options,
    say_if_rough,
    speed_options,
    tolerance_option,
)


@click.command()
@machine_argument
@speed_options
@click.option(
    "--samples", type=int, help="Samples of the period in table and picture.  [default: as needed]"
)
@tolerance_option(1e-6)
@click.option(
    "--saturation",
    is_flag=True,
    help="Solve for iron that saturates, cell by cell, and say what it leaves.",
)
@range_options
@result_options
def emf(
    described: Described,
    crank_speed: float | None,
    rotor_speed: float | None,
    samples: int | None,
    tolerance: Tolerance,
    saturation: bool,
    results: Results,
) -> None:
    """EMF of coils and connections, open: peak, RMS, rectified mean, frequency."""
    from fieldsim.charts.plots import save_emf_plot
    from fieldsim.charts.range_plots import save_emf_range_plot
    from fieldsim.operation.terminal_voltage import connection_waveform
    from fieldsim.tables.json_documents import emf_json
    from fieldsim.tables.result_datasets import emf_dataset
    from fieldsim.waveform.emf import emf_waveform
    from fieldsim.words.emf_text import emf_text
    from fieldsim.words.range_text import emf_range_lines

    with progress_bar("flux linkage") as progress:
        point = described.point(crank_speed, rotor_speed, tolerance, progress=progress)
        table = point.flux_table
    say_if_rough(float(table.relative_error.max()), point.tolerance)
    machine = point.machine
    # The figures never rest on the samples asked for: eight of them would miss the peak.
    listed = point.waveform
    if samples is not None:
        moving = point.moving_flux_table
        listed = emf_waveform(table, machine, point.speed, samples=samples, moving=moving)
    saturated = None
    if saturation:
        from fieldsim.operation.saturated_emf import saturated_emf

        with progress_bar("saturation") as progress:
            saturated = saturated_emf(point, progress)
    study = ranges_wanted(results, point, with_load=False)
    deliver(
        results,
        table=lambda: emf_dataset(listed, connection_waveform(listed, machine)),
        picture=lambda path: save_emf_plot(listed, path, connection_waveform(listed, machine)),
        range_picture=partial(save_emf_range_plot, study) if study else None,
        as_json=lambda: emf_json(point, study, saturated),
        text=lambda width: emf_text(point, width, emf_range_lines(study), saturated),
    )
