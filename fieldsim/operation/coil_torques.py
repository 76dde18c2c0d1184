"""The torque with which the coils' currents hold the rotors back."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from fieldsim.machine.placed import PlacedRotor
from fieldsim.mechanics.crank_effort import electromagnetic_torque_Nm
from fieldsim.mechanics.fourier import fourier_walk
from fieldsim.waveform.flux_table import FluxTable

__all__ = ["coil_torques_Nm"]

Array = NDArray[np.float64]


def coil_torques_Nm(
    table: FluxTable, rotors: Sequence[PlacedRotor], whole_turns: Sequence[int], current_A: Array
) -> dict[str, Array]:
    """Return the torque that the coils' currents exert on each rotor.

    Parameters
    ----------
    table
        Flux linkage of the machine.
    rotors
        Its rotors, which stand at their starts at the first sample.
    whole_turns
        That each makes until the samples repeat, signed.
    current_A
        Of each coil at equal steps, positive along its turns, shape (coils, samples).

    Returns
    -------
    dict
        By rotor, about its ``along``, [N m], shape (samples,).

    Notes
    -----
    As `fieldsim.mechanics.crank_effort.electromagnetic_torque_Nm`, with the derivative of the
    linkage from its Fourier series.
    """
    series = table.harmonics_Wb()
    order = np.arange(series.shape[2])
    torque = {}
    for j, (rotor, turns) in enumerate(zip(rotors, whole_turns, strict=True)):
        slopes = 2j * order * series[:, j] * np.exp(1j * order * rotor.start)
        slope = fourier_walk(slopes.T, order * turns, current_A.shape[1]).T
        torque[rotor.name] = electromagnetic_torque_Nm(current_A, slope)
    return torque
