"""Flux density of rectangular current loops, closed form, per ampere."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["rectangle_flux_density_T_per_A"]

Array = NDArray[np.float64]


def rectangle_flux_density_T_per_A(
    x: Array, y: Array, z: Array, half_x: Array, half_y: Array
) -> tuple[Array, Array, Array]:
    """Return the three components of the flux density of a loop in the plane z = 0.

    Parameters
    ----------
    x, y, z
        Points [m]; any shapes that broadcast with each other and with the half sides.
    half_x, half_y
        Half sides of the rectangles [m]; current runs right-handed about z.

    Notes
    -----
    A straight filament from p1 to p2 gives, with r1 and r2 the vectors from its ends,

        b = mu0/(4 pi) * (r1 x r2) (|r1| + |r2|) / (|r1| |r2| (|r1| |r2| + r1 . r2)),

    the law of Biot and Savart integrated; this form is finite on the lines that extend the
    filament (J. D. Hanson, S. P. Hirshman, Physics of Plasmas 9 (2002) 4410, eq. 8).

    Examples
    --------
    Centre of a square of side s: 2 sqrt(2) mu0 / (pi s).

    >>> import numpy as np
    >>> bz = rectangle_flux_density_T_per_A(*np.zeros(3), np.array(0.02), np.array(0.02))[2]
    >>> round(float(bz) * 1e6, 6)
    28.284271
    """
    x1, x2, y1, y2 = x + half_x, x - half_x, y + half_y, y - half_y
    zz = z * z
    xx1, xx2, yy1, yy2 = x1 * x1, x2 * x2, y1 * y1 + zz, y2 * y2 + zz
    r11, r21 = np.sqrt(xx1 + yy1), np.sqrt(xx2 + yy1)
    r12, r22 = np.sqrt(xx1 + yy2), np.sqrt(xx2 + yy2)
    x12, y12 = x1 * x2, y1 * y2
    # Factors of the sides: below (y = -half_y, along +x), right, above, left.
    below = _factor(r11, r21, x12 + yy1) * (2 * half_x)
    above = _factor(r22, r12, x12 + yy2) * (2 * half_x)
    right = _factor(r21, r22, y12 + xx2 + zz) * (2 * half_y)
    left = _factor(r12, r11, y12 + xx1 + zz) * (2 * half_y)
    bx = 1e-7 * z * (right - left)
    by = 1e-7 * z * (above - below)
    bz = 1e-7 * (y1 * below - x2 * right - y2 * above + x1 * left)
    return bx, by, bz


def _factor(r1: Array, r2: Array, dot: Array) -> Array:
    product = r1 * r2
    return np.asarray((r1 + r2) / (product * (product + dot)))
