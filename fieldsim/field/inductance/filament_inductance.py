"""Mutual inductance of straight filaments and of closed polygons of them, in closed form.

Neumann's double integral over two straight segments ends in one logarithm an end point and, for
skew segments, four arctangents. Segments may lie anywhere: skew, crossing planes, parallel,
antiparallel, collinear, touching at their ends.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fieldsim.machine.frames import Vec3, frame_matrix, perpendicular_part, unit

__all__ = [
    "MU_0_OVER_4PI",
    "PARALLEL_SINE",
    "parallel_integral_m",
    "polygon_mutual_H",
    "rectangle_corners",
    "segment_mutual_H",
    "skew_integral_m",
]

Array = NDArray[np.float64]

MU_0_OVER_4PI = 1e-7  # [H/m]

# Sine below which two directions count as parallel. The skew form loses about 1e-15/sine to
# rounding, the parallel form a tenth of the sine: they meet near here.
PARALLEL_SINE = 1e-7

_COLLINEAR = 1e-12  # distance, over the segments' extent, below which two lines coincide


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
    p = np.maximum(distance_m, _COLLINEAR * reach)  # collinear: any small distance does

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


def segment_mutual_H(
    start1_m: ArrayLike, end1_m: ArrayLike, start2_m: ArrayLike, end2_m: ArrayLike
) -> Array:
    """Return the mutual (partial) inductance of straight filaments anywhere in space.

    Parameters
    ----------
    start1_m, end1_m, start2_m, end2_m
        End points [m], shape (..., 3), broadcast against each other. Current runs from start to
        end.

    Returns
    -------
    ndarray
        Shape (...) [H]; infinite where two segments lie on each other.

    Raises
    ------
    ValueError
        If a segment has no length.

    Notes
    -----
    M = mu0/(4 pi) cos(angle) times the double integral of 1/R. Only sums over closed loops have a
    meaning of their own. Rounding leaves about 1e-14 of the size of the terms, up to 1e-8 where
    the angle between the directions is near 1e-7.

    Examples
    --------
    Two wires of 1 m, 1 m apart:

    >>> m = segment_mutual_H([0, 0, 0], [1, 0, 0], [0, 1, 0], [1, 1, 0])
    >>> round(float(m) * 1e9, 3)
    93.432
    """
    points = np.broadcast_arrays(
        *(np.asarray(p, dtype=float) for p in (start1_m, end1_m, start2_m, end2_m))
    )
    a1, b1, a2, b2 = points
    e, g = b1 - a1, b2 - a2
    length1, length2 = np.linalg.norm(e, axis=-1), np.linalg.norm(g, axis=-1)
    if not (np.all(length1 > 0) and np.all(length2 > 0)):
        raise ValueError("a filament needs a length above zero")
    e, g = e / length1[..., None], g / length2[..., None]
    w = (a1 + b1 - a2 - b2) / 2
    cosine = np.einsum("...i,...i", e, g)
    normal = np.cross(e, g)
    sine = np.linalg.norm(normal, axis=-1)
    along1, along2 = np.einsum("...i,...i", w, e), np.einsum("...i,...i", w, g)
    half1, half2 = length1 / 2, length2 / 2

    across = np.linalg.norm(np.cross(w, e), axis=-1)
    straight = parallel_integral_m(along1, across, half1, half2)
    reach = np.abs(along1) + half1 + half2
    on_each_other = (across < _COLLINEAR * reach) & (
        np.abs(along1) < (half1 + half2) * (1 - _COLLINEAR)
    )
    straight = np.where(on_each_other, np.inf, straight)

    is_skew = sine > PARALLEL_SINE
    safe = np.where(is_skew, sine, 1.0)
    distance = np.einsum("...i,...i", w, normal) / safe
    skew = skew_integral_m(along1, along2, distance, cosine, safe, half1, half2)
    integral = np.where(is_skew, skew, straight)
    return np.asarray(MU_0_OVER_4PI * cosine * integral)


def polygon_mutual_H(corners1_m: ArrayLike, corners2_m: ArrayLike) -> Array:
    """Return the mutual inductance of two closed polygons of thin wire.

    Parameters
    ----------
    corners1_m, corners2_m
        Corners in the order of the current [m], shapes (..., corners, 3); the last is joined to
        the first, the leading dimensions broadcast.

    Returns
    -------
    ndarray
        Shape (...) [H]; positive if the fluxes help each other.

    Notes
    -----
    The sides' contributions cancel to about (size/distance)**3: at a hundred sizes apart ten digits
    are left.

    Examples
    --------
    Two squares of 100 mm, 10 mm apart:

    >>> lower = rectangle_corners((0, 0, 0), (0, 0, 1), (1, 0, 0), (0.1, 0.1))
    >>> upper = rectangle_corners((0, 0, 0.01), (0, 0, 1), (1, 0, 0), (0.1, 0.1))
    >>> round(float(polygon_mutual_H(lower, upper)) * 1e9, 6)
    130.250602
    """
    first, second = np.asarray(corners1_m, dtype=float), np.asarray(corners2_m, dtype=float)
    start1, start2 = first[..., :, None, :], second[..., None, :, :]
    end1 = np.roll(first, -1, axis=-2)[..., :, None, :]
    end2 = np.roll(second, -1, axis=-2)[..., None, :, :]
    return np.asarray(segment_mutual_H(start1, end1, start2, end2).sum(axis=(-2, -1)))


def rectangle_corners(centre: Vec3, axis: Vec3, side: Vec3, size: tuple[float, float]) -> Array:
    """Return the corners of a rectangle, right-handed about its axis.

    Parameters
    ----------
    centre
        Of the rectangle [m].
    axis, side
        Directions of its normal and of its first dimension; the second runs along ``axis x side``.
    size
        Full lengths along ``side`` and ``axis x side`` [m].

    Returns
    -------
    ndarray
        Shape (4, 3) [m].

    Examples
    --------
    >>> rectangle_corners((0, 0, 0), (0, 0, 1), (1, 0, 0), (4, 2))[:, :2].tolist()
    [[-2.0, -1.0], [2.0, -1.0], [2.0, 1.0], [-2.0, 1.0]]
    """
    if not (math.isfinite(size[0]) and math.isfinite(size[1]) and min(size) > 0):
        raise ValueError(f"a rectangle needs two lengths above zero; given {size}")
    axis = unit(axis)
    frame = frame_matrix(perpendicular_part(side, axis), axis)
    signs = np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])
    return np.asarray(np.asarray(centre, dtype=float) + (signs * size / 2) @ frame[:, :2].T)
