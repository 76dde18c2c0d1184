"""EMF as the solver takes it: one period of samples, or a crank that starts from rest."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["CrankStart", "EmfTables", "PeriodicEmf", "emf_while_turning"]

Array = NDArray[np.float64]

_AT_ONCE_S = 1e-9  # a shorter ramp is none
_FINEST = 2048  # samples a period to which short waveforms are filled in before the spline


@dataclass(frozen=True, eq=False)
class PeriodicEmf:
    """One period of EMF for each coil.

    Parameters
    ----------
    period_s
        Length of the period [s].
    emf_V
        Shape (coils, samples): uniform times from 0, the end point left out.

    Notes
    -----
    Between the samples the Fourier series and its derivative are evaluated on a fine grid and
    joined by cubics: exact to some 1e-11 for band-limited waveforms.
    """

    period_s: float
    emf_V: Array = field(repr=False)

    def __post_init__(self) -> None:
        emf = np.atleast_2d(np.asarray(self.emf_V, dtype=float))
        if not self.period_s > 0:
            raise ValueError(f"a period of {self.period_s:g} s; it must be above zero")
        if emf.ndim != 2 or emf.shape[1] < 4:
            raise ValueError(f"the EMF needs shape (coils, samples >= 4), not {emf.shape}")
        if not np.isfinite(emf).all():
            raise ValueError("the EMF has values that are not finite")
        object.__setattr__(self, "emf_V", emf)

    def __call__(self, time_s: ArrayLike) -> Array:
        """Return the EMF at times (n,), as (coils, n) [V].

        Examples
        --------
        >>> t = np.arange(32) / 32
        >>> emf = PeriodicEmf(1.0, np.sin(2 * np.pi * t))
        >>> bool(abs(emf([0.3])[0, 0] - np.sin(0.6 * np.pi)) < 1e-10)
        True
        """
        return self._spline(np.mod(np.asarray(time_s, dtype=float), self.period_s))

    @cached_property
    def _spline(self) -> Callable[[Array], Array]:
        from scipy.interpolate import CubicHermiteSpline

        values, slopes = self.filled
        times = np.linspace(0.0, self.period_s, values.shape[1])
        spline: Callable[[Array], Array] = CubicHermiteSpline(times, values, slopes, axis=1)
        return spline

    @cached_property
    def filled(self) -> tuple[Array, Array]:
        """EMF [V] and its slope [V/s] at fine equal steps of the period, both ends included.

        Shapes (coils, steps + 1).
        """
        samples = self.samples
        fill = max(1, _FINEST // samples)
        spectrum = self._spectrum.copy()
        if samples % 2 == 0:
            spectrum[:, -1] *= 0.5 if fill > 1 else 1.0  # the Nyquist term is shared by both signs
        rate = 2j * np.pi / self.period_s * np.arange(spectrum.shape[1])
        values = np.fft.irfft(spectrum, samples * fill, axis=1) * fill
        slopes = np.fft.irfft(spectrum * rate, samples * fill, axis=1) * fill
        return _closed(values), _closed(slopes)

    @cached_property
    def _spectrum(self) -> NDArray[np.complex128]:
        return np.asarray(np.fft.rfft(self.emf_V, axis=1))

    @cached_property
    def harmonics_V(self) -> Array:
        """Size of each harmonic in the coil where it is strongest, not normalised, (orders,)."""
        return np.asarray(np.abs(self._spectrum).max(axis=0))

    @cached_property
    def peak_V(self) -> float:
        """Greatest size in any coil [V]."""
        return float(np.abs(self.emf_V).max())

    @property
    def coils(self) -> int:
        """Number of coils."""
        return len(self.emf_V)

    @property
    def samples(self) -> int:
        """Number of samples a period."""
        return int(self.emf_V.shape[1])

    @property
    def bandwidth(self) -> int:
        """Order of the highest harmonic above a hundredth of the strongest, at least 1."""
        size = self.harmonics_V[1:]
        strong = np.flatnonzero(size > 0.01 * size.max(initial=0.0))
        return int(strong[-1]) + 1 if len(strong) else 1

    def scaled(self, factor: float | ArrayLike) -> PeriodicEmf:
        """Return the EMF times a factor, or times one factor a coil: other numbers of turns."""
        factors = np.asarray(factor, dtype=float)
        return PeriodicEmf(self.period_s, self.emf_V * factors.reshape(-1, 1))

    def faster(self, ratio: float) -> PeriodicEmf:
        """Return the EMF at ``ratio`` times the speed: as many times higher and shorter.

        Not where eddy currents in iron change with the speed what flux it lets through.
        """
        return PeriodicEmf(self.period_s / ratio, self.emf_V * ratio)


def _closed(values: Array) -> Array:
    """Return one period with its first column once more at the end."""
    return np.hstack([values, values[:, :1]])


class EmfTables:
    """Several EMFs, each to be had at times of its own.

    Parameters
    ----------
    emfs
        Of equally many coils, with fine steps equally many.

    Examples
    --------
    >>> t = np.arange(32) / 32
    >>> both = [PeriodicEmf(1.0, np.sin(2 * np.pi * t)), PeriodicEmf(2.0, np.cos(2 * np.pi * t))]
    >>> EmfTables(both).at(np.array([0, 1]), np.array([[0.25], [0.5]])).round(9).tolist()
    [[[1.0], [0.0]]]
    """

    def __init__(self, emfs: Sequence[PeriodicEmf]) -> None:
        self._values, slopes = (np.stack([e.filled[i] for e in emfs], axis=1) for i in (0, 1))
        self._steps = self._values.shape[2] - 1
        self._step_s = np.array([e.period_s / self._steps for e in emfs])
        self._rises = slopes * self._step_s[:, None]

    def at(self, which: NDArray[np.intp], time_s: Array) -> Array:
        """Return some of the EMFs.

        Parameters
        ----------
        which
            Their places, (chosen,).
        time_s
            Shape (chosen, ...), from 0 to the period of each [s].

        Returns
        -------
        ndarray
            Shape (coils, chosen, ...) [V].
        """
        lead = (len(which),) + (1,) * (time_s.ndim - 1)
        place = time_s / self._step_s[which].reshape(lead)
        first = np.minimum(place.astype(np.intp), self._steps - 1)
        p = place - first
        first += which.reshape(lead) * (self._steps + 1)
        last = first + 1
        values, rises = (each.reshape(len(each), -1) for each in (self._values, self._rises))
        v0, s0, s1 = values[:, first], rises[:, first], rises[:, last]
        rise = values[:, last] - v0
        # Hermite's cubic through both ends
        return np.asarray(v0 + p * (s0 + p * ((3 * rise - 2 * s0 - s1) + p * (s0 + s1 - 2 * rise))))


@dataclass(frozen=True)
class CrankStart:
    """A hand crank from rest: the speed rises evenly, then wobbles about its final value.

    Parameters
    ----------
    speed_rad_per_s
        Final crank speed [rad/s]; negative turns backwards.
    ramp_s
        Time from rest to the final speed [s]; zero starts at full speed.
    wobble
        Relative amplitude of the wobble, 0 to below 1.
    wobble_Hz
        Its frequency [Hz]; a hand's own is once or twice a turn.
    """

    speed_rad_per_s: float
    ramp_s: float = 1.0
    wobble: float = 0.0
    wobble_Hz: float = 2.0

    def __post_init__(self) -> None:
        if not self.ramp_s >= 0:
            raise ValueError(f"a ramp of {self.ramp_s:g} s; it cannot be negative")
        if not 0 <= self.wobble < 1:
            raise ValueError(f"a wobble of {self.wobble:g}; it must be from 0 to below 1")
        if not self.wobble_Hz > 0:
            raise ValueError(f"a wobble frequency of {self.wobble_Hz:g} Hz; it must be above zero")

    def speed_at_rad_per_s(self, time_s: ArrayLike) -> Array:
        """Return the crank speed [rad/s] at times [s]."""
        t = np.asarray(time_s, dtype=float)
        ramp = np.clip(t / self.ramp_s, 0.0, 1.0) if self.ramp_s > _AT_ONCE_S else np.ones_like(t)
        w = 2 * math.pi * self.wobble_Hz
        return np.asarray(self.speed_rad_per_s * ramp * (1.0 + self.wobble * np.sin(w * t)))

    def angle_rad(self, time_s: ArrayLike) -> Array:
        """Return the crank angle turned since time zero [rad]: the speed's exact integral.

        Examples
        --------
        >>> float(CrankStart(2.0, ramp_s=1.0).angle_rad(3.0))
        5.0
        """
        t = np.asarray(time_s, dtype=float)
        w = 2 * math.pi * self.wobble_Hz
        r = self.ramp_s if self.ramp_s > _AT_ONCE_S else 0.0
        rising = np.minimum(t, r)
        steady = np.maximum(t - r, 0.0)
        angle = steady + (self.wobble / w) * (np.cos(w * r) - np.cos(w * np.maximum(t, r)))
        if r > 0:
            inside = np.sin(w * rising) / w**2 - rising * np.cos(w * rising) / w
            angle = angle + 0.5 * rising**2 / r + self.wobble / r * inside
        return np.asarray(self.speed_rad_per_s * angle)

    @property
    def fastest_rad_per_s(self) -> float:
        """Highest crank speed in size [rad/s]."""
        return abs(self.speed_rad_per_s) * (1.0 + self.wobble)


def emf_while_turning(
    linkage_slope_Wb_rad: Callable[[Array], Array],
    angle_rad: Callable[[Array], Array],
    speed_rad_per_s: Callable[[Array], Array],
) -> Callable[[Array], Array]:
    """Return the EMF as a function of time for a crank that turns unevenly.

    Parameters
    ----------
    linkage_slope_Wb_rad
        Derivative of each coil's linkage by crank angle, from angles (n,) to (coils, n).
    angle_rad, speed_rad_per_s
        Crank angle and its derivative at times (n,), for instance of a `CrankStart`.

    Notes
    -----
    ``emf = -d(linkage)/d(angle) * speed``.

    Examples
    --------
    >>> crank = CrankStart(10.0, ramp_s=0.0)
    >>> speed = crank.speed_at_rad_per_s
    >>> emf = emf_while_turning(lambda a: -np.cos(a)[None], crank.angle_rad, speed)
    >>> float(emf(np.array([0.0]))[0, 0])
    10.0
    """

    def emf(time_s: Array) -> Array:
        return np.asarray(-linkage_slope_Wb_rad(angle_rad(time_s)) * speed_rad_per_s(time_s))

    return emf
