"""A machine as flat faces in space, for the page to turn and look at from any side."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from fieldsim.drawing.iron_solids import iron_solids
from fieldsim.drawing.rods import shafts_and_arms
from fieldsim.drawing.solids import Material, Rod, Solid, coil_solids, rotor_solids
from fieldsim.machine.machine import Machine

__all__ = ["scene"]

Points = NDArray[np.float64]

_DIGITS = 3  # of millimetres: a thousandth of one is no dot on a screen
_LONGEST_MM = 15.0  # of a face's edge: longer faces are cut, so that they can be sorted by distance


def scene(machine: Machine) -> dict[str, Any]:
    """Return what a page draws of a machine, for the crank angle zero, in millimetres.

    Parameters
    ----------
    machine
        Any, colliding parts included.

    Returns
    -------
    dict
        ``solids`` and ``rods`` (each ``part``, ``material``, ``rotor``: its number, or null for
        what stands still; ``faces``, each of corners (corners, 3), or ``start`` and ``end``),
        ``rotors`` (``name``, ``through``, ``along``, ``ratio``), ``middle`` and ``reach``: of the
        ball around all.

    Examples
    --------
    >>> from fieldsim.machine_file.reader import read
    >>> drawn = scene(read("geometries/one_rotor.yaml"))
    >>> [rotor["ratio"] for rotor in drawn["rotors"]], drawn["solids"][0]["material"]
    ([9.0], 'north')
    """
    magnets = rotor_solids(machine)
    windings = [side for coil in machine.placed_coils for side in coil_solids(coil)]
    windings += iron_solids(machine)
    rods = shafts_and_arms(machine, magnets, windings, 0.0)
    place = {rotor.name: i for i, rotor in enumerate(machine.placed_rotors)}
    corners = 1e3 * np.concatenate([solid.corners for solid in [*magnets, *windings]])
    ends = 1e3 * np.array([end for rod in rods for end in (rod.start, rod.end)]).reshape(-1, 3)
    everything = np.concatenate([corners, ends])
    middle = (everything.min(axis=0) + everything.max(axis=0)) / 2
    return {
        "solids": [_solid(solid, place) for solid in [*magnets, *windings]],
        "rods": [_rod(rod, place) for rod in rods],
        "rotors": [
            {
                "name": rotor.name,
                "through": _mm(np.array(rotor.shaft.through)),
                "along": list(rotor.shaft.along),
                "ratio": float(rotor.gear_ratio),
            }
            for rotor in machine.placed_rotors
        ],
        "middle": np.round(middle, _DIGITS).tolist(),
        "reach": round(float(np.linalg.norm(everything - middle, axis=1).max()), _DIGITS),
    }


def _solid(solid: Solid, place: dict[str, int]) -> dict[str, Any]:
    turning = solid.material in (Material.NORTH, Material.SOUTH)
    shown = [face.corners for face in solid.faces if face.shown]
    return {
        "part": solid.part,
        "material": solid.material.value,
        "rotor": place[solid.part] if turning else None,
        "middle": _mm(solid.corners.mean(axis=0)),
        "faces": [_mm(piece) for corners in shown for piece in _cut(corners)],
    }


def _rod(rod: Rod, place: dict[str, int]) -> dict[str, Any]:
    return {
        "part": rod.part,
        "material": rod.material.value,
        "rotor": place[rod.part] if rod.material is Material.ARM else None,
        "start": _mm(rod.start),
        "end": _mm(rod.end),
    }


def _cut(corners: Points) -> list[Points]:
    """Return a four-sided face in pieces that are not long; any other face as it is."""
    if len(corners) != 4:
        return [corners]
    edges = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
    along = max(1, min(8, round(1e3 * float(edges[[0, 2]].max()) / _LONGEST_MM)))
    across = max(1, min(8, round(1e3 * float(edges[[1, 3]].max()) / _LONGEST_MM)))
    u, v = np.linspace(0, 1, along + 1), np.linspace(0, 1, across + 1)
    a, b, c, d = corners

    def at(i: int, j: int) -> Points:
        point: Points = (1 - v[j]) * ((1 - u[i]) * a + u[i] * b) + v[j] * (
            (1 - u[i]) * d + u[i] * c
        )
        return point

    return [
        np.array([at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)])
        for i in range(along)
        for j in range(across)
    ]


def _mm(points: Points) -> list[Any]:
    rounded: list[Any] = np.round(1e3 * points, _DIGITS).tolist()
    return rounded
