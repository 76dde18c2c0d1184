"""The double integral behind the mutual inductance of two windings of finite section.

Each of the sixteen pairs of sides is averaged over both sections, either

- from filaments: closed form along both sides, Gauss-Legendre over depth and length of both
  sections, with orders set by how near the sides come; or
- from sheets, where sides with parallel edges come near or lie on each other.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.filament_inductance import (
    PARALLEL_SINE,
    parallel_integral_m,
    skew_integral_m,
)
from fieldsim.field.quadrature import gauss_legendre
from fieldsim.field.sheet_inductance import SheetPair, sheet_pair_integral_m
from fieldsim.field.winding_sides import WindingSides, side_distances_m

__all__ = ["NeumannIntegral", "neumann_integral"]

Array = NDArray[np.float64]
Orders = tuple[int, int, int, int]

_RIGHT_ANGLE = 1e-13  # cosine of directions that do not couple
_ORDER_RANGE = (2, 16)
_LOG_ERRORS = (7.0, 11.0, 15.0, 20.0, 26.0)  # natural logarithms of one over the error aimed at
_SHEET_ORDERS = ((8, 5), (12, 8), (18, 12), (28, 18), (40, 28))
_FILAMENTS_AT_MOST = 5  # with more points a dimension, sheets are quicker
_NEAREST = 0.5  # distance over half width below which logarithms, averaged, get no harder
_MANY_POINTS = 3000  # from here on the coarse tolerance is good enough
_COARSE = 1e-7
_BEST_RATE = 0.1  # the most by which an error is trusted to fall from one step to the next
_ROUNDING = 1e-15


@dataclass(frozen=True)
class NeumannIntegral:
    """Average over both sections of the double integral of dl1 . dl2/R, and its error [m]."""

    value_m: float
    error_m: float


@dataclass(frozen=True)
class _SidePair:
    """Two sides in any position, by what the integral between their filaments depends on.

    Parameters
    ----------
    cosine, sine
        Of the angle between the sides.
    offset, outward1, axial1, outward2, axial2
        The vector from the middle of the second side's inner face to that of the first [m], and
        the directions of build and axis of each, in components along the first side, the second
        side and the common perpendicular; for parallel sides along the first side, outward
        through its build and along its axis.
    half1, half2
        Half lengths at the inner faces [m].
    section1, section2
        Build and length [m].
    """

    cosine: float
    sine: float
    offset: tuple[float, ...]
    outward1: tuple[float, ...]
    axial1: tuple[float, ...]
    outward2: tuple[float, ...]
    axial2: tuple[float, ...]
    half1: float
    half2: float
    section1: tuple[float, float]
    section2: tuple[float, float]

    def key(self, scale_m: float) -> tuple[float, ...]:
        """Return the numbers that set the integral, rounded so that equal pairs agree."""
        offset = tuple(x / scale_m for x in self.offset)
        vectors = np.array([offset, self.outward1, self.outward2, self.axial1, self.axial2])
        vectors = vectors.round(13)
        # Mirrored in the plane of the first two directions, or with an axis reversed, the pair is
        # the same: the first number that would tell is made positive.
        vectors[:, 2] *= _sign(vectors[:3, 2])
        vectors[3] *= _sign(vectors[3])
        vectors[4] *= _sign(vectors[4])
        halves = (round(x / scale_m, 13) for x in (self.half1, self.half2))
        return (round(self.cosine, 13), *(vectors + 0.0).ravel().tolist(), *halves)

    def sheets(self) -> SheetPair:
        """Return the pair as sheets; their edges must be parallel."""
        size = self.half1 + self.half2 + max(abs(x) for x in self.offset)
        along, outward, axial = (0.0 if abs(x) < 1e-14 * size else x for x in self.offset)
        return SheetPair(
            (abs(along), outward, abs(axial)),  # even in these two
            1 if self.outward2[1] > 0 else -1,
            self.half1,
            self.half2,
            self.section1[0],
            self.section2[0],
            self.section1[1],
            self.section2[1],
        )


def _sign(numbers: Array) -> float:
    """Return the sign of the first number that is not zero, or one."""
    rest = numbers[numbers != 0]
    return 1.0 if rest.size == 0 else float(np.sign(rest[0]))


def _side_pairs(first: WindingSides, second: WindingSides) -> Iterator[tuple[int, int, _SidePair]]:
    """Yield the pairs of sides that are not at right angles, with their numbers."""
    e, g = first.frame[:, 0], second.frame[:, 0]
    cosine = e @ g.T
    normal = np.cross(e[:, None], g[None, :])
    sine = np.linalg.norm(normal, axis=-1)
    for i, j in np.argwhere(np.abs(cosine) > _RIGHT_ANGLE).tolist():
        if sine[i, j] > PARALLEL_SINE:
            basis = np.array([e[i], g[j], normal[i, j] / sine[i, j]])
        else:
            basis = first.frame[i]
        offset = first.middle_m[i] - second.middle_m[j]
        vectors = np.array([offset, *first.frame[i, 1:], *second.frame[j, 1:]])
        parts = [tuple(row) for row in (vectors @ basis.T).tolist()]
        yield (
            i,
            j,
            _SidePair(
                cosine=float(cosine[i, j]),
                sine=float(sine[i, j]),
                offset=parts[0],
                outward1=parts[1],
                axial1=parts[2],
                outward2=parts[3],
                axial2=parts[4],
                half1=float(first.half_m[i]),
                half2=float(second.half_m[j]),
                section1=(first.build_m, first.length_m),
                section2=(second.build_m, second.length_m),
            ),
        )


def _edges_parallel(first: WindingSides, second: WindingSides) -> bool:
    """Return whether axes are parallel and sides are parallel or at right angles."""
    turn = np.abs(first.frame[0] @ second.frame[0].T)
    return bool(np.all((turn < PARALLEL_SINE) | (turn > 0.9)) and turn[2, 2] > 0.9)


def _filament_integral(pair: _SidePair, orders: Orders) -> float:
    """Return the average over both sections; orders over build and length of each."""
    (b1, l1), (b2, l2) = pair.section1, pair.section2
    rules = [gauss_legendre(n) for n in orders]
    u1 = (b1 / 2 * (1 + rules[0][0])).reshape(-1, 1, 1, 1)
    w1 = (l1 / 2 * rules[1][0]).reshape(-1, 1, 1)
    u2 = (b2 / 2 * (1 + rules[2][0])).reshape(-1, 1)
    w2 = l2 / 2 * rules[3][0]

    def component(k: int) -> Array:
        first = pair.offset[k] + u1 * pair.outward1[k] + w1 * pair.axial1[k]
        return np.asarray(first - (u2 * pair.outward2[k] + w2 * pair.axial2[k]))

    h1, h2 = pair.half1 + u1, pair.half2 + u2
    if pair.sine > PARALLEL_SINE:
        values = skew_integral_m(
            component(0), component(1), component(2), pair.cosine, pair.sine, h1, h2
        )
    else:
        distance = np.hypot(component(1), component(2))
        values = parallel_integral_m(np.asarray(pair.offset[0]), distance, h1, h2)
    for _, weights in reversed(rules):
        values = values @ weights / 2
    return float(values)


def _orders(pair: _SidePair, distance_m: float, log_error: float) -> Orders:
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

    It is the next change to expect, if changes go on falling at the rate seen.
    """
    return change * min(max(change / previous, _BEST_RATE), 1.0) if previous > 0 else change


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


