"""Halves of magnets, parted between the poles, as convex bodies of flat faces."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from fieldsim.machine.magnets import Cylinder, Shape, Sphere

__all__ = ["Face", "half_shape", "prism"]

Points = NDArray[np.float64]

_CIRCLE_SIDES = 40
_LATITUDES = 6


@dataclass(frozen=True, eq=False)
class Face:
    """One side of a solid.

    Parameters
    ----------
    corners
        (corners, 3) in order around the face [m].
    edges
        For each edge from a corner to the next, whether it shows as a line.
    shown
        Whether the face is filled; faces where two pieces of one part meet are not.
    cut
        Whether it is where the part was cut open for the picture.
    """

    corners: Points = field(repr=False)
    edges: tuple[bool, ...]
    shown: bool = True
    cut: bool = False


def half_shape(shape: Shape, axis: int, side: int) -> list[Face]:
    """Return the half of a shape on one side along an arm axis, in arm axes."""
    if isinstance(shape, Sphere):
        return _hemisphere(shape.diameter / 2, axis, side)
    if isinstance(shape, Cylinder):
        return _half_cylinder(shape, axis, side)
    low, high = -np.array(shape.size) / 2, np.array(shape.size) / 2
    (low if side > 0 else high)[axis] = 0.0
    base = np.array([[low[0], low[1]], [high[0], low[1]], [high[0], high[1]], [low[0], high[1]]])
    bottom = np.column_stack([base, np.full(4, low[2])])
    return prism(bottom, np.array([0.0, 0.0, high[2] - low[2]]), (True,) * 4)


def _half_cylinder(shape: Cylinder, axis: int, side: int) -> list[Face]:
    lies = shape.axis.value
    first, second = [i for i in range(3) if i != lies]
    radius, half = shape.diameter / 2, shape.thickness / 2
    if axis == lies:
        angles = np.linspace(0, 2 * math.pi, _CIRCLE_SIDES, endpoint=False)
        low, high = (0.0, half) if side > 0 else (-half, 0.0)
        creases = (False,) * len(angles)
    else:
        middle = (0.0 if axis == first else math.pi / 2) + (0.0 if side > 0 else math.pi)
        angles = middle + np.linspace(-math.pi / 2, math.pi / 2, _CIRCLE_SIDES // 2 + 1)
        low, high = -half, half
        creases = (*(False,) * (len(angles) - 1), True)
    ring = np.zeros((len(angles), 3))
    ring[:, first], ring[:, second] = radius * np.cos(angles), radius * np.sin(angles)
    ring[:, lies] = low
    rise = np.zeros(3)
    rise[lies] = high - low
    return prism(ring, rise, creases)


def _hemisphere(radius: float, axis: int, side: int) -> list[Face]:
    first, second = [i for i in range(3) if i != axis]
    turn = np.linspace(0, 2 * math.pi, _CIRCLE_SIDES // 2, endpoint=False)
    rings = []
    for latitude in np.linspace(0, math.pi / 2, _LATITUDES + 1)[:-1]:
        ring = np.zeros((len(turn), 3))
        ring[:, first] = radius * math.cos(latitude) * np.cos(turn)
        ring[:, second] = radius * math.cos(latitude) * np.sin(turn)
        ring[:, axis] = side * radius * math.sin(latitude)
        rings.append(ring)
    pole = np.zeros(3)
    pole[axis] = side * radius
    faces = [Face(rings[0], (True,) * len(turn))]
    for i in range(len(turn)):
        j = (i + 1) % len(turn)
        for lower, upper in pairwise(rings):
            faces.append(Face(np.array([lower[i], lower[j], upper[j], upper[i]]), (False,) * 4))
        faces.append(Face(np.array([rings[-1][i], rings[-1][j], pole]), (False,) * 3))
    return faces


def prism(base: Points, rise: Points, creases: tuple[bool, ...]) -> list[Face]:
    """Return a prism; ``creases`` says which side faces are flat, so that their edges show."""
    count = len(base)
    top = base + rise
    faces = [Face(base, (True,) * count), Face(top, (True,) * count)]
    for i in range(count):
        j = (i + 1) % count
        flat = creases[i]
        faces.append(Face(np.array([base[i], base[j], top[j], top[i]]), (flat,) * 4))
    return faces
