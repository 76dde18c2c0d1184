"""A linkage curve as a Fourier series, and the error from taking too few angles."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.linkage.series import sample_series
from fieldsim.field.linkage.track import CoilInRotor, Track

__all__ = [
    "MARGIN",
    "ROUNDING",
    "TrackCurve",
    "added_series",
    "aliasing",
    "least_swing_m2",
    "orders_wanted",
    "own_flux_m2",
    "rounding_m2",
    "widest",
]

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]

ROUNDING = 4e-16
MARGIN = 2.5  # refitted by ``benchmarks/fits/error_shares.py``
_NOTHING = 1e-7  # of a magnet's own flux: a swing this small is one that symmetry takes away


def _no_doubt() -> Complex:
    return np.zeros(1, dtype=np.complex128)


def added_series(first: Complex, second: Complex) -> Complex:
    """Return the sum of two series, of whatever lengths.

    Examples
    --------
    >>> added_series(np.array([1, 2 + 0j]), np.array([1j])).tolist()
    [(1+1j), (2+0j)]
    """
    total = np.zeros(max(len(first), len(second)), dtype=np.complex128)
    total[: len(first)] += first
    total[: len(second)] += second
    return total


@dataclass(frozen=True, eq=False)
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
    doubt_m2
        c_k of an error that is known as a curve: that of several magnets is the widest of its sum,
        not the sum of their widest; it comes on top of ``error_m2``.
    """

    harmonics_m2: NDArray[np.complex128] = field(repr=False)
    error_m2: float
    swing_m2: float
    angles: int
    points: int
    converged: bool
    doubt_m2: NDArray[np.complex128] = field(default_factory=_no_doubt, repr=False)

    def plus(self, other: TrackCurve) -> TrackCurve:
        """Return the sum of two curves of one track."""
        size = max(len(self.harmonics_m2), len(other.harmonics_m2))
        total = added_series(self.harmonics_m2, other.harmonics_m2)
        return TrackCurve(
            total,
            self.error_m2 + other.error_m2,
            float(np.ptp(sample_series(total, 4 * size))),
            max(self.angles, other.angles),
            self.points + other.points,
            self.converged and other.converged,
            added_series(self.doubt_m2, other.doubt_m2),
        )


def rounding_m2(track: Track, coil: CoilInRotor) -> float:
    """Return the rounding error of a linkage, from the size of the terms whose sum it is."""
    turn = 4 * (sum(coil.half_opening) + 2 * coil.build)
    return ROUNDING * turn * sum(track.shape.size)


def own_flux_m2(track: Track) -> float:
    """Return a magnet's own flux per tesla, roughly the area of a face: what swings compare to."""
    return float(track.shape.volume_m3 ** (2 / 3))


def least_swing_m2(track: Track) -> float:
    """Return the swing below which there is nothing worth resolving."""
    return _NOTHING * own_flux_m2(track)


def widest(harmonics: Complex) -> Array:
    """Return the largest absolute value of each series over a turn, (..., orders)."""
    values = sample_series(harmonics, max(64, 8 * harmonics.shape[-1]))
    return np.asarray(np.abs(values).max(axis=-1))


def _difference(series: Complex, coarser: Complex) -> Array:
    rest = series.copy()
    rest[..., : coarser.shape[-1]] -= coarser
    return widest(rest)


def aliasing(
    series: Complex, halved: Complex, quartered: Complex, floor: Array | float
) -> tuple[Array, Array]:
    """Return the error of each series from too few angles, and its decay per order.

    Parameters
    ----------
    series, halved, quartered
        c_k from all the angles, from every second and from every fourth of them, (..., orders).
    floor
        What rounding leaves, of each or of all.

    Notes
    -----
    What the coarser series were wrong by is known by now. The error falls exponentially with the
    number of angles, so that each halving of the step wins at least about what the one before it
    won; a margin covers what was seen on many windings beyond that.
    """
    second = np.maximum(_difference(series, halved), floor)
    first = np.maximum(_difference(series, quartered), floor)
    ratio = np.minimum(second / first, 1.0)
    decay = -np.log(ratio) / ((halved.shape[-1] - quartered.shape[-1]) or 1)
    return np.asarray(MARGIN * second * ratio), np.maximum(decay, 1e-3)


def orders_wanted(
    order: int, error: Array | float, decay: Array | float, allowed: Array | float
) -> Array:
    """Return the highest order at which `aliasing` would come out as small as allowed, of each."""
    # That estimate is C exp(-decay (K / 2 + K / 4)) for highest order K.
    excess = np.maximum(error / np.maximum(allowed, 1e-300), 1.0)
    return np.asarray(order + np.log(excess) / (0.75 * decay))
