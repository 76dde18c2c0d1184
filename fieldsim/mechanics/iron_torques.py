"""The torque with which iron holds and lets go of a rotor's magnets, through a whole repeat."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.iron.iron_energy import IronEnergy
from fieldsim.machine.placed import PlacedRotor
from fieldsim.mechanics.fourier import fourier_walk

__all__ = ["IronTorque", "iron_torques"]

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class IronTorque:
    """What the iron does to one rotor.

    Parameters
    ----------
    torque_Nm
        On its magnets about ``along``, at equal steps of the crank, shape (samples,). Over the
        whole repeat the torques of all rotors do no work.
    error_Nm
        Its estimated error, the largest over the repeat.
    """

    torque_Nm: Array = field(repr=False)
    error_Nm: float

    @property
    def peak_torque_Nm(self) -> float:
        """The largest torque, either way [N m]; nothing where it is no more than its error."""
        peak = float(np.abs(self.torque_Nm).max())
        return peak if peak > self.error_Nm else 0.0

    @property
    def unresolved(self) -> float:
        """Its error over its largest torque; 0 is perfect."""
        peak = self.peak_torque_Nm
        return self.error_Nm / peak if peak else 0.0


def iron_torques(
    energy: IronEnergy, rotors: Sequence[PlacedRotor], whole_turns: Sequence[int], count: int
) -> dict[str, IronTorque]:
    """Return what the iron does to every rotor through the repeat.

    Parameters
    ----------
    energy
        Of the iron.
    rotors
        Of the same machine, which stand at their starts at the first sample.
    whole_turns
        That each makes until the samples repeat, signed.
    count
        Number of samples.

    Returns
    -------
    dict
        By rotor; empty without iron.
    """
    if not len(energy.order):
        return {}
    start = np.array([rotor.start for rotor in rotors])[energy.rotor] * energy.order
    turned = np.array(whole_turns, dtype=np.int64)[energy.rotor] * energy.order
    phase = np.exp(1j * (start[:, None] + start)).reshape(-1, 1)
    steps = (turned[:, None] + turned).ravel()
    found = {}
    for rotor in rotors:
        both = [
            energy.torque_series(rotor.name, rough).reshape(-1, 1) * phase
            for rough in (False, True)
        ]
        fine, rough = fourier_walk(np.concatenate(both, axis=1), steps, count).T
        tail = energy.tail * float(np.abs(fine).max())
        found[rotor.name] = IronTorque(fine, float(np.abs(fine - rough).max()) + tail)
    return found
