"""The flux table as it acts at a speed, where eddy currents in iron hold flux back."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from fieldsim.field.iron.iron_eddies import IronEddies
from fieldsim.field.linkage.series import sample_series
from fieldsim.machine.machine import Machine
from fieldsim.waveform.emf import Speed
from fieldsim.waveform.flux_table import FluxTable

__all__ = ["flux_table_at_speed"]


def flux_table_at_speed(
    table: FluxTable, machine: Machine, speed: Speed, eddies: IronEddies, relative: float
) -> FluxTable:
    """Return a flux table with what eddy currents change of it.

    Parameters
    ----------
    table
        Of the machine, at rest.
    machine, speed
        The machine, and how its rotors turn.
    eddies
        Of its iron.
    relative
        Error of the change, relative to the steepest that each linkage is.

    Returns
    -------
    FluxTable
        Of as many angles. Every order of a linkage is smaller, and behind in time, by what the iron
        makes of its frequency. Without eddy currents it is the table itself.

    Notes
    -----
    Each rotor by itself: in linear iron their fluxes add up.
    """
    if not eddies:
        return table
    series = table.harmonics_Wb()
    order = np.arange(series.shape[2])
    change = np.zeros_like(series)
    for j, rotor in enumerate(machine.placed_rotors):
        slopes = 2 * np.abs(order * series[:, j]).sum(axis=1)
        turning = speed.rotors_rad_per_s[j]
        found = eddies.linkage_change_Wb(rotor, turning, slopes, relative)[:, : len(order)]
        change[:, j, : found.shape[1]] = found
    linkage = table.linkage_Wb + sample_series(change, table.angles)
    return replace(table, linkage_Wb=linkage)
