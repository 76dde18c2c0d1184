"""The ``flux`` command: the flux-versus-angle table."""

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
    say_if_rough,
    tolerance_option,
)


@click.command()
@machine_argument
@click.option(
    "--angles", type=int, default=360, show_default=True, help="Rotor angles to list over a turn."
)
@tolerance_option(1e-6)
@result_options
def flux(described: Described, angles: int, tolerance: Tolerance, results: Results) -> None:
    """Flux linkage of every coil with every rotor against rotor angle."""
    from fieldsim.charts.plots import save_flux_plot
    from fieldsim.machine.clearance.clearances import check_collisions
    from fieldsim.tables.flux_file import flux_dataset
    from fieldsim.tables.json_documents import flux_json
    from fieldsim.waveform.flux_table import flux_table
    from fieldsim.words.emf_text import flux_text

    machine = described.machine()
    check_collisions(machine)
    asked = tolerance.of(machine)
    with progress_bar("flux linkage") as progress:
        table = flux_table(machine, angles=angles, tolerance=asked, progress=progress)
    say_if_rough(float(table.relative_error.max()), asked)
    deliver(
        results,
        table=lambda: flux_dataset(table),
        picture=lambda path: save_flux_plot(table, path),
        as_json=lambda: flux_json(table),
        text=lambda width: flux_text(table, machine, width),
    )
