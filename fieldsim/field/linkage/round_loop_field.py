"""Flux density of rectangular current loops with round corners, per ampere."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.linkage.quadrature import gauss_legendre

__all__ = ["round_loop_flux_density_T_per_A"]

Array = NDArray[np.float64]


def round_loop_flux_density_T_per_A(
    x: Array, y: Array, z: Array, straight: tuple[float, float], radius: Array, order: int
) -> tuple[Array, Array, Array]:
    """Return the three components of the flux density of loops in the plane z = 0.

    Parameters
    ----------
    x, y, z
        Points [m]; any shapes that broadcast with each other and with the radii.
    straight
        Half of the straight parts along x and y [m], the same of all loops.
    radius
        Of the corners [m]; the sides lie by as much outside the straight parts' ends.
    order
        Gauss points on each corner.

    Notes
    -----
    Straight parts as in `rectangle_field`; round a corner Gauss-Legendre of the law of Biot and
    Savart, whose error falls exponentially with the order, the slower the nearer the point.

    Examples
    --------
    Without straight parts it is a circle: mu0 / (2 r) at the centre.

    >>> import numpy as np
    >>> circle = round_loop_flux_density_T_per_A(*np.zeros(3), (0.0, 0.0), np.array(0.02), 8)
    >>> round(float(circle[2]) * 1e6, 6)
    31.415927
    """
    half_x, half_y = straight
    x1, x2, y1, y2 = x + half_x, x - half_x, y + half_y, y - half_y
    zz = z * z

    def of_side(first: Array, second: Array, off: Array) -> Array:
        """Return the field over distance of a side between two places along it."""
        across = off * off + zz
        r1, r2 = np.sqrt(first * first + across), np.sqrt(second * second + across)
        product = r1 * r2
        return np.asarray((r1 + r2) / (product * (product + first * second + across)))

    below = of_side(x1, x2, y1 + radius) * (2 * half_x)
    above = of_side(x1, x2, y2 - radius) * (2 * half_x)
    right = of_side(y1, y2, x2 - radius) * (2 * half_y)
    left = of_side(y1, y2, x1 + radius) * (2 * half_y)
    bx = z * (right - left)
    by = z * (above - below)
    bz = (
        (y1 + radius) * below - (x2 - radius) * right - (y2 - radius) * above + (x1 + radius) * left
    )
    nodes, weights = gauss_legendre(order)
    for corner, (cx, cy) in enumerate(((x2, y1), (x2, y2), (x1, y2), (x1, y1))):
        for node, weight in zip(nodes.tolist(), weights.tolist(), strict=True):
            turned = math.pi / 4 * (1 + node) + (corner - 1) * math.pi / 2
            cosine, sine = math.cos(turned), math.sin(turned)
            px, py = cx - radius * cosine, cy - radius * sine
            scale = radius * (math.pi / 4 * weight) / (px * px + py * py + zz) ** 1.5
            bx = bx + scale * cosine * z
            by = by + scale * sine * z
            bz = bz - scale * (sine * py + cosine * px)
    return 1e-7 * bx, 1e-7 * by, 1e-7 * bz
