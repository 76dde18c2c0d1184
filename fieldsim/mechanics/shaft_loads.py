"""What every shaft bears from the magnets of all other rotors together, through a repeat."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.force.rotor_force import MagnetForces
from fieldsim.machine.placed import PlacedRotor
from fieldsim.mechanics.attraction import ShaftLoad, hub_m
from fieldsim.mechanics.magnet_pairs import MagnetPair

__all__ = ["shaft_loads"]

Array = NDArray[np.float64]


def shaft_loads(
    rotors: Sequence[PlacedRotor], pairs: Sequence[MagnetPair], count: int, sense: int = 1
) -> dict[str, ShaftLoad]:
    """Return the load on every rotor's shaft at equal steps of the crank through the repeat.

    Parameters
    ----------
    rotors, pairs
        All of them.
    count
        Number of steps, from crank angle 0.
    sense
        ``1`` if the crank turns forward, ``-1`` if back.

    Returns
    -------
    dict
        By rotor, shape (count,), with the moments at the hubs. A middle rotor may bear little where
        its two neighbours pull against each other.

    Notes
    -----
    Forces and moments are added in axes that turn with the rotor, in which a pair on one line
    depends on the angle between them alone.

    Examples
    --------
    >>> shaft_loads([], [], 8)
    {}
    """
    result = {}
    for rotor in rotors:
        total = np.zeros((count, 2, 3))
        for pair in pairs:
            if rotor.name in pair.names and rotor.magnets:
                table = _turning(rotor, *pair.felt_by(rotor.name))
                total = total + pair.through_repeat(table, count, sense)
        force, moment = total[:, 0], total[:, 1]
        result[rotor.name] = ShaftLoad(
            force[:, 2],
            np.hypot(force[:, 0], force[:, 1]),
            np.hypot(moment[:, 0], moment[:, 1]),
        )
    return result


def _turning(rotor: PlacedRotor, felt: MagnetForces, angle_rad: Array) -> Array:
    """Return force and moment about the hub in the rotor's own axes, (angles, 2, 3)."""
    both = np.stack([felt.total_N, felt.moment_about_Nm(hub_m(rotor))], axis=1)
    x, y, z = np.moveaxis(both @ rotor.frame, -1, 0)
    cos, sin = np.cos(angle_rad)[:, None], np.sin(angle_rad)[:, None]
    return np.stack([cos * x + sin * y, cos * y - sin * x, z], axis=-1)
