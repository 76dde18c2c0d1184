"""Parallel current sheets in closed form, and windings' sides built up from them.

At one depth in its build, a side of a winding is a flat sheet: as long as the side, as wide as the
winding. Two sheets with both edges parallel have a closed-form mutual; only the two depths are
left to integrate. That includes the logarithm that fails an ordinary rule where sections lie on
each other, as in a self-inductance, and where they touch or nest closely.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.linkage.quadrature import gauss_legendre

__all__ = ["SheetPair", "sheet_antiderivative", "sheet_pair_integral_m"]

Array = NDArray[np.float64]

_TINY = 1e-300
_ROUNDING = 4e-16


@dataclass(frozen=True)
class SheetPair:
    """Two sides of windings that run parallel, with parallel axes.

    All lengths in metres, seen from the first side: along it, outward through its build, along its
    axis.

    Parameters
    ----------
    offset
        From the middle of the second side to the middle of the first: along, outward at the inner
        faces, along the axis.
    outward2
        +1 if the second side's build grows in the same direction as the first's, else -1.
    half1, half2
        Half lengths of the sides at their inner faces.
    build1, build2, length1, length2
        Of the windings.
    growth
        Of the half lengths with the depth.
    """

    offset: tuple[float, float, float]
    outward2: int
    half1: float
    half2: float
    build1: float
    build2: float
    length1: float
    length2: float
    growth: float = 1.0


def sheet_antiderivative(z_m: Array, x_m: Array, gap_m: Array) -> Array:
    """Return the second antiderivative, in both z and x, of 1/sqrt(z**2 + x**2 + gap**2).

    Parameters
    ----------
    z_m, x_m, gap_m
        Any real values [m], broadcast.

    Returns
    -------
    ndarray
        F [m3], even in each argument; d4F/dz2dx2 = 1/R.

    Notes
    -----
    F = (x**2 - p**2)/2 z asinh(z/sqrt(x**2 + p**2)) + (z**2 - p**2)/2 x asinh(x/sqrt(z**2 + p**2))
    - (x**2 - 2 p**2 + z**2) R/6 - x p z atan(x z/(p R)): C. Hoer and C. Love, J. Res. NBS 69C
    (1965) 127-137, for two thin tapes; finite for z, x, p = 0.
    """
    z, x, p = np.abs(z_m), np.abs(x_m), np.abs(gap_m)
    zz, xx, pp = z * z, x * x, p * p
    r = np.sqrt(zz + xx + pp)
    log_z = np.log(z + r + _TINY) - 0.5 * np.log(xx + pp + _TINY)
    log_x = np.log(x + r + _TINY) - 0.5 * np.log(zz + pp + _TINY)
    zx = z * x
    return np.asarray(
        0.5 * (xx - pp) * z * log_z
        + 0.5 * (zz - pp) * x * log_x
        - (xx + zz - 2 * pp) * r / 6
        - p * zx * np.arctan2(zx, p * r)
    )


def _differences(offset: float, a: Array | float, b: Array | float) -> tuple[Array, Array]:
    """Return the end differences of two intervals of half lengths a and b, and their signs."""
    far, near = a + b, np.subtract(a, b)
    if offset == 0:
        return np.stack([far, near], axis=-1), np.array([2.0, -2.0])
    ends = np.stack([far + offset, far - offset, near + offset, near - offset], axis=-1)
    return ends, np.array([1.0, 1.0, -1.0, -1.0])


def sheet_pair_integral_m(pair: SheetPair, orders: tuple[int, int]) -> tuple[float, float]:
    """Return the integral of 1/R along both sides, averaged over both sections.

    Parameters
    ----------
    pair
        The two sides.
    orders
        Gauss-Legendre points over the difference of depth, in each of its up to four panels, and
        over the depths that share it.

    Returns
    -------
    integral_m, rounding_m
        The average [m], and a bound on what rounding may have done to it [m].

    Notes
    -----
    The two depths u1, u2 are traded for the gap p between the sheets and u1. The integrand's
    only singularities, like p**2 log p, lie at p = 0 (and near it, if the sheets are a short way
    off each other along the axis): p = y**3 spreads them out, and Gauss-Legendre in y converges
    fast up to and across them.
    """
    along, outward, axial = pair.offset
    # p = outward + u1 - v, where v = outward2 * u2
    v_low, v_high = sorted((0.0, pair.outward2 * pair.build2))
    corners = sorted(outward + u - v for u in (0.0, pair.build1) for v in (v_low, v_high))
    if corners[0] < 0 < corners[-1]:
        corners = sorted([*corners, 0.0])
    cuts = np.array(corners)
    wide = np.diff(cuts) > 1e-12 * (cuts[-1] - cuts[0])
    low, high = np.cbrt(cuts[:-1][wide]), np.cbrt(cuts[1:][wide])

    nodes, weights = gauss_legendre(orders[0])
    half = (high - low) / 2
    y = ((low + high) / 2)[:, None] + half[:, None] * nodes
    p, p_weight = (y**3).ravel(), (half[:, None] * weights * 3 * y * y).ravel()

    nodes, weights = gauss_legendre(orders[1])
    first = np.maximum(0.0, p - outward + v_low)
    last = np.minimum(pair.build1, p - outward + v_high)
    u1 = ((first + last) / 2)[:, None] + ((last - first) / 2)[:, None] * nodes
    u2 = pair.outward2 * (outward - p[:, None] + u1)
    weight = (p_weight * (last - first) / 2)[:, None] * weights

    z, z_signs = _differences(along, pair.half1 + pair.growth * u1, pair.half2 + pair.growth * u2)
    x, x_signs = _differences(axial, pair.length1 / 2, pair.length2 / 2)
    values = sheet_antiderivative(z[..., :, None], x, p[:, None, None, None])
    scale = 1.0 / (pair.build1 * pair.build2 * pair.length1 * pair.length2)
    total = float(np.einsum("pu,puzx,z,x", weight, values, z_signs, x_signs)) * scale
    rounding = _ROUNDING * float(np.abs(values).max()) * float(weight.sum()) * scale
    return total, rounding
