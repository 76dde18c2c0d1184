"""The linkage curve of one magnet round its track, as a Fourier series with an error estimate."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.block_linkage import block_linkage_m2, block_panels, edge_distance_m
from fieldsim.field.body_linkage import BodyLinkage
from fieldsim.field.track import CoilInRotor, Mirror, Track, mirror_of
from fieldsim.geometry.machine import Cuboid

__all__ = ["TrackCurve", "track_curve"]

Array = NDArray[np.float64]
Evaluate = Callable[[Array, float], tuple[Array, int]]  # angles, digits -> linkage, points

_FIRST = 32  # angles of the first look; every finer set holds it
_MOST = 4096
_MARGIN = 5.0  # of the reported error over the largest difference seen at the test angles


@dataclass(frozen=True)
class TrackCurve:
    """Linkage per turn and tesla against arm angle.

    Parameters
    ----------
    harmonics_m2
        Complex c_k, k = 0..K: the linkage is c_0 + 2 Re sum c_k exp(i k angle), shape (K + 1,).
    error_m2
        Estimate of the largest error at any angle, meant to be no smaller than the true one.
    swing_m2
        Peak-to-peak of the curve.
    angles
        How many angles a turn the series rests on.
    points
        How many times a potential or field was evaluated.
    converged
        Whether the error asked for was reached.
    """

    harmonics_m2: NDArray[np.complex128]
    error_m2: float
    swing_m2: float
    angles: int
    points: int
    converged: bool


def track_curve(track: Track, coil: CoilInRotor, error_m2: float, relative: float) -> TrackCurve:
    """Return the linkage curve of one magnet of 1 T on its track with one turn of the coil.

    Parameters
    ----------
    track, coil
        What to link, both in the rotor's coordinates.
    error_m2
        Largest error asked for; the looser of this and ``relative`` applies.
    relative
        Largest error asked for, relative to the peak-to-peak of the curve.

    Notes
    -----
    Quadrature orders are set from a few test angles, among them the closest approach, by comparing
    with clearly higher orders; the difference there, doubled, is the quadrature part of the error.
    Angles are added, in multiples of the first 32, until the extrapolated tail of the spectrum is
    small enough; twice the tail, for truncation and aliasing, is the other part.
    """
    mirror = mirror_of(track, coil)
    first = _grid(mirror, _FIRST)
    evaluate, nearness = _evaluator(track, coil, first)
    settled = _settle_digits(evaluate, first[_test_angles(nearness)], error_m2 / 2, relative / 2)
    points = settled.points

    count, known, values = _FIRST, first, np.empty(0)
    grid = first
    while True:
        fresh, spent = evaluate(grid, settled.digits)
        points += spent
        known, values = (grid, fresh) if not values.size else _merged(known, values, grid, fresh)
        curve = _full_turn(values, mirror, count)
        harmonics = np.fft.rfft(curve) / count
        swing = float(np.ptp(curve))
        tail = _tail(np.abs(harmonics))
        rounding = 4e-16 * _corner_scale(track, coil)
        error = _MARGIN * settled.error_m2 + tail + rounding
        allowed = max(error_m2, relative * swing)
        good = tail <= allowed / 2 or tail <= 2 * rounding
        if good or count >= _MOST:
            break
        target = _angles_needed(np.abs(harmonics), allowed / 2)
        step = _FIRST * math.ceil(min(max(target, count * 1.25), 8 * count) / _FIRST)
        # A finer set must hold the angles already known: a multiple of the count at hand.
        factor = max(2, math.ceil(step / count))
        grid = _between(mirror, count, factor)
        count *= factor
    start = mirror.angle if mirror else 0.0
    k = np.arange(len(harmonics))
    harmonics = harmonics * np.exp(-1j * k * start)
    harmonics[-1] = 0.0  # the Nyquist term has no phase; its size is in the tail
    return TrackCurve(
        harmonics, error, swing, count, points, bool(good and settled.error_m2 * _MARGIN <= allowed)
    )


def _evaluator(track: Track, coil: CoilInRotor, angles: Array) -> tuple[Evaluate, Array]:
    """Return the function of (angles, digits) for the magnet's shape, and nearness by angle."""
    if isinstance(track.shape, Cuboid):
        panels = block_panels(track, coil, angles)
        distance = edge_distance_m(track, panels, angles)
        return lambda a, digits: block_linkage_m2(track, coil, panels, a, digits), distance
    body = BodyLinkage(track, coil)
    return body.linkage_m2, body.distance_m(angles)


