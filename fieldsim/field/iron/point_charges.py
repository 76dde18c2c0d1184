"""Charges at points, and how many of them stand for a surface seen from some distance."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

__all__ = ["Reach", "Reduction", "field_of_charges", "normal_field_matrix", "order_seen"]

Array = NDArray[np.float64]
Reach = Callable[[Array], Array]
"""From points in space [m], (n, 3), to how far each is from what counts [m], (n,)."""

_FEWEST, _MOST = 2, 32
_PAIRS = 100_000  # at once: what stays near the processor


class Reduction(Protocol):
    """Few points of a body's surface that stand for all, seen from some distance on."""

    @property
    def points(self) -> Array:
        """In space [m], (points, 3)."""

    @property
    def normals(self) -> Array:
        """Outward normals there, (points, 3)."""

    @property
    def pieces(self) -> NDArray[np.intp]:
        """The piece of each point among those of its body, (points,)."""

    def down(self, charge: Array) -> Array:
        """Return the charges at these points that are as good as many, (points, fields)."""

    def up(self, values: Array) -> Array:
        """Return what is known at these points at all points of the body, (points, fields)."""


def field_of_charges(points: Array, charge: Array, at: Array) -> Array:
    """Return the field of point charges [A/m], (m, 3, fields).

    Parameters
    ----------
    points, charge
        Where they are [m], (n, 3), and for each of several fields [A m], (n, fields).
    at
        Points in space [m], (m, 3).
    """
    result = np.empty((len(at), 3, charge.shape[1]))
    step = max(1, _PAIRS // max(len(points), 1))
    for first in range(0, len(at), step):
        x, y, z = (at[first : first + step, i, None] - points[:, i] for i in range(3))
        square = x * x + y * y + z * z
        factor = 1 / (4 * math.pi * square * np.sqrt(square))
        for i, gap in enumerate((x, y, z)):
            result[first : first + step, i] = (gap * factor) @ charge
    return result


def normal_field_matrix(points: Array, at: Array, normals: Array) -> Array:
    """Return the field along normals of unit charges at points [1/m2], (m, n)."""
    gap = at[:, None] - points
    square = np.einsum("mni,mni->mn", gap, gap)
    return np.asarray(np.einsum("mni,mi->mn", gap, normals) / (4 * math.pi * square**1.5))


def order_seen(place: Array, distance: Array, digits: float) -> int:
    """Return how many Gauss-Legendre nodes hold a function with singularities near an interval.

    Parameters
    ----------
    place
        Along the interval from -1 to 1, (n,).
    distance
        Of the nearest singularity from there, over half the interval, (n,).
    digits
        Natural logarithm of one over the error aimed at.

    Notes
    -----
    The error falls as rho**(-2 n) with the ellipse of analyticity, rho = |z + sqrt(z*z - 1)| at the
    singularity z (L. N. Trefethen, SIAM Review 50 (2008) 67-87, theorem 4.5).
    """
    z = np.abs(place) + 1j * np.maximum(distance, 1e-6)
    rate = 2 * float(np.log(np.abs(z + np.sqrt(z * z - 1))).min())
    return int(min(max(math.ceil(digits / rate), _FEWEST), _MOST))
