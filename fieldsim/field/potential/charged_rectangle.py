"""Potential and field of an evenly charged rectangle, closed form.

Along each edge the integral of 1/R is a logarithm, and the rectangle fills a solid angle:

    4 pi potential = sum over edges of (distance inside the edge) * logarithm - |z| * solid angle,

(W. D. MacMillan, "The Theory of the Potential", 1930, section 43). The field follows from the same
numbers. The logarithm of an edge of length l seen at r1, r2 from its ends is ln((r1 + r2 + l) / (r1
+ r2 - l)), the solid angle one arctangent of a product of four complex numbers.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

__all__ = ["rectangle_field", "rectangle_potential"]

Array = NDArray[np.float64]

_WRAPPED = 0.5  # under the rectangle a solid angle is larger, or has gone once round
_ON_EDGE = 1e-30  # of an edge's length: on the edge itself, where a factor of zero meets it


def _parts(
    x: Array, y: Array, z: Array, half_x: Array | float, half_y: Array | float
) -> tuple[Array, Array, Array, Array, Array]:
    """Return the logarithms of the edges at -x, +x, -y, +y, and the solid angle, all positive."""
    x1, x2, y1, y2 = x + half_x, x - half_x, y + half_y, y - half_y
    zz = z * z
    xx1, xx2, yy1, yy2 = x1 * x1 + zz, x2 * x2 + zz, y1 * y1, y2 * y2
    r11, r21 = np.sqrt(xx1 + yy1), np.sqrt(xx2 + yy1)
    r12, r22 = np.sqrt(xx1 + yy2), np.sqrt(xx2 + yy2)
    along_x, along_y = 2 * half_x, 2 * half_y
    left, right = _edge(r11 + r12, along_y), _edge(r21 + r22, along_y)
    low, high = _edge(r11 + r21, along_x), _edge(r12 + r22, along_x)
    # atan(x1 y1 / (z r11)) and its like: arguments of z r + i x y.
    up = np.abs(z)
    real1, imag1 = _product(up, r11, x1 * y1, r12, -x1 * y2)
    real2, imag2 = _product(up, r22, x2 * y2, r21, -x2 * y1)
    angle = np.arctan2(real1 * imag2 + imag1 * real2, real1 * real2 - imag1 * imag2)
    # Below the middle of the rectangle it may be more than half a turn, and near it nearly a whole.
    under = (np.abs(x) < half_x) & (np.abs(y) < half_y) & (up < np.minimum(half_x, half_y))
    return left, right, low, high, np.where(under & (angle < _WRAPPED), angle + 2 * math.pi, angle)


def _product(up: Array, r1: Array, s1: Array, r2: Array, s2: Array) -> tuple[Array, Array]:
    """Return real and imaginary part of (up r1 + i s1)(up r2 + i s2)."""
    return up * up * r1 * r2 - s1 * s2, up * (r1 * s2 + s1 * r2)


def _edge(total: Array, length: Array | float) -> Array:
    return np.asarray(np.log((total + length) / np.maximum(total - length, _ON_EDGE * length)))


def rectangle_potential(
    x: Array, y: Array, z: Array, half_x: Array | float, half_y: Array | float
) -> Array:
    """Return the integral of 1 / (4 pi R) over a rectangle in the plane z = 0 [m].

    Parameters
    ----------
    x, y, z
        Points from its middle [m]; any shapes that broadcast with each other and the half sides.
    half_x, half_y
        Half sides [m].

    Examples
    --------
    Far away it is the area over 4 pi times the distance.

    >>> far = rectangle_potential(*np.array([[0.0], [0.0], [1000.0]]), 1.0, 2.0)
    >>> round(float(far[0] * 4 * math.pi * 1000 / 8), 4)
    1.0
    """
    left, right, low, high, angle = _parts(x, y, z, half_x, half_y)
    edges = (half_x + x) * left + (half_x - x) * right + (half_y + y) * low + (half_y - y) * high
    return np.asarray((edges - np.abs(z) * angle) / (4 * math.pi))


def rectangle_field(
    x: Array, y: Array, z: Array, half_x: Array | float, half_y: Array | float
) -> tuple[Array, Array, Array]:
    """Return the field of a rectangle in the plane z = 0 with charge one per area.

    Parameters
    ----------
    x, y, z, half_x, half_y
        As for `rectangle_potential`.

    Notes
    -----
    Minus the gradient of the potential. In the rectangle itself the part along z is the mean of
    both sides, zero.

    Examples
    --------
    Close to the middle it is half a unit, away from the charge.

    >>> field = rectangle_field(*np.array([[0.0], [0.0], [1e-9]]), 1.0, 1.0)
    >>> round(float(field[2][0]), 6)
    0.5
    """
    left, right, low, high, angle = _parts(x, y, z, half_x, half_y)
    scale = 1 / (4 * math.pi)
    return scale * (right - left), scale * (high - low), scale * np.sign(z) * angle
