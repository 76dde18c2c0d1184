"""The double integral behind the mutual inductance of two windings of finite section.

Each of the sixteen pairs of sides is averaged over both sections, either

- from filaments: closed form along both sides, Gauss-Legendre over depth and length of both
  sections, with orders set by how near the sides come; or
- from sheets, where sides with parallel edges come near or lie on each other.

Sides with sharp corners reach to the diagonals. Where a winding has round ones, the sides are their
straight parts alone, and `bend_inductance` adds what is in the corners.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.inductance.bend_inductance import NeumannIntegral, corner_integral
from fieldsim.field.inductance.sheet_inductance import SheetPair, sheet_pair_integral_m
from fieldsim.field.inductance.side_pairs import (
    Orders,
    SidePair,
    edges_parallel,
    filament_averages_m,
    side_pairs,
)
from fieldsim.field.linkage.winding_sides import WindingSides, side_distances_m
from fieldsim.wire.corners import Corners

__all__ = ["TOLERANCE", "NeumannIntegral", "neumann_integral"]

Array = NDArray[np.float64]

TOLERANCE = 1e-9
"""Of what each pair of sides adds, by default."""

_ORDER_RANGE = (2, 16)
_LOG_ERRORS = (7.0, 11.0, 15.0, 20.0, 26.0)  # natural logarithms of one over the error aimed at
_SHEET_ORDERS = ((8, 5), (12, 8), (18, 12), (28, 18), (40, 28))
_FILAMENTS_AT_MOST = (
    15.0,
    5,
)  # if that log error takes more points a dimension, sheets are quicker
_NEAREST = 0.5  # distance over half width below which logarithms, averaged, get no harder
_MANY_POINTS = 3000  # from here on the coarse tolerance is good enough
_COARSE = 1e-7
_BEST_RATE = 0.1  # no error is trusted to be less than this share of the last change
_AT_ONCE = 20_000  # points in one call: arrays that stay in the cache
_ROUNDING = 1e-15


def _orders(pair: SidePair, distance_m: float, log_error: float) -> Orders:
    """Return orders over build and length of each section, for singularities at a distance.

    The error of n points falls as exp(-2 n asinh(distance/half width)) for a singularity abreast of
    the middle (L. N. Trefethen, SIAM Review 50 (2008) 67-87, theorem 4.5).
    """
    halves = np.array([*pair.section1, *pair.section2]) / 2
    rate = 2 * np.arcsinh(np.maximum(distance_m / halves, _NEAREST))
    return _in_range(np.ceil(log_error / rate))


def _in_range(orders: NDArray[np.floating] | list[int]) -> Orders:
    a, b, c, d = np.clip(orders, *_ORDER_RANGE).astype(int).tolist()
    return a, b, c, d


def _error(change: float, previous: float) -> float:
    """Return the error left after two changes in a row, the last at the finest orders.

    It is three times the next change to expect if changes go on falling at the rate seen: near
    logarithms they fall more slowly than that.
    """
    return change * min(max(3 * change / previous, _BEST_RATE), 1.0) if previous > 0 else change


def _by_sheets(pair: SheetPair, tolerance: float) -> tuple[float, float]:
    rough, _ = sheet_pair_integral_m(pair, _SHEET_ORDERS[0])
    change = 0.0
    for orders in _SHEET_ORDERS[1:]:
        value, rounding = sheet_pair_integral_m(pair, orders)
        previous, change = change, abs(value - rough)
        error = _error(change, previous) + rounding
        if error <= tolerance * abs(value):
            break
        rough = value
    return value, error


def _by_filaments(
    pairs: list[SidePair], distances_m: list[float], tolerance: float
) -> list[tuple[float, float]]:
    """Return value and error of every pair, raising the orders of each until it agrees."""
    n = len(pairs)
    orders = [_orders(p, d, _LOG_ERRORS[0]) for p, d in zip(pairs, distances_m, strict=True)]
    value = _averages(pairs, orders)
    change, error = np.zeros(n), np.full(n, np.inf)
    active = list(range(n))
    for log_error in _LOG_ERRORS[1:]:
        # A rule compared with itself says nothing: every order moves on, by a step at least.
        finer = {}
        for k in active:
            wanted = _orders(pairs[k], distances_m[k], log_error)
            finer[k] = _in_range([max(w, o + 1) for w, o in zip(wanted, orders[k], strict=True)])
        active = [k for k in active if finer[k] != orders[k]]
        results = _averages([pairs[k] for k in active], [finer[k] for k in active])
        still = []
        for k, result in zip(active, results.tolist(), strict=True):
            previous, change[k] = change[k], abs(result - value[k])
            orders[k], value[k] = finer[k], result
            error[k] = _error(change[k], previous)
            many = math.prod(finer[k]) >= _MANY_POINTS
            if error[k] > (max(tolerance, _COARSE) if many else tolerance) * abs(result):
                still.append(k)
        active = still
        if not active:
            break
    return list(zip(value.tolist(), error.tolist(), strict=True))


def _averages(pairs: list[SidePair], orders: list[Orders]) -> Array:
    """Return the filament averages of every pair at its own orders, as many at a time as pay."""
    result = np.empty(len(pairs))
    groups: dict[tuple[Orders, bool], list[int]] = {}
    for k, pair in enumerate(pairs):
        groups.setdefault((orders[k], pair.is_skew), []).append(k)
    for (rule, _), members in groups.items():
        at_once = max(1, _AT_ONCE // math.prod(rule))
        for start in range(0, len(members), at_once):
            chosen = members[start : start + at_once]
            result[chosen] = filament_averages_m([pairs[k] for k in chosen], rule)
    return result


def neumann_integral(
    first: WindingSides, second: WindingSides, tolerance: float = TOLERANCE
) -> NeumannIntegral:
    """Return the Neumann integral of one turn of each winding, averaged over their turns.

    Parameters
    ----------
    first, second
        Two windings anywhere in space, or the same one twice.
    tolerance
        Of every pair of sides, relative to itself: orders are raised until two agree so well, or
        no more are at hand. Sides that come near at an angle stop at 1e-7.

    Returns
    -------
    NeumannIntegral
        Value [m] and error [m], the sum of the last changes and of rounding.

    Notes
    -----
    Between sides that touch at an angle, logarithms slow convergence down; the error says so. Bends
    are good to some 1e-6 of a turn's length.
    """
    if Corners.ROUND not in (first.corners, second.corners):
        return _between_sides(first, second, tolerance, 1.0)
    straight = _between_sides(first, second, tolerance, 0.0)
    bends = corner_integral(first, second, tolerance)
    return NeumannIntegral(straight.value_m + bends.value_m, straight.error_m + bends.error_m)


def _between_sides(
    first: WindingSides, second: WindingSides, tolerance: float, growth: float
) -> NeumannIntegral:
    distances = side_distances_m(first, second)
    parallel_edges = edges_parallel(first, second)
    scale = float(first.half_m.max() + second.half_m.max() + first.build_m + second.build_m)
    counts: dict[tuple[float, ...], int] = {}  # symmetry makes many pairs alike
    pairs, pair_distances = [], []
    for i, j, pair in side_pairs(first, second, growth):
        key = pair.key(scale)
        if key not in counts:
            pairs.append(pair)
            pair_distances.append(float(distances[i, j]))
        counts[key] = counts.get(key, 0) + 1

    log_error, most = _FILAMENTS_AT_MOST
    near = [
        parallel_edges and max(_orders(pair, distance, log_error)) > most
        for pair, distance in zip(pairs, pair_distances, strict=True)
    ]
    results: list[tuple[float, float]] = [(0.0, 0.0)] * len(pairs)
    far = [k for k, is_near in enumerate(near) if not is_near]
    by_filaments = _by_filaments(
        [pairs[k] for k in far], [pair_distances[k] for k in far], tolerance
    )
    for k, result in zip(far, by_filaments, strict=True):
        results[k] = result
    for k, is_near in enumerate(near):
        if is_near:
            results[k] = _by_sheets(pairs[k].sheets(), tolerance)

    weights = np.array([p.cosine * n for p, n in zip(pairs, counts.values(), strict=True)])
    values, errors = np.array(results).reshape(-1, 2).T
    errors = errors + _ROUNDING * np.abs(values)
    return NeumannIntegral(float(weights @ values), float(np.abs(weights) @ errors))
