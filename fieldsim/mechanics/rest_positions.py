"""Where a magnetic torque lets a shaft rest, and what it takes to turn it past (cogging)."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["RestPositions", "interaction_energy_J", "rest_positions"]

Array = NDArray[np.float64]

_FINER = 8  # points of the spline per sample; the series between samples is exact


@dataclass(frozen=True, eq=False)
class RestPositions:
    """Rest angles of a periodic torque.

    Parameters
    ----------
    stable_rad
        Angles to which the torque returns the shaft [rad], sorted.
    unstable_rad
        Angles from which it falls away to either side [rad], sorted.
    forward_Nm, back_Nm
        The most torque needed to turn it past, forward and back [N m].
    barrier_J
        From the deepest rest to the highest point between [J]; 0 if it rests nowhere.
    energy_J
        Interaction energy at the samples, with average zero [J].
    """

    stable_rad: Array = field(repr=False)
    unstable_rad: Array = field(repr=False)
    forward_Nm: float
    back_Nm: float
    barrier_J: float
    energy_J: Array = field(repr=False)

    @property
    def torque_to_pass_Nm(self) -> float:
        """The larger of the torques to turn it past, either way [N m]."""
        return max(self.forward_Nm, self.back_Nm)


def _coefficients(torque_Nm: ArrayLike) -> tuple[int, NDArray[np.complex128]]:
    samples = np.asarray(torque_Nm, dtype=float)
    if samples.ndim != 1 or samples.size < 4:
        raise ValueError("a periodic torque needs at least 4 samples in one dimension")
    return samples.size, np.fft.rfft(samples)


def interaction_energy_J(torque_Nm: ArrayLike, period_rad: float = 2 * math.pi) -> Array:
    """Return the energy of which a periodic torque is minus the derivative.

    Parameters
    ----------
    torque_Nm
        At equally spaced angles over one period, shape (angles,).
    period_rad
        The period [rad].

    Returns
    -------
    ndarray
        At the same angles [J], with average zero. A torque between permanent magnets averages to
        zero over the period; an average that is not is left out.

    Examples
    --------
    >>> angle = 2 * np.pi * np.arange(16) / 16
    >>> energy = interaction_energy_J(np.sin(2 * angle))
    >>> bool(np.allclose(energy, np.cos(2 * angle) / 2))
    True
    """
    count, spectrum = _coefficients(torque_Nm)
    order = np.arange(spectrum.size)
    integral = np.zeros_like(spectrum)
    integral[1:] = -spectrum[1:] / (2j * math.pi / period_rad * order[1:])
    # For an even count the highest harmonic is a cosine; its integral, a sine, is zero at every
    # sample, and the inverse transform leaves it out by itself.
    return np.asarray(np.fft.irfft(integral, count))


def rest_positions(
    torque_Nm: ArrayLike,
    period_rad: float = 2 * math.pi,
    start_rad: float = 0.0,
    negligible_Nm: float = 0.0,
) -> RestPositions:
    """Return where a shaft under a periodic torque rests, and the torque to pass.

    Parameters
    ----------
    torque_Nm
        Torque on the shaft, positive forward, at equally spaced angles over one period, shape
        (angles,).
    period_rad
        The period [rad].
    start_rad
        Angle of the first sample [rad].
    negligible_Nm
        A torque that never exceeds this counts as none: it then rests anywhere, and both lists are
        empty. Give the torque's own error.

    Notes
    -----
    The samples are joined by their Fourier series, exact if there are more than two a wave, and
    its zeros are those of a periodic cubic spline through eight times as many points.

    Examples
    --------
    >>> angle = 2 * np.pi * np.arange(32) / 32
    >>> rest = rest_positions(-0.3 * np.sin(2 * angle))
    >>> np.degrees(rest.stable_rad).round(6).tolist()
    [0.0, 180.0]
    >>> np.degrees(rest.unstable_rad).round(6).tolist(), round(rest.torque_to_pass_Nm, 6)
    ([90.0, 270.0], 0.3)
    """
    from scipy.interpolate import CubicSpline

    count, spectrum = _coefficients(torque_Nm)
    energy = interaction_energy_J(torque_Nm, period_rad)
    fine = count * _FINER
    padded = np.zeros(fine // 2 + 1, dtype=complex)
    padded[: spectrum.size] = spectrum * _FINER
    if count % 2 == 0:
        padded[spectrum.size - 1] /= 2  # the highest harmonic is shared with its mirror image
    # Half a step off the samples, so that a zero at the first angle lies inside the period once.
    padded *= np.exp(-1j * math.pi * np.arange(padded.size) / fine)
    values = np.fft.irfft(padded, fine)
    if np.abs(values).max() <= negligible_Nm:
        none = np.empty(0)
        return RestPositions(none, none, 0.0, 0.0, 0.0, energy)
    angle = (np.arange(fine + 1) - 0.5) * (period_rad / fine)
    spline = CubicSpline(angle, np.append(values, values[0]), bc_type="periodic")
    zeros = _roots(spline)
    slope = spline(zeros, 1)
    summits = np.append(spline(_roots(spline.derivative())), values)
    heights = -spline.antiderivative()(zeros)
    around = np.where(np.abs(zeros) < 1e-9 * period_rad, 0.0, zeros) % period_rad + start_rad
    return RestPositions(
        np.sort(around[slope < 0]),
        np.sort(around[slope > 0]),
        max(float(-summits.min()), 0.0),
        max(float(summits.max()), 0.0),
        float(np.ptp(heights)) if heights.size else 0.0,
        energy,
    )


def _roots(spline: Any) -> Array:
    zeros = np.asarray(spline.roots(extrapolate=False), dtype=float)
    return np.asarray(zeros[np.isfinite(zeros)])  # not a number: a stretch of zeros
