"""The linkage curve of one magnet round its track, as a Fourier series with an error estimate."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import compress
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.linkage.block_linkage import BlockLinkage
from fieldsim.field.linkage.body_linkage import BodyLinkage
from fieldsim.field.linkage.curve import (
    ROUNDING,
    TrackCurve,
    aliasing,
    least_swing_m2,
    orders_wanted,
    rounding_m2,
)
from fieldsim.field.linkage.ring_curve import quick_ring_curves, ring_curves
from fieldsim.field.linkage.ring_division import far_too_large
from fieldsim.field.linkage.ring_patches import ring_patches, stands_square
from fieldsim.field.linkage.track import CoilInRotor, Mirror, Track, mirror_of
from fieldsim.machine.magnets import Cuboid
from fieldsim.wire.corners import Corners

__all__ = ["TrackCurve", "angle_curve", "quick_curves", "track_curve"]

Array = NDArray[np.float64]

_FIRST = 32  # angles of the first look; every finer set holds it
_MOST = 4096
_START_DIGITS = 5.0  # beyond the error asked for, natural; what most windings need
_LEAST_DIGITS = 11.0  # below, orders are too low for their differences to tell anything
_FEWEST_DIGITS = 4.0  # the roughest that is tried where digits cost too much
_ANGLES_PART = 0.3  # of the quadrature's error, where that is too large
_QUADRATURE_PART = 0.6  # of the error allowed


class _Linkage(Protocol):
    """What `BlockLinkage` and `BodyLinkage` have in common."""

    @property
    def share(self) -> float: ...

    @property
    def nearness_m(self) -> Array: ...

    @property
    def most_points(self) -> int: ...

    def cost(self, digits: float) -> int: ...

    def plan(self, digits: float) -> tuple[list[Any], list[Any], NDArray[np.intp]]: ...

    def linkage_m2(self, levels: list[Any], level: NDArray[np.intp], angles: Array) -> Array: ...


def track_curve(track: Track, coil: CoilInRotor, error_m2: float, relative: float) -> TrackCurve:
    """Return the linkage curve of one magnet of 1 T on its track with one turn of the coil.

    Windings that stand square to the shaft go by `ring_curves`, those at any other angle by
    `angle_curve`, and so do those with round corners that `ring_curves` could not do in one piece.

    Parameters
    ----------
    track, coil
        What to link, both in the rotor's coordinates.
    error_m2
        Largest error asked for; the looser of this and ``relative`` applies.
    relative
        Largest error asked for, relative to the peak-to-peak of the curve.
    """
    if _by_rings(track, coil):
        return ring_curves([(track, coil, relative)], error_m2)[0]
    return angle_curve(track, coil, error_m2, relative)


def quick_curves(
    asked: Sequence[tuple[Track, CoilInRotor, float]], most_points: int
) -> list[TrackCurve | None]:
    """Return those of many such curves that are quick to make, best of all together.

    Parameters
    ----------
    asked
        Track and coil, and the largest error asked for, relative to the peak-to-peak of the curve.
    most_points
        How often a potential may most likely be evaluated for a curve.

    Returns
    -------
    None in place of those that take longer, or do not go by `ring_curves`.
    """
    square = [_by_rings(track, coil) for track, coil, _ in asked]
    by_rings = iter(quick_ring_curves(list(compress(asked, square)), most_points))
    return [next(by_rings) if so else None for so in square]


def _by_rings(track: Track, coil: CoilInRotor) -> bool:
    """Return whether a winding stands square, and is not too large for its round corners."""
    whole = coil.corners is Corners.ROUND
    return stands_square(coil) and not (whole and far_too_large(track, ring_patches(track, coil)))


def angle_curve(track: Track, coil: CoilInRotor, error_m2: float, relative: float) -> TrackCurve:
    """Return the linkage curve from linkages at single angles, for any shape and winding.

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
    At every other of the first angles, and at the closest approach, the result is compared with one
    of lower orders in every direction; a share of the largest difference, which each kind of
    magnet states, stands for the quadrature part of the error. Angles are added, in multiples
    of the first 32, until the error from their number, the other part, is small enough.
    """
    mirror = mirror_of(track, coil)
    coarse = _grid(mirror, _FIRST)
    kind = BlockLinkage if isinstance(track.shape, Cuboid) else BodyLinkage
    linkage: _Linkage = kind(track, coil, coarse)
    test, least = _test_angles(linkage.nearness_m), least_swing_m2(track)
    values = np.empty(len(coarse))
    digits, points = max(-math.log(relative) + _START_DIGITS, _LEAST_DIGITS), 0
    most = linkage.most_points
    while digits > _FEWEST_DIGITS and linkage.cost(digits) > most // 8:
        digits -= 1.0
    while True:
        levels, rougher, level = linkage.plan(digits)
        values[test] = linkage.linkage_m2(levels, level[test], coarse[test])
        rough = linkage.linkage_m2(rougher, level[test], coarse[test])
        points += _cost(levels, level[test]) + _cost(rougher, level[test])
        quadrature = linkage.share * float(np.abs(values[test] - rough).max())
        swing = max(float(np.ptp(values[test])), least)
        allowed = _QUADRATURE_PART * max(error_m2, relative * swing)
        settled = quadrature <= allowed
        noise = ROUNDING * float(np.abs(values[test]).max())
        if settled or quadrature <= 10 * noise or digits > 50.0:
            break
        more = min(math.log(quadrature / max(allowed, noise)) + 0.3, 8.0)
        if points + linkage.cost(digits + more) > most // 4:
            break
        digits += more
    rest = np.setdiff1d(np.arange(len(coarse)), test)
    values[rest] = linkage.linkage_m2(levels, level[rest], coarse[rest])
    points += _cost(levels, level[rest])

    count, known = _FIRST, coarse
    rounding = rounding_m2(track, coil)
    while True:
        curve = _full_turn(values, mirror, count)
        harmonics = _harmonics(curve, coarse[0])
        swing = float(np.ptp(curve))
        halved, quartered = (_harmonics(curve[::n], coarse[0]) for n in (2, 4))
        found = aliasing(harmonics, halved, quartered, rounding)
        error, decay = (float(each) for each in found)
        allowed = max(error_m2, relative * max(swing, least))
        # Where the quadrature leaves more than is allowed, angles need not be better by far.
        left = max(allowed - quadrature, _ANGLES_PART * quadrature)
        good = error + rounding <= left or error <= 3 * rounding
        if good or count >= _MOST or points > most:
            break
        wanted = 2.0 * orders_wanted(count // 2, error, decay, left)
        factor = min(max(2, math.ceil(wanted / count)), 8, max(2, most // max(points, 1)))
        fresh = _between(mirror, count, factor)
        position = (fresh - coarse[0]) / (2 * math.pi / _FIRST)
        below = np.floor(position).astype(np.intp) % len(level)
        above = np.ceil(position).astype(np.intp) % len(level)
        dearer = np.minimum(level[below], level[above])
        added = linkage.linkage_m2(levels, dearer, fresh)
        points += _cost(levels, dearer)
        known, values = _merged(known, values, fresh, added)
        count *= factor
    met = settled and good and (quadrature + error + rounding <= allowed or error <= 3 * rounding)
    return TrackCurve(harmonics, quadrature + error + rounding, swing, count, points, bool(met))


def _harmonics(curve: Array, start: float) -> NDArray[np.complex128]:
    """Return c_k from samples over a turn that begin at an angle, without the Nyquist order."""
    orders = (len(curve) + 1) // 2
    spectrum = np.fft.rfft(curve)[:orders] / len(curve)
    return np.asarray(spectrum * np.exp(-1j * start * np.arange(orders)))


def _grid(mirror: Mirror | None, count: int) -> Array:
    if mirror is None:
        return np.asarray(2 * math.pi / count * np.arange(count))
    return np.asarray(mirror.angle + 2 * math.pi / count * np.arange(count // 2 + 1))


def _between(mirror: Mirror | None, count: int, factor: int) -> Array:
    """Return the angles of the grid of ``factor * count`` that the grid of ``count`` has not."""
    fine = _grid(mirror, factor * count)
    return np.asarray(fine[np.arange(len(fine)) % factor != 0])


def _merged(known: Array, values: Array, grid: Array, fresh: Array) -> tuple[Array, Array]:
    angles = np.concatenate([known, grid])
    order = np.argsort(angles, kind="stable")
    return angles[order], np.concatenate([values, fresh])[order]


def _full_turn(values: Array, mirror: Mirror | None, count: int) -> Array:
    if mirror is None:
        return values
    return np.concatenate([values, mirror.sign * values[count // 2 - 1 : 0 : -1]])


def _test_angles(distance: Array) -> NDArray[np.intp]:
    """Return indices of every other angle and of the two nearest."""
    nearest = np.argsort(distance, kind="stable")[:2]
    return np.unique(np.concatenate([np.arange(0, len(distance), 2), nearest]))


def _cost(levels: list[Any], level: NDArray[np.intp]) -> int:
    """Return how many evaluations angles of these levels take."""
    sizes = np.array([one.size for one in levels])
    return int(sizes[level].sum())
