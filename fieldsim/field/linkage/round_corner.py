r"""The bends of a winding whose turns go round its corners, and the part of each side in them.

A corner of the opening is the centre of all bends of the turns there::

    t = 0                    A turn at depth u goes on along its side to t = 0, bends with radius u,
    |u                       and comes out along the next side. On the bend its direction has the
    |----.                   part depth / radius along this side and the part t / radius along the
    |     \                   next. So a winding with round corners is four straight pieces and
    o------+-- t             four quarter discs, and in each disc both adjoining sides' currents.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.linkage.quadrature import gauss_legendre

__all__ = ["bend_points", "mitre_points", "points_for_products"]

Array = NDArray[np.float64]

_QUARTER = 12  # points round the quarter circle, beyond what the order of the product asks for


def bend_points(radius_m: float, orders: tuple[int, int]) -> tuple[Array, Array, Array]:
    """Return Gauss points over the quarter disc of a corner, in polar coordinates.

    Parameters
    ----------
    radius_m
        Build of the winding.
    orders
        Outward and round the bend.

    Returns
    -------
    along_m, depth_m
        How far beyond the end of the side and how deep in it, each (points,).
    weight_m2
        Areas, each times the part of the current that runs along the side, (points,). For the next
        side the two distances change places.

    Examples
    --------
    The parts of a quarter circle along its two sides are as long as its radius, so over all radii
    up to one they add up to a half.

    >>> along, depth, weight = bend_points(1.0, (1, 8))
    >>> round(float(weight.sum()), 12)
    0.5
    """
    r, wr = gauss_legendre(orders[0])
    turn, wt = gauss_legendre(orders[1])
    radius, angle = radius_m / 2 * (1 + r), math.pi / 4 * (1 + turn)
    sine, cosine = np.sin(angle), np.cos(angle)
    area = np.outer(wr * radius_m / 2 * radius, wt * math.pi / 4)
    return np.outer(radius, cosine).ravel(), np.outer(radius, sine).ravel(), (area * sine).ravel()


def points_for_products(radius_m: float, degree: int) -> tuple[Array, Array, Array]:
    """Return the same for a product of polynomials of a degree in all, exact to rounding."""
    outward = degree // 2 + 2
    return bend_points(radius_m, (outward, outward + _QUARTER))


def mitre_points(build_m: float, orders: tuple[int, int]) -> tuple[Array, Array, Array]:
    """Return the same of a sharp corner: what the turns of a side cover beyond the opening.

    That is the triangle up to the diagonal, in which all current runs along the side.

    Parameters
    ----------
    build_m
        Of the winding.
    orders
        Through the build and along the turns.

    Examples
    --------
    >>> along, depth, weight = mitre_points(1.0, (2, 2))
    >>> round(float(weight.sum()), 12), bool((along < depth).all())
    (0.5, True)
    """
    u, wu = gauss_legendre(orders[0])
    t, wt = gauss_legendre(orders[1])
    depth = build_m / 2 * (1 + u)
    weight = np.outer(wu * build_m / 2 * depth, wt / 2)
    return np.outer(depth, (1 + t) / 2).ravel(), np.repeat(depth, len(t)), weight.ravel()