def _grid(mirror: Mirror | None, count: int) -> Array:
    if mirror is None:
        return 2 * math.pi / count * np.arange(count)
    return mirror.angle + 2 * math.pi / count * np.arange(count // 2 + 1)


def _between(mirror: Mirror | None, count: int, factor: int) -> Array:
    """Return the angles of the grid of ``factor * count`` that the grid of ``count`` has not."""
    fine = _grid(mirror, factor * count)
    return fine[np.arange(len(fine)) % factor != 0]


def _merged(known: Array, values: Array, grid: Array, fresh: Array) -> tuple[Array, Array]:
    angles = np.concatenate([known, grid])
    order = np.argsort(angles, kind="stable")
    return angles[order], np.concatenate([values, fresh])[order]


def _full_turn(values: Array, mirror: Mirror | None, count: int) -> Array:
    if mirror is None:
        return values
    return np.concatenate([values, mirror.sign * values[count // 2 - 1 : 0 : -1]])


def _test_angles(distance: Array) -> NDArray[np.intp]:
    """Return indices of the angles to settle orders at: the three nearest and three others."""
    order = np.argsort(distance, kind="stable")
    picks = [0, 1, 2, len(order) // 4, len(order) // 2, len(order) - 1]
    return np.unique(order[picks])


@dataclass(frozen=True)
class _Settled:
    digits: float
    error_m2: float
    points: int


def _settle_digits(evaluate: Evaluate, angles: Array, error_m2: float, relative: float) -> _Settled:
    """Return the digits at which the test angles agree with clearly higher orders."""
    digits, points = -math.log(relative) - 1.0, 0
    best: _Settled | None = None
    for _ in range(6):
        rough, spent = evaluate(angles, digits)
        fine, more = evaluate(angles, 1.25 * digits + 3.0)
        points += spent + more
        error = float(np.abs(rough - fine).max())
        swing = float(np.ptp(fine))
        allowed = max(error_m2, relative * swing) / _MARGIN
        if best is None or error < best.error_m2:
            best = _Settled(digits, error, points)
        if error <= allowed:
            break
        if swing == 0.0 or error < 1e-15 * float(np.abs(fine).max()):
            break
        digits += math.log(error / allowed) + 0.7
        if digits > 60.0:
            break
    return _Settled(best.digits, best.error_m2, points)


def _corner_scale(track: Track, coil: CoilInRotor) -> float:
    """Return the size of the terms whose sum the linkage is, which sets its rounding error."""
    size = sum(track.shape.size)
    turn = 4 * (sum(coil.half_opening) + 2 * coil.build)
    return turn * size


def _tail_fit(size: Array) -> tuple[float, float]:
    """Return the level at the end of a spectrum and its decay per order, from its envelope."""
    count = len(size)
    half = size[count // 2 :]
    envelope = np.maximum.accumulate(half[::-1])[::-1]
    floor = 1e-17 * size.max() + 1e-300
    log = np.log(envelope + floor)
    n = len(log)
    first, last = log[: max(n // 3, 1)].mean(), log[-max(n // 3, 1) :].mean()
    decay = max((first - last) / (n - max(n // 3, 1)), 1e-3)
    return float(np.exp(last)), float(decay)


def _tail(size: Array) -> float:
    """Return twice the sum of the orders beyond a spectrum's end, extrapolated."""
    level, decay = _tail_fit(size)
    return 8.0 * level / math.expm1(decay) * math.exp(-decay * len(size) / 12)


def _angles_needed(size: Array, allowed: float) -> float:
    """Return the number of angles at which the extrapolated tail is as small as allowed."""
    level, decay = _tail_fit(size)
    tail = _tail(size)
    extra = math.log(max(tail / allowed, 1.0)) / decay
    return 2.0 * (len(size) - 1 + extra)
