"""The ``emf`` command: the open-circuit waveform at a speed."""

from __future__ import annotations

import click

from fieldsim.commands.options import (
    GEOMETRY,
    Results,
    print_json,
    progress_bar,
    result_options,
    say_if_rough,
    speed_of,
    speed_options,
    tolerance_option,
)


@click.command()
@click.argument("geometry", type=GEOMETRY)
@speed_options
@click.option(
    "--samples", type=int, help="Samples of the period in table and picture.  [default: as needed]"
)
@tolerance_option(1e-6)
@result_options
def emf(
    geometry: str,
    crank_speed: float | None,
    rotor_speed: float | None,
    samples: int | None,
    tolerance: float,
    results: Results,
) -> None:
    """EMF of every coil with nothing connected: peak, RMS, rectified mean, frequency."""
    from fieldsim.machine_file.reader import read_geometry
    from fieldsim.waveform.emf import emf_waveform
    from fieldsim.waveform.flux_table import flux_table

    speed_for = speed_of(crank_speed, rotor_speed)
    machine = read_geometry(geometry)
    speed = speed_for(machine)
    with progress_bar("flux linkage") as progress:
        table = flux_table(machine, tolerance=tolerance, progress=progress)
    say_if_rough(float(table.relative_error.max()), tolerance)
    waveform = emf_waveform(table, machine, speed)
    # The figures never rest on the samples asked for: eight of them would miss the peak.
    listed = waveform if samples is None else emf_waveform(table, machine, speed, samples=samples)
    if results.out is not None:
        from fieldsim.tables.dataset import save_dataset
        from fieldsim.tables.result_datasets import emf_dataset

        save_dataset(emf_dataset(listed), results.out)
    if results.plot is not None:
        from fieldsim.charts.plots import save_emf_plot

        save_emf_plot(listed, results.plot)
    if results.as_json:
        from fieldsim.tables.json_documents import emf_json

        print_json(emf_json(waveform))
        return
    from fieldsim.words.terminal import emf_text, print_text

    print_text(emf_text(machine, waveform))
