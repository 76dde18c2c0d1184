"""What the corners of windings add to the double integral between their straight parts.

Between two windings of which one has round corners, all current is in straight parts, which are
boxes, and in corners (`round_corner`; of a winding with sharp ones the two triangles of each).

- A corner meets a box as Gauss points in the closed-form potential of the box.
- Two corners of windings with parallel axes meet as Gauss points across them, in closed form along
  the axis; of windings at an angle, as Gauss points in all dimensions.
- A bend meets itself, or that of the next coil of a stack, in distance from their common centre and
  in the angle between them, where the logarithm at no distance is spread out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.inductance.filament_inductance import parallel_integral_m
from fieldsim.field.linkage.quadrature import gauss_legendre
from fieldsim.field.linkage.round_corner import bend_points, mitre_points
from fieldsim.field.linkage.winding_sides import WindingSides
from fieldsim.field.potential.box_potential import box_potential_m2
from fieldsim.wire.corners import Corners

__all__ = ["NeumannIntegral", "corner_integral"]

Array = NDArray[np.float64]

_ORDERS = (4, 6, 9, 13)
_TOLERANCE = 3e-6  # of a turn's length: the error that is good enough
_MARGIN = 3.0  # of the error over the last change, which corners close to each other may need
_BOX_ROUNDING = 4e-16
_BEST_RATE = 0.1  # no error is trusted to be less than this share of the last one
_PIECES = 64  # that six dimensions are taken in, to bound memory
_SAME = 1e-12  # of a winding's size: what counts as one place, and as parallel


@dataclass(frozen=True)
class NeumannIntegral:
    """Average over both sections of the double integral of dl1 . dl2/R, and its error [m]."""

    value_m: float
    error_m: float


def corner_integral(
    first: WindingSides, second: WindingSides, tolerance: float = 0.0
) -> NeumannIntegral:
    """Return what all pairs with a corner of either winding add to the Neumann integral.

    Parameters
    ----------
    first, second
        Two windings anywhere in space, or the same one twice.
    tolerance
        Relative to a turn's length; 3e-6 at least.

    Notes
    -----
    Orders are raised until the error is that small. It is three times the last change, or what
    rounding may have done.
    """
    turn_m = min(float(4 * one.half_m.sum() + 8 * one.build_m) for one in (first, second))
    value, error = _corners(first, second, _ORDERS[0]), 0.0
    for order in _ORDERS[1:]:
        rough, value = value, _corners(first, second, order)
        error = max(_MARGIN * abs(value - rough), _BEST_RATE * error)
        if error <= max(_TOLERANCE, tolerance) * turn_m:
            break
    return NeumannIntegral(value, error + _box_rounding_m(first, second))


def _box_rounding_m(first: WindingSides, second: WindingSides) -> float:
    """Return what rounding of boxes' potentials, which grows with distance, may come to."""
    apart = first.middle_m.mean(axis=0) - second.middle_m.mean(axis=0)
    reach = float(np.linalg.norm(apart)) + float(first.half_m.sum() + second.half_m.sum())
    thin = min(one.build_m * one.length_m for one in (first, second))
    return _BOX_ROUNDING * reach**2 / thin * (first.build_m + second.build_m)


def _corners(first: WindingSides, second: WindingSides, order: int) -> float:
    """Return the sum of all pairs with corners, at one order."""
    if _alike(first, second):
        # Each of the four corners meets the same as any other.
        return 4 * (2 * _with_boxes(first, first, order, 1) + _with_corners(first, first, order, 1))
    boxes = _with_boxes(first, second, order, 4) + _with_boxes(second, first, order, 4)
    return boxes + _with_corners(first, second, order, 4)


def _alike(first: WindingSides, second: WindingSides) -> bool:
    return (
        np.array_equal(first.middle_m, second.middle_m)
        and np.array_equal(first.frame, second.frame)
        and np.array_equal(first.half_m, second.half_m)
        and (first.build_m, first.length_m, first.corners)
        == (second.build_m, second.length_m, second.corners)
    )


def _currents(winding: WindingSides, order: int) -> tuple[Array, Array]:
    """Return the points of its corners halfway along the axis and the currents there.

    Returns
    -------
    Points [m] and the current times area that each stands for over the build [m], both
    (4, points, 3). Corner k is where side k ends.
    """
    if winding.corners is Corners.ROUND:
        along, depth, part = bend_points(winding.build_m, (order, order))
        following = part * along / depth
    else:
        # Of the triangle of the following side the distances change places.
        far, near, area = mitre_points(winding.build_m, (order, order))
        along, depth = np.concatenate([far, near]), np.concatenate([near, far])
        part, following = np.concatenate([area, 0 * area]), np.concatenate([0 * area, area])
    this, turned = winding.frame[:, 0], np.roll(winding.frame[:, 0], -1, axis=0)
    corner = winding.middle_m + winding.half_m[:, None] * this
    flat = np.stack([along, depth]), np.stack([part, following]) / winding.build_m
    place, current = (
        np.einsum("pn,pkc->knc", parts, np.stack(ways))
        for parts, ways in zip(flat, ((this, winding.frame[:, 1]), (this, turned)), strict=True)
    )
    return corner[:, None] + place, current


