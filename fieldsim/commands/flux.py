"""The ``flux`` command: the flux-versus-angle table."""

from __future__ import annotations

import click

from fieldsim.commands.options import (
    GEOMETRY,
    Results,
    print_json,
    progress_bar,
    result_options,
    say_if_rough,
    tolerance_option,
)


@click.command()
@click.argument("geometry", type=GEOMETRY)
@click.option(
    "--angles", type=int, default=360, show_default=True, help="Rotor angles to list over a turn."
)
@tolerance_option(1e-6)
@result_options
def flux(
    geometry: str,
    angles: int,
    tolerance: float,
    results: Results,
) -> None:
    """Flux linkage of every coil with every rotor against rotor angle."""
    from fieldsim.machine_file.reader import read_geometry
    from fieldsim.waveform.flux_table import flux_table

    machine = read_geometry(geometry)
    with progress_bar("flux linkage") as progress:
        table = flux_table(machine, angles=angles, tolerance=tolerance, progress=progress)
    say_if_rough(float(table.relative_error.max()), tolerance)
    if results.out is not None:
        from fieldsim.tables.flux_file import save_flux_table

        save_flux_table(table, results.out)
    if results.plot is not None:
        from fieldsim.charts.plots import save_flux_plot

        save_flux_plot(table, results.plot)
    if results.as_json:
        from fieldsim.tables.json_documents import flux_json

        print_json(flux_json(table))
        return
    from fieldsim.words.terminal import flux_text, print_text

    print_text(flux_text(table))