def _by_filaments(pair: _SidePair, distance_m: float, tolerance: float) -> tuple[float, float]:
    orders = _orders(pair, distance_m, _LOG_ERRORS[0])
    rough = _filament_integral(pair, orders)
    change = 0.0
    for log_error in _LOG_ERRORS[1:]:
        # A rule compared with itself says nothing: every order moves on, by a step at least.
        wanted = _orders(pair, distance_m, log_error)
        finer = _in_range([max(new, old + 1) for new, old in zip(wanted, orders, strict=True)])
        value = _filament_integral(pair, finer)
        previous, change = change, abs(value - rough)
        error = _error(change, previous)
        enough = tolerance if math.prod(finer) < _MANY_POINTS else max(tolerance, _COARSE)
        if error <= enough * abs(value):
            break
        rough, orders = value, finer
    return value, error


def neumann_integral(
    first: WindingSides, second: WindingSides, tolerance: float = 1e-9
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
    Between sides that touch at an angle, logarithms slow convergence down; the error says so.
    """
    distances = side_distances_m(first, second)
    edges_parallel = _edges_parallel(first, second)
    scale = float(first.half_m.max() + second.half_m.max() + first.build_m + second.build_m)
    done: dict[tuple[float, ...], tuple[float, float]] = {}  # symmetry makes many pairs alike
    value = error = 0.0
    for i, j, pair in _side_pairs(first, second):
        key = pair.key(scale)
        if key not in done:
            distance = float(distances[i, j])
            points = max(_orders(pair, distance, _LOG_ERRORS[2]))
            if edges_parallel and points > _FILAMENTS_AT_MOST:
                done[key] = _by_sheets(pair.sheets(), tolerance)
            else:
                done[key] = _by_filaments(pair, distance, tolerance)
        part, part_error = done[key]
        value += pair.cosine * part
        error += abs(pair.cosine) * (part_error + _ROUNDING * abs(part))
    return NeumannIntegral(value, error)
