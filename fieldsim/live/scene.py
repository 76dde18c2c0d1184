"""A machine as flat faces in space, for the page to turn and look at from any side."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fieldsim.drawing.iron_solids import iron_solids
from fieldsim.drawing.magnet_halves import Face, half_shape
from fieldsim.drawing.rods import shafts_and_arms
from fieldsim.drawing.solids import Material, Rod, Solid, coil_solids, magnet_frame, rotor_solids
from fieldsim.machine.machine import Machine
from fieldsim.machine.placed import PlacedMagnet, PlacedRotor

__all__ = ["scene"]

Points = NDArray[np.float64]

_AS_IT_IS = np.eye(3).tolist()
_AXES_DIGITS = 7
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
        ``shapes`` (each ``faces``, of corners (corners, 3), and the ``middle``), ``solids`` (each
        ``part``, ``material``, ``shape``: its number, ``centre`` and ``axes``, where it stands,
        ``rotor``: its number, or null for what stands still), ``rods`` (``part``, ``material``,
        ``rotor``, ``start``, ``end``), ``rotors`` (``name``, ``through``, ``along``, ``ratio``),
        ``middle`` and ``reach``: of the ball around all.

    Examples
    --------
    >>> from fieldsim.machine_file.reader import read
    >>> drawn = scene(read("geometries/one_rotor.yaml"))
    >>> [rotor["ratio"] for rotor in drawn["rotors"]], drawn["solids"][0]["material"]
    ([9.0], 'north')
    """
    magnets = rotor_solids(machine)
    still = [side for coil in machine.placed_coils for side in coil_solids(coil)]
    still += iron_solids(machine)
    rods = shafts_and_arms(machine, magnets, still, 0.0)
    place = {rotor.name: i for i, rotor in enumerate(machine.placed_rotors)}
    shapes = _Shapes()
    turning = [
        _half(shapes, rotor, place[rotor.name], mounted, material)
        for rotor in machine.placed_rotors
        for mounted in rotor.magnets
        for material in (Material.NORTH, Material.SOUTH)
    ]
    corners = np.concatenate([solid.corners for solid in [*magnets, *still]])
    ends = np.array([end for rod in rods for end in (rod.start, rod.end)]).reshape(-1, 3)
    everything = np.concatenate([corners, ends])
    middle = (everything.min(axis=0) + everything.max(axis=0)) / 2
    return {
        "solids": [*turning, *(_still(shapes, solid) for solid in still)],
        "shapes": shapes.drawn,
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
        "middle": _mm(middle),
        "reach": _mm(np.linalg.norm(everything - middle, axis=1).max()),
    }


class _Shapes:
    """Shapes in their own axes, each once: magnets are mostly alike."""

    def __init__(self) -> None:
        self.drawn: list[dict[str, Any]] = []
        self._places: dict[Any, int] = {}

    def number(self, key: Any, faces: Callable[[], Sequence[Face]]) -> int:
        """Return the number of a shape, whose key stands for it where it comes again."""
        if key not in self._places:
            self._places[key] = self.added(faces())
        return self._places[key]

    def added(self, faces: Sequence[Face]) -> int:
        """Return the number of a new shape."""
        pieces = [_mm(piece) for face in faces if face.shown for piece in _cut(face.corners)]
        middle = np.concatenate([face.corners for face in faces]).mean(axis=0)
        self.drawn.append({"middle": _mm(middle), "faces": pieces})
        return len(self.drawn) - 1


def _half(
    shapes: _Shapes, rotor: PlacedRotor, place: int, mounted: PlacedMagnet, material: Material
) -> dict[str, Any]:
    """Return the half of a magnet where it stands on its arm."""
    centre, axes = magnet_frame(rotor, mounted)
    axis = mounted.north.axis.value
    side = mounted.north.sign if material is Material.NORTH else -mounted.north.sign
    what = (mounted.magnet.shape, axis, side)
    return {
        "part": rotor.name,
        "material": material.value,
        "rotor": place,
        "shape": shapes.number(what, lambda: half_shape(*what)),
        "centre": _mm(centre),
        "axes": np.round(axes, _AXES_DIGITS).tolist(),
    }


def _still(shapes: _Shapes, solid: Solid) -> dict[str, Any]:
    return {
        "part": solid.part,
        "material": solid.material.value,
        "rotor": None,
        "shape": shapes.added(solid.faces),
        "centre": [0.0, 0.0, 0.0],
        "axes": _AS_IT_IS,
    }


def _rod(rod: Rod, place: dict[str, int]) -> dict[str, Any]:
    return {
        "part": rod.part,
        "material": rod.material.value,
        "rotor": place[rod.part] if rod.material is Material.ARM else None,
        "start": _mm(rod.start),
        "end": _mm(rod.end),
    }


def _cut(corners: Points) -> Points:
    """Return a four-sided face in pieces that are not long (pieces, 4, 3); any other as it is."""
    if len(corners) != 4:
        return corners[None]
    (ab, bc), (cd, da) = (
        [math.dist(corners[i], corners[(i + 1) % 4]) for i in pair] for pair in ((0, 1), (2, 3))
    )
    along = max(1, min(8, round(1e3 * max(ab, cd) / _LONGEST_MM)))
    across = max(1, min(8, round(1e3 * max(bc, da) / _LONGEST_MM)))
    u = (np.arange(along + 1) / along)[:, None, None]
    v = (np.arange(across + 1) / across)[None, :, None]
    a, b, c, d = corners
    grid = (1 - v) * ((1 - u) * a + u * b) + v * ((1 - u) * d + u * c)
    pieces = np.stack([grid[:-1, :-1], grid[1:, :-1], grid[1:, 1:], grid[:-1, 1:]], axis=2)
    return pieces.reshape(-1, 4, 3)


def _mm(points: Points) -> Any:
    return np.round(1e3 * points, _DIGITS).tolist()
