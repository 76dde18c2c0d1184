"""Directions and right-handed frames as plain tuples: exact, hashable, immutable."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

__all__ = ["Vec3", "cross", "dot", "frame_matrix", "perpendicular_part", "unit"]

Vec3 = tuple[float, float, float]

_ROUNDING = 4e-16  # a direction this near to what it is made into is kept: doing it twice is once
_PASSES = 4  # rounding of the first leaves a little along the axis, which the next takes off
_PARALLEL = 1e-6  # sine of the smallest angle between two directions that are meant to differ


def dot(a: Vec3, b: Vec3) -> float:
    """Return the scalar product of two vectors."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def cross(a: Vec3, b: Vec3) -> Vec3:
    """Return the vector product ``a x b``."""
    return (a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0])


def unit(v: Vec3) -> Vec3:
    """Return ``v`` scaled to length one.

    Raises
    ------
    ValueError
        If the length is zero or not finite.

    Examples
    --------
    >>> unit((0.0, 3.0, 4.0))
    (0.0, 0.6, 0.8)
    """
    length = math.hypot(*v)
    if not math.isfinite(length) or length == 0.0:
        raise ValueError("a direction needs a finite length above zero")
    if abs(length - 1.0) <= _ROUNDING:
        return (float(v[0]), float(v[1]), float(v[2]))
    return (v[0] / length, v[1] / length, v[2] / length)


def perpendicular_part(v: Vec3, axis: Vec3) -> Vec3:
    """Return the unit vector along the part of ``v`` perpendicular to the unit vector ``axis``.

    Raises
    ------
    ValueError
        If ``v`` is zero or parallel to ``axis``.

    Examples
    --------
    >>> perpendicular_part((1.0, 0.0, 5.0), (0.0, 0.0, 1.0))
    (1.0, 0.0, 0.0)
    """
    v = unit(v)
    for _ in range(_PASSES):
        along = dot(v, axis)
        if abs(along) <= _ROUNDING:
            break
        rest = (v[0] - along * axis[0], v[1] - along * axis[1], v[2] - along * axis[2])
        if math.hypot(*rest) < _PARALLEL:
            raise ValueError("the direction is parallel to the axis it must stand off from")
        v = unit(rest)
    return v


def frame_matrix(first: Vec3, third: Vec3) -> NDArray[np.float64]:
    """Return the (3, 3) matrix whose columns are ``first``, ``third x first`` and ``third``.

    Both must be unit vectors at right angles; the matrix turns local into global coordinates.
    """
    return np.array([first, cross(third, first), third]).T
