"""Double integrals of 1/R over two straight filaments, in closed form.

Neumann's double integral over two straight segments ends in one logarithm an end point and, for
skew segments, four arctangents. Segments may lie anywhere: skew, crossing planes, parallel,
antiparallel, collinear, touching at their ends.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "COLLINEAR",
    "MU_0_OVER_4PI",
    "PARALLEL_SINE",
    "parallel_integral_m",
    "skew_integral_m",
]

Array = NDArray[np.float64]

MU_0_OVER_4PI = 1e-7  # [H/m]

# Sine below which two directions count as parallel. The skew form loses about 1e-15/sine to
# rounding, the parallel form a tenth of the sine: they meet near here.
PARALLEL_SINE = 1e-7

COLLINEAR = 1e-12  # distance, over the segments' extent, below which two lines coincide


def parallel_integral_m(
    offset_m: Array, distance_m: Array, half1_m: Array, half2_m: Array
) -> Array:
    """Return the double integral of 1/R over two parallel segments.

    Parameters
    ----------
    offset_m
        Between their middles, along the segments [m].
    distance_m
        Between their lines [m], above zero where they overlap.
    half1_m, half2_m
        Half lengths [m]. All four broadcast.

    Returns
    -------
    ndarray
        The integral [m].

    Notes
    -----
    The second antiderivative of 1/sqrt(z**2 + p**2) in z is z asinh(z/p) - sqrt(z**2 + p**2);
    the integral is its sum over the four combinations of ends (F. W. Grover, Inductance
    Calculations, 1946, chapter 6).
    """
    reach = np.abs(offset_m) + half1_m + half2_m
    p = np.maximum(distance_m, COLLINEAR * reach)  # collinear: any small distance does

    def antiderivative(z: Array) -> Array:
        return np.asarray(z * np.arcsinh(z / p) - np.sqrt(z * z + p * p))

    far, near = half1_m + half2_m, half1_m - half2_m
    return np.asarray(
        antiderivative(offset_m + far)
        + antiderivative(offset_m - far)
        - antiderivative(offset_m + near)
        - antiderivative(offset_m - near)
    )


def skew_integral_m(
    along1_m: Array,
    along2_m: Array,
    distance_m: Array,
    cosine: ArrayLike,
    sine: ArrayLike,
    half1_m: Array,
    half2_m: Array,
) -> Array:
    """Return the double integral of 1/R over two segments that are not parallel.

    Parameters
    ----------
    along1_m, along2_m
        Components, along the direction of the first and of the second segment, of the vector from
        the middle of the second to the middle of the first [m].
    distance_m
        Between their lines, along the common perpendicular [m]; of either sign.
    cosine, sine
        Of the angle between the directions; the sine above zero.
    half1_m, half2_m
        Half lengths [m]. All broadcast.

    Returns
    -------
    ndarray
        The integral [m].

    Notes
    -----
    With x and y measured along the lines from the feet of their common perpendicular, of length d,
    R**2 = x**2 + y**2 - 2 x y cos + d**2 and div((x, y)/R) = 1/R + d**2/R**3. So the integral is
    a sum over the edges of the rectangle in (x, y), each the distance of an end from the foot times
    the potential there of the other segment, less d/sin times the solid angle of a parallelogram
    (G. A. Campbell, Phys. Rev. 5 (1915) 452; F. W. Grover, Inductance Calculations, 1946,
    chapter 7).
    """
    c, s = np.asarray(cosine, dtype=float), np.asarray(sine, dtype=float)
    # Count the second segment in the direction that makes the angle sharp.
    along2 = np.where(c < 0, -along2_m, along2_m)
    c = np.abs(c)
    foot1 = (c * along2 - along1_m) / (s * s)
    # Near parallel both feet are far off: their difference is formed without subtracting them.
    lag = (along1_m + along2) / (1 + c)
    d = np.abs(distance_m)
    x = (-half1_m - foot1, half1_m - foot1)
    y = (-half2_m - foot1 - lag, half2_m - foot1 - lag)
    versine2 = 2 * s * s / (1 + c)  # 2 (1 - cos)

    def separation(i: int, j: int) -> Array:
        behind = (half1_m if i else -half1_m) - (half2_m if j else -half2_m) + lag
        return np.asarray(np.sqrt(np.maximum(behind**2 + versine2 * x[i] * y[j] + d * d, 0.0)))

    def potential(length: Array, a: Array, b: Array) -> Array:
        total = a + b
        # An end on the other segment: its logarithm is infinite but its factor is zero.
        rest = np.maximum(total - length, 1e-16 * total + 1e-300)
        return np.asarray(np.log((total + length) / rest))

    def corner(i: int, j: int, r: Array) -> Array:
        return np.asarray(np.arctan2(d * d * c + x[i] * y[j] * s * s, d * r * s))

    r00, r01, r10, r11 = (separation(i, j) for i in (0, 1) for j in (0, 1))
    edges = (
        x[1] * potential(2 * half2_m, r10, r11)
        - x[0] * potential(2 * half2_m, r00, r01)
        + y[1] * potential(2 * half1_m, r01, r11)
        - y[0] * potential(2 * half1_m, r00, r10)
    )
    angle = corner(1, 1, r11) + corner(0, 0, r00) - corner(1, 0, r10) - corner(0, 1, r01)
    return np.asarray(edges - d / s * angle)
