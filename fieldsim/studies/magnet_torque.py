"""The magnets of all rotors on each other while the crank turns."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Mapping, Sequence
from fractions import Fraction

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fieldsim.field.rotor_force import RotorForces, neighbour_forces, rotor_forces
from fieldsim.geometry.machine import Rotor
from fieldsim.studies.magnet_retention import arm_forces_N

__all__ = [
    "crank_angles_rad",
    "forces_between",
    "magnet_loads_N",
    "magnet_torques_Nm",
    "rotor_angle_rad",
]

Array = NDArray[np.float64]


def rotor_angle_rad(rotor: Rotor, crank_angle_rad: ArrayLike) -> Array:
    """Return a rotor's angle at each crank angle [rad].

    Examples
    --------
    >>> from fieldsim.geometry.machine import make_rotor, make_shaft
    >>> rotor = make_rotor("r", make_shaft((0, 0, 0), (0, 0, 1)), (1, 0, 0), (), -3, start=0.5)
    >>> rotor_angle_rad(rotor, [0.0, 1.0]).tolist()
    [0.5, -2.5]
    """
    return rotor.start + float(rotor.gear_ratio) * np.asarray(crank_angle_rad, dtype=float)


def crank_angles_rad(ratios: Iterable[Fraction], per_turn: int = 128) -> Array:
    """Return equally spaced crank angles until every rotor stands as at the start.

    Parameters
    ----------
    ratios
        Rotor turns per crank turn, of every rotor.
    per_turn
        How many angles the fastest turn gets, that of a rotor or of one rotor seen from another.

    Returns
    -------
    ndarray
        [rad], from 0 up to but without the whole number of turns after which all repeats.

    Examples
    --------
    Two rotors at 9 to 1, opposed, pass each other 18 times in a crank turn:

    >>> crank_angles_rad([Fraction(9), Fraction(-9)]).size == 18 * 128
    True
    """
    known = [Fraction(r) for r in ratios]
    turns = math.lcm(*(r.denominator for r in known))
    apart = [abs(a - b) for a, b in itertools.combinations(known, 2)]
    fastest = max([Fraction(1), *map(abs, known), *apart])
    count = math.ceil(per_turn * turns * fastest)
    return 2 * math.pi * turns * np.arange(count) / count


def forces_between(rotors: Sequence[Rotor], crank_angle_rad: ArrayLike) -> list[RotorForces]:
    """Return the magnetic forces of every pair of rotors over crank angles.

    Parameters
    ----------
    rotors
        Two or more; a single one has no partner and the list is empty.
    crank_angle_rad
        [rad], shape (angles,).

    Examples
    --------
    >>> forces_between([], [0.0])
    []
    """
    return [
        rotor_forces(a, b, rotor_angle_rad(a, crank_angle_rad), rotor_angle_rad(b, crank_angle_rad))
        for a, b in itertools.combinations(rotors, 2)
    ]


def magnet_torques_Nm(
    rotors: Sequence[Rotor], pairs: Iterable[RotorForces], angles: int
) -> dict[str, Array]:
    """Return the torque of the other rotors' magnets on each rotor, about its ``along``.

    Parameters
    ----------
    rotors
        All rotors.
    pairs
        From `forces_between`.
    angles
        How many crank angles the table has.

    Returns
    -------
    dict
        By rotor, [N m], shape (angles,).

    Examples
    --------
    >>> magnet_torques_Nm([], [], 4)
    {}
    """
    torque = {rotor.name: np.zeros(angles) for rotor in rotors}
    for pair in pairs:
        torque[pair.first.name] = torque[pair.first.name] + pair.torque_on_first_Nm
        torque[pair.second.name] = torque[pair.second.name] + pair.torque_on_second_Nm
    return torque


def magnet_loads_N(rotors: Sequence[Rotor], pairs: Sequence[RotorForces]) -> Mapping[str, Array]:
    """Return the magnetic force on every magnet in its arm's axes, all others together.

    Parameters
    ----------
    rotors
        All rotors.
    pairs
        From `forces_between`.

    Returns
    -------
    mapping
        By rotor, [N], shape (angles, magnets, 3), or (1, magnets, 3) for a single rotor: what
        `fieldsim.studies.magnet_retention.retention` takes.

    Examples
    --------
    >>> dict(magnet_loads_N([], []))
    {}
    """
    load: dict[str, Array] = {rotor.name: neighbour_forces(rotor)[None] for rotor in rotors}
    for pair in pairs:
        for rotor, magnets, angle in (
            (pair.first, pair.on_first, pair.first_angle_rad),
            (pair.second, pair.on_second, pair.second_angle_rad),
        ):
            load[rotor.name] = load[rotor.name] + arm_forces_N(rotor, magnets, angle)
    return load
