"""The Newtonian potential of a homogeneous box, in closed form."""

from __future__ import annotations

import itertools

import numpy as np
from numpy.typing import NDArray

__all__ = ["box_potential_m2"]

Array = NDArray[np.float64]

_TINY = 1e-300


def box_potential_m2(points_m: Array, half_m: tuple[float, float, float]) -> Array:
    """Return the integral of dV'/|p - p'| over a box.

    Parameters
    ----------
    points_m
        Relative to its middle, along its edges, (..., 3).
    half_m
        Half lengths of its edges.

    Returns
    -------
    Shape (...) [m2].

    Notes
    -----
    A sum over the eight corners, each with x, y, z the way from the point to it and r its length:
    x y ln(z + r) - z**2/2 atan(x y/(z r)) and the same with x, y, z in turn (W. D. MacMillan, The
    Theory of the Potential, 1930, section 43). It is finite and smooth everywhere but on the edges
    and faces, where its second derivatives are not; rounding grows as the cube of distance over
    size.

    Examples
    --------
    In the middle of a cube of side 2 it is 12 ln(2 + sqrt 3) - 2 pi:

    >>> round(float(box_potential_m2(np.zeros(3), (1.0, 1.0, 1.0))), 6)
    9.520309
    """
    points = np.asarray(points_m, dtype=float)
    total = np.zeros(points.shape[:-1])
    for signs in itertools.product((1.0, -1.0), repeat=3):
        corner = np.multiply(signs, half_m) - points
        total += np.prod(signs) * _at_corner(*np.moveaxis(corner, -1, 0))
    return total


def _at_corner(*corner: Array) -> Array:
    squares = [c * c for c in corner]
    r = np.sqrt(squares[0] + squares[1] + squares[2])
    found = np.zeros_like(r)
    for i in range(3):
        j, k = (i + 1) % 3, (i + 2) % 3
        x, y, z = corner[i], corner[j], corner[k]
        # ln(z + r) less ln of the distance from the line, which cancels between both its ends.
        found += x * y * np.arcsinh(z / np.sqrt(squares[i] + squares[j] + _TINY))
        found -= z * np.abs(z) / 2 * np.arctan2(x * y, np.abs(z) * r + _TINY)
    return found
