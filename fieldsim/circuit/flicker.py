"""How a lamp's light swings: how fast it flickers, and whether an eye sees it flash."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["FLICKER_SHARE", "SEEN_S", "Flashes", "flashes", "flicker_Hz"]

Array = NDArray[np.float64]

FLICKER_SHARE = 0.1
"""Amplitude of a harmonic over the mean from which light flickers at it: common practice, no
published source."""

SEEN_S = 1.0 / 60.0
"""What passes in a shorter time an eye sees as one: 60 flashes a second most take for steady light
(common practice, no published source)."""

_FEWEST, _MOST = 512, 100_000  # samples of a period
_STEADY = 0.1  # swing over twice the mean below which an eye sees no flashes


def flicker_Hz(light: Array, time_s: Array, period_s: float) -> float:
    """Return the lowest frequency at which light swings notably, zero if it is steady.

    Parameters
    ----------
    light
        Over one period, in any unit, (points,); not negative.
    time_s
        Where it is known, rising, (points,) [s].
    period_s
        The period [s].

    Notes
    -----
    The lowest harmonic whose amplitude is at least `FLICKER_SHARE` of the mean. A weak swing at a
    low frequency is seen before a strong one at twice as many: an eye follows slow light best.

    Examples
    --------
    >>> t = np.arange(1000) / 1000
    >>> light = 1 + 0.14 * np.sin(2 * np.pi * 3 * t) + 0.5 * np.sin(2 * np.pi * 6 * t)
    >>> round(flicker_Hz(light, t, 1.0), 9), flicker_Hz(np.ones(1000), t, 1.0)
    (3.0, 0.0)
    """
    points = 1 << math.ceil(math.log2(max(_FEWEST, len(time_s))))
    uniform = np.interp(np.arange(points) * (period_s / points), time_s, light, period=period_s)
    harmonics = np.abs(np.fft.rfft(uniform))
    mean, amplitudes = harmonics[0], 2.0 * harmonics[1:]
    strong = np.flatnonzero((amplitudes >= FLICKER_SHARE * mean) & (amplitudes > 0))
    return float(1 + strong[0]) / period_s if len(strong) else 0.0


@dataclass(frozen=True)
class Flashes:
    """What an eye sees of a periodic light.

    Parameters
    ----------
    peak
        The brightest that it gets, in the unit of the light.
    rate_Hz
        How often a second it brightens; 0 where it looks steady.
    """

    peak: float
    rate_Hz: float


def flashes(light: Array, weight_s: Array, visible: float) -> Flashes:
    """Return what an eye sees of a periodic light.

    That is its average over `SEEN_S`, and over as long once more: a window that falls off to both
    sides, and leaves next to nothing of what is faster than one over `SEEN_S`.

    Parameters
    ----------
    light
        Over one period, in any unit, (points,); not negative.
    weight_s
        Quadrature weights of the points, in order of time, (points,) [s]; together the period.
    visible
        From where on it is seen, in the unit of the light: light that goes dark between flashes is
        counted whenever it passes this, other light when it passes the middle of its swing.

    Examples
    --------
    Flashes of a hundredth of a second, five a second:

    >>> second = np.arange(1000) % 200 < 10
    >>> seen = flashes(np.where(second, 8.0, 0.0), np.full(1000, 1e-3), visible=0.5)
    >>> round(seen.peak, 1), round(seen.rate_Hz, 9)
    (4.1, 5.0)
    """
    period_s = float(weight_s.sum())
    count = int(np.clip(math.ceil(8 * period_s / SEEN_S), _FEWEST, _MOST))
    seen = _averaged(light, weight_s, count)
    seen = _averaged(seen, np.full(count, period_s / count), count)
    most, least = float(seen.max()), float(seen.min())
    if most - least <= _STEADY * (most + least):
        return Flashes(most, 0.0)
    level = visible if least < visible <= most else 0.5 * (most + least)
    rises = np.count_nonzero((seen < level) & (np.roll(seen, -1) >= level))
    return Flashes(most, int(rises) / period_s)


def _averaged(light: Array, weight_s: Array, count: int) -> Array:
    """Return a periodic light averaged over `SEEN_S` from even times on, (count,)."""
    times = np.concatenate([[0.0], np.cumsum(weight_s)])
    passed = np.concatenate([[0.0], np.cumsum(weight_s * light)])
    start = np.arange(count) * (times[-1] / count)

    def until(t: Array) -> Array:
        periods, rest = np.divmod(t, times[-1])
        return np.asarray(periods * passed[-1] + np.interp(rest, times, passed))

    return (until(start + SEEN_S) - until(start)) / SEEN_S