def _with_boxes(bent: WindingSides, straight: WindingSides, order: int, corners: int) -> float:
    """Return the integral of some corners of one winding with the straight parts of the other."""
    place, current = (part[:corners].reshape(-1, 3) for part in _currents(bent, order))
    w, weight = gauss_legendre(order)
    points = place[:, None, :] + (bent.length_m / 2 * w)[:, None] * bent.frame[0, 2]
    total = 0.0
    for middle, frame, half in zip(
        straight.middle_m, straight.frame, straight.half_m.tolist(), strict=True
    ):
        inside = (points - middle) @ frame.T - [0.0, straight.build_m / 2, 0.0]
        size = (half, straight.build_m / 2, straight.length_m / 2)
        total += float((current @ frame[0]) @ (box_potential_m2(inside, size) @ weight / 2))
    return total / (straight.build_m * straight.length_m)


def _with_corners(first: WindingSides, second: WindingSides, order: int, corners: int) -> float:
    """Return the integral of some corners of the first winding with all of the second."""
    axis = first.frame[0, 2]
    if abs(float(axis @ second.frame[0, 2])) < 1 - _SAME:
        return _at_an_angle(first, second, order)
    (place1, current1), (place2, current2) = _currents(first, order), _currents(second, order)
    axial = float((first.middle_m[0] - second.middle_m[0]) @ axis)
    halves = (first.length_m / 2, second.length_m / 2)
    total = 0.0
    for i in range(corners):
        for j in range(4):
            if _one_centre(first, i, second, j):
                total += _one_bend(first.build_m, axial, halves, order)
                continue
            along = current1[i] @ current2[j].T
            if not along.any():
                continue
            apart = place1[i][:, None] - place2[j]
            across = np.linalg.norm(apart - (apart @ axis)[..., None] * axis, axis=-1)
            total += float((along * _over_lengths(axial, across, halves)).sum())
    return total


def _over_lengths(axial: float, across: Array, halves: tuple[float, float]) -> Array:
    """Return 1/R between two lines along the axis, averaged over both lengths [1/m]."""
    half1, half2 = (np.array(half) for half in halves)
    integral = parallel_integral_m(np.array(axial), across, half1, half2)
    return np.asarray(integral / (4 * half1 * half2))


def _one_centre(first: WindingSides, i: int, second: WindingSides, j: int) -> bool:
    """Return whether two corners are bends about one line, with the same build and quarter."""
    if not first.corners is second.corners is Corners.ROUND:
        return False
    here, there = (
        one.middle_m[k] + one.half_m[k] * one.frame[k, 0] for one, k in ((first, i), (second, j))
    )
    apart = here - there
    across = apart - (apart @ first.frame[i, 2]) * first.frame[i, 2]
    size = _SAME * float(first.half_m.max() + first.build_m)
    return bool(
        np.linalg.norm(across) < size
        and abs(first.build_m - second.build_m) < size
        and np.abs(first.frame[i] - second.frame[j]).max() < _SAME
    )


def _one_bend(build_m: float, axial: float, halves: tuple[float, float], order: int) -> float:
    """Return the integral between two bends about one line, or of one with itself.

    Notes
    -----
    With r and r s the distances from the line, s below one (and the same again, exchanged), and d
    the angle between: 2 r**3 s times 2 (pi/2 - d) cos d over the build squared. Where s is near one
    and d near zero both are taken as x**3 times a direction, so that logarithms there do no harm.
    """
    n = order + 6
    x, wx = (part / 2 for part in gauss_legendre(n))
    near, far = (0.5 + x) ** 3, 3 * (0.5 + x) ** 2 * wx  # of both, and what it stands for
    steps = 0.5 + x
    r, wr = build_m * (0.5 + x), build_m * wx
    total = 0.0
    aslant = np.outer(near, steps)
    for inward, turned in ((near[:, None], aslant), (aslant, near[:, None])):
        share = np.outer(far * near, wx) * math.pi / 2
        s, angle = 1 - inward, math.pi / 2 * turned
        apart = np.sqrt(inward**2 + 4 * s * np.sin(angle / 2) ** 2)
        weight = share * s * (math.pi / 2 - angle) * np.cos(angle)
        values = _over_lengths(axial, r[:, None, None] * apart, halves)
        total += float(np.einsum("r,rxy,xy", wr * r**3, values, weight))
    return 4 * total / build_m**2


def _at_an_angle(first: WindingSides, second: WindingSides, order: int) -> float:
    """Return the integral of all corners of windings at an angle, in all six dimensions."""
    few = 2 + order // 2
    points, currents = [], []
    for winding in (first, second):
        place, current = (part.reshape(-1, 3) for part in _currents(winding, few))
        w, weight = gauss_legendre(few)
        axis = winding.length_m / 2 * winding.frame[0, 2]
        points.append((place[:, None] + w[:, None] * axis).reshape(-1, 3))
        currents.append((current[:, None] * (weight / 2)[:, None]).reshape(-1, 3))
    total = 0.0
    pieces = (np.array_split(part[0], _PIECES) for part in (points, currents))
    for place, current in zip(*pieces, strict=True):
        distance = np.linalg.norm(place[:, None] - points[1], axis=-1)
        total += float(((current @ currents[1].T) / distance).sum())
    return total
