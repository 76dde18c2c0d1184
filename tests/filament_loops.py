"""Mutual inductance of thin loops, from the closed form of two filaments that windings use.

What published tables and formulas for thin wires, and windings taken apart into them, are compared
with.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fieldsim.field.inductance.filament_inductance import (
    COLLINEAR,
    MU_0_OVER_4PI,
    PARALLEL_SINE,
    parallel_integral_m,
    skew_integral_m,
)
from fieldsim.machine.frames import Vec3, frame_matrix, perpendicular_part, unit

Array = NDArray[np.float64]


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
    on_each_other = (across < COLLINEAR * reach) & (
        np.abs(along1) < (half1 + half2) * (1 - COLLINEAR)
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
