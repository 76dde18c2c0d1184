"""Pieces of iron as convex bodies of flat faces."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from fieldsim.drawing.magnet_halves import Face, half_shape, prism
from fieldsim.drawing.solids import Material, Solid
from fieldsim.machine.iron import Ball, Block, IronShape, Tube
from fieldsim.machine.machine import Machine
from fieldsim.machine.magnets import Sphere
from fieldsim.machine.placed import PlacedIron

__all__ = ["core_solids", "iron_solids", "loose_iron_solids"]

Points = NDArray[np.float64]

_CIRCLE_SIDES = 40
_SECTORS = 20


def iron_solids(machine: Machine) -> list[Solid]:
    """Return all iron of the machine; what turns is round about its shaft, so no angle matters.

    Notes
    -----
    A core has no name of its own: its coil's stands beside it.
    """
    return [solid for piece in machine.placed_iron for solid in _solids(piece)]


def core_solids(machine: Machine, coil: str) -> list[Solid]:
    """Return the core of a coil."""
    return [s for piece in machine.placed_iron if piece.coil == coil for s in _solids(piece)]


def loose_iron_solids(machine: Machine) -> list[Solid]:
    """Return all iron but the cores."""
    return [s for piece in machine.placed_iron if not piece.coil for s in _solids(piece)]


def _solids(piece: PlacedIron) -> list[Solid]:
    frame, centre = np.asarray(piece.frame, dtype=np.float64), np.array(piece.centre)
    name = "" if piece.coil else piece.name
    return [
        Solid(
            name,
            Material.IRON,
            tuple(Face(f.corners @ frame.T + centre, f.edges, f.shown) for f in faces),
        )
        for faces in _bodies(piece.shape)
    ]


def _bodies(shape: IronShape) -> list[list[Face]]:
    if isinstance(shape, Ball):
        ball = Sphere(shape.diameter)
        return [[_seam(face) for face in half_shape(ball, 2, side)] for side in (1, -1)]
    if isinstance(shape, Block):
        a, b, c = (edge / 2 for edge in shape.size)
        base = np.array([[-a, -b, -c], [a, -b, -c], [a, b, -c], [-a, b, -c]])
        return [prism(base, np.array([0.0, 0.0, 2 * c]), (True,) * 4)]
    if isinstance(shape, Tube):
        return _sectors(shape)
    diameter, _, length = shape.size
    return [_bar(diameter / 2, length)]


def _seam(face: Face) -> Face:
    """Return a half ball's face, its flat side not shown: the other half lies against it."""
    flat = bool(np.ptp(face.corners[:, 2]) == 0.0 and face.corners[0, 2] == 0.0)
    return Face(face.corners, (False,) * len(face.corners), shown=not flat)


def _bar(radius: float, length: float) -> list[Face]:
    angles = np.linspace(0, 2 * math.pi, _CIRCLE_SIDES, endpoint=False)
    ring = np.column_stack(
        [radius * np.cos(angles), radius * np.sin(angles), np.full(len(angles), -length / 2)]
    )
    return prism(ring, np.array([0.0, 0.0, length]), (False,) * len(angles))


def _sectors(shape: Tube) -> list[list[Face]]:
    found = []
    for k in range(_SECTORS):
        turn = 2 * math.pi * np.array([k, k + 1]) / _SECTORS
        across = np.column_stack([np.cos(turn), np.sin(turn)])
        ring = np.concatenate([shape.outer / 2 * across, shape.inner / 2 * across[::-1]])
        base = np.column_stack([ring, np.full(4, -shape.length / 2)])
        bottom, top, outside, first, inside, second = prism(
            base, np.array([0.0, 0.0, shape.length]), (False,) * 4
        )
        caps = [Face(cap.corners, (True, False, True, False)) for cap in (bottom, top)]
        seams = [Face(side.corners, side.edges, shown=False) for side in (first, second)]
        found.append([*caps, outside, inside, *seams])
    return found
