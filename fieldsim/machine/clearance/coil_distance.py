"""The distance of one coil from the magnets as one number that can be changed.

The coil moves straight away from them, its core with it: along its own axis where that leads away,
else outwards from a shaft, else along one. A coil that magnets pass on several sides has none.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from fieldsim.errors import ImpossibleError
from fieldsim.machine.clearance.clearance_change import FOLLOWS, PROBE_M, SAME_M, move_for
from fieldsim.machine.clearance.clearances import rotor_to_iron_m, rotor_to_winding_m
from fieldsim.machine.coils import Coil
from fieldsim.machine.frames import Vec3
from fieldsim.machine.machine import Machine
from fieldsim.machine.part import replaced

__all__ = ["coil_distance_m", "way_of_coil", "with_coil_distance"]

Array = NDArray[np.float64]


def coil_distance_m(machine: Machine, coil: str) -> float:
    """Return the smallest distance of the magnets to a coil and its core over a turn [m].

    Parameters
    ----------
    machine
        Any; where parts overlap the distance is negative.
    coil
        Its name.

    Examples
    --------
    >>> from fieldsim.machine_file.reader import read
    >>> bolt = read("geometries/bolt_beside_magnets.yaml")
    >>> round(1e3 * coil_distance_m(bolt, "pickup"), 6)  # from the bolt's head
    2.5
    """
    return _distance_m(machine, machine.coil(coil))


def _distance_m(machine: Machine, coil: Coil, move: Array | None = None) -> float:
    """Return the distance of a coil where it stands, or where a move (3,) takes it [m]."""
    placed = coil.placed
    if move is not None:
        placed = replace(placed, centre=_shifted(placed.centre, move))
    cores = () if coil.core.shape is None else (coil.core.placed(placed),)
    rotors = machine.placed_rotors
    to_winding = [rotor_to_winding_m(rotor, (placed,)) for rotor in rotors]
    return min([*to_winding, *(rotor_to_iron_m(rotor, c) for c in cores for rotor in rotors)])


def with_coil_distance(machine: Machine, distance_m: float, coil: str) -> Machine:
    """Return the machine with a coil at another distance from the magnets.

    Parameters
    ----------
    machine
        Any.
    distance_m
        Smallest distance of the magnets to the coil and its core [m].
    coil
        Name of the coil that moves.

    Raises
    ------
    ImpossibleError
        If no straight move leads away from the magnets, or to that distance.

    Examples
    --------
    >>> from fieldsim.machine_file.reader import read
    >>> bolt = read("geometries/bolt_beside_magnets.yaml")
    >>> farther = with_coil_distance(bolt, 10e-3, "pickup")
    >>> [round(1e3 * c, 6) for c in farther.coil("pickup").centre]
    [0.0, 30.0, -17.5]
    """
    own = machine.coil(coil)
    now = _distance_m(machine, own)
    if abs(distance_m - now) < SAME_M:
        return machine
    way = way_of_coil(machine, coil)

    def missing(move_m: float) -> float:
        return _distance_m(machine, own, move_m * way) - distance_m

    refusal = (
        f"coils.{coil}: no straight move brings it to {distance_m * 1e3:.4g} mm from the magnets"
    )
    move = move_for(missing, distance_m - now, refusal)
    there = replaced(own, centre=_shifted(own.centre, move * way))
    coils = tuple(there if c.name == coil else c for c in machine.coils)
    return replaced(machine, coils=coils)


def way_of_coil(machine: Machine, coil: str) -> Array:
    """Return the direction in which a coil moves straight away from the magnets, (3,).

    Raises
    ------
    ImpossibleError
        If there is none.
    """
    own = machine.coil(coil)
    now = _distance_m(machine, own)
    for way in _ways(machine, own):
        if _distance_m(machine, own, PROBE_M * way) - now > FOLLOWS * PROBE_M:
            return way
    raise ImpossibleError(
        f"coils.{coil}: its distance cannot be changed: magnets pass it on more than one side, so "
        "that no straight way leads away from them"
    )


def _ways(machine: Machine, coil: Coil) -> Iterator[Array]:
    axis = np.array(coil.axis)
    yield axis
    yield -axis
    centre = np.array(coil.centre)
    for rotor in machine.placed_rotors:
        along = np.array(rotor.shaft.along)
        outwards = centre - np.array(rotor.shaft.through)
        outwards = outwards - (outwards @ along) * along
        length = float(np.linalg.norm(outwards))
        if length > PROBE_M:
            yield outwards / length
    for rotor in machine.placed_rotors:
        along = np.array(rotor.shaft.along)
        yield along
        yield -along


def _shifted(point: Vec3, move: Array) -> Vec3:
    x, y, z = (float(c + m) for c, m in zip(point, move, strict=True))
    return (x, y, z)
