"""What every shaft bears from all other rotors and from iron together, through a repeat."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from fieldsim.machine.placed import PlacedRotor
from fieldsim.mechanics.attraction import ShaftLoad, hub_m
from fieldsim.mechanics.magnet_pairs import MagnetPair

__all__ = ["in_turning_axes", "shaft_loads"]

Array = NDArray[np.float64]


def shaft_loads(
    rotors: Sequence[PlacedRotor],
    pairs: Sequence[MagnetPair],
    count: int,
    sense: int = 1,
    by_iron: Mapping[str, Array] | None = None,
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
    by_iron
        By rotor, force and moment about its hub by iron at these steps, in axes that turn with it,
        shape (count, 2, 3); None without iron.

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
                felt, angle = pair.felt_by(rotor.name)
                both = np.stack([felt.total_N, felt.moment_about_Nm(hub_m(rotor))], axis=1)
                table = in_turning_axes(rotor, both, angle)
                total = total + pair.through_repeat(table, count, sense)
        if by_iron and rotor.name in by_iron:
            total = total + by_iron[rotor.name]
        force, moment = total[:, 0], total[:, 1]
        result[rotor.name] = ShaftLoad(
            force[:, 2],
            np.hypot(force[:, 0], force[:, 1]),
            np.hypot(moment[:, 0], moment[:, 1]),
        )
    return result


def in_turning_axes(rotor: PlacedRotor, vectors: Array, angle_rad: Array) -> Array:
    """Return vectors in axes that turn with a rotor.

    Parameters
    ----------
    rotor
        The rotor.
    vectors
        In space, shape (angles, n, 3).
    angle_rad
        The rotor's angles [rad], shape (angles,).

    Examples
    --------
    >>> from fieldsim.machine.placed import PlacedRotor
    >>> from fieldsim.machine.shaft import Shaft
    >>> up = PlacedRotor("up", Shaft((0, 0, 0), (0, 0, 1)), (1, 0, 0), ())
    >>> forward = np.array([[[0.0, 1.0, 0.0]]])
    >>> in_turning_axes(up, forward, np.array([np.pi / 2])).round(9).tolist()
    [[[1.0, 0.0, 0.0]]]
    """
    x, y, z = np.moveaxis(vectors @ rotor.frame, -1, 0)
    cos, sin = np.cos(angle_rad)[:, None], np.sin(angle_rad)[:, None]
    return np.stack([cos * x + sin * y, cos * y - sin * x, z], axis=-1)
