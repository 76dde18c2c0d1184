"""The flux table as it acts at a speed, where eddy currents in iron hold flux back."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from fieldsim.field.iron.iron_eddies import IronEddies
from fieldsim.field.linkage.series import sample_series
from fieldsim.machine.machine import Machine
from fieldsim.waveform.emf import Speed
from fieldsim.waveform.flux_table import FluxTable

__all__ = ["flux_tables_at_speed", "principal_rad_per_s"]


def flux_tables_at_speed(
    table: FluxTable, machine: Machine, speed: Speed, eddies: IronEddies, relative: float
) -> tuple[FluxTable, FluxTable]:
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
    acting, braking
        Tables of as many angles. Every order of a linkage is smaller, and behind in time, by what
        the iron makes of its frequency: first as the magnets act on the coils, then as the coils'
        currents act on the magnets. Without eddy currents both are the table itself.

    Notes
    -----
    Each rotor by itself: in linear iron their fluxes add up.
    """
    if not eddies:
        return table, table
    series = table.harmonics_Wb()
    orders = series.shape[2]
    slopes = 2 * (np.arange(orders) * np.abs(series)).sum(axis=2)
    changes = eddies.linkage_changes_Wb(
        machine.placed_rotors, speed.rotors_rad_per_s, slopes, relative
    )
    acting, braking = (
        replace(
            table,
            linkage_Wb=table.linkage_Wb + sample_series(change[..., :orders], table.angles),
        )
        for change in changes
    )
    return acting, braking


def principal_rad_per_s(table: FluxTable, speed: Speed) -> float:
    """Return the angular frequency of the strongest wave that a rotor drives in a coil [rad/s].

    Parameters
    ----------
    table
        Of the machine.
    speed
        Of its rotors.

    Examples
    --------
    >>> from fractions import Fraction
    >>> angle = 2 * np.pi * np.arange(64) / 64
    >>> linkage = np.cos(2 * angle) + 0.1 * np.cos(6 * angle)
    >>> table = FluxTable(("coil",), ("rotor",), linkage[None, None], np.zeros((1, 1)))
    >>> principal_rad_per_s(table, Speed(10.0, (Fraction(-3),), "crank"))
    60.0
    """
    series = table.harmonics_Wb()
    rates = np.arange(series.shape[2]) * np.abs(np.array(speed.rotors_rad_per_s))[:, None]
    strength = (rates * np.abs(series)).max(axis=0)
    return float(rates.flat[int(strength.argmax())])
