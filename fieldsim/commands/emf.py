"""The ``emf`` command: the open-circuit waveform at a speed."""

from __future__ import annotations

import click

from fieldsim.commands.options import (
    Described,
    Results,
    Tolerance,
    deliver,
    exact_option,
    machine_argument,
    progress_bar,
    ranges_unless,
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
@exact_option
@result_options
def emf(
    described: Described,
    crank_speed: float | None,
    rotor_speed: float | None,
    samples: int | None,
    tolerance: Tolerance,
    exact: bool,
    results: Results,
) -> None:
    """EMF of every coil with nothing connected: peak, RMS, rectified mean, frequency."""
    from fieldsim.charts.plots import save_emf_plot
    from fieldsim.tables.json_documents import emf_json
    from fieldsim.tables.result_datasets import emf_dataset
    from fieldsim.waveform.emf import emf_waveform
    from fieldsim.words.range_text import emf_range_lines
    from fieldsim.words.terminal import emf_text

    with progress_bar("flux linkage") as progress:
        point = described.point(crank_speed, rotor_speed, tolerance, progress=progress)
        table = point.flux_table
    say_if_rough(float(table.relative_error.max()), point.tolerance)
    machine, waveform = point.machine, point.waveform
    # The figures never rest on the samples asked for: eight of them would miss the peak.
    listed = waveform
    if samples is not None:
        listed = emf_waveform(table, machine, point.speed, samples=samples)
    study = ranges_unless(exact, point, with_load=False)
    deliver(
        results,
        table=lambda: emf_dataset(listed),
        picture=lambda path: save_emf_plot(listed, path),
        as_json=lambda: emf_json(waveform, study),
        text=lambda: emf_text(machine, waveform, emf_range_lines(study)),
    )
