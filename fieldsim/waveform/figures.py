"""The figures of a waveform: peak, RMS, rectified mean, frequency, swing of the linkage."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fieldsim.waveform.emf import EmfWaveform

__all__ = ["NO_VOLTAGE_V", "EmfFigures", "emf_figures", "rms"]

NO_VOLTAGE_V = 1e-12  # what rounding leaves of a coil that sees nothing by symmetry

Array = NDArray[np.float64]


@dataclass(frozen=True)
class EmfFigures:
    """What a coil gives, open circuit.

    Parameters
    ----------
    peak_V
        Largest absolute EMF.
    rms_V
        Root of the mean square.
    rectified_mean_V
        Mean of the absolute value.
    frequency_Hz
        How often the waveform repeats.
    peak_to_peak_linkage_Wb
        Largest less smallest total flux linkage.
    """

    peak_V: float
    rms_V: float
    rectified_mean_V: float
    frequency_Hz: float
    peak_to_peak_linkage_Wb: float

    @property
    def form_factor(self) -> float:
        """RMS over rectified mean; 1.1107 for a sine."""
        return self.rms_V / self.rectified_mean_V if self.rectified_mean_V else float("nan")


def rms(values: Array) -> Array:
    """Return the root of the mean square over the last axis, of even samples of whole periods.

    Examples
    --------
    >>> float(rms(np.array([3.0, -3.0])))
    3.0
    """
    return np.asarray(np.sqrt(np.mean(values * values, axis=-1)))


def _extremes(values: Array, slopes: Array, step: float) -> Array:
    """Return values at the turning points between samples, from the cubic through both ends.

    Shape of the result: as many as the slope changes sign. The end joins the start.
    """
    after, slope_after = np.roll(values, -1), np.roll(slopes, -1)
    # A slope of exactly zero counts as falling, so that a turning point on a sample counts once.
    turn = np.nonzero((slopes > 0) != (slope_after > 0))[0]
    s0, s1 = slopes[turn], slope_after[turn]
    t = s0 / (s0 - s1)
    v0, v1, d0, d1 = values[turn], after[turn], s0 * step, s1 * step
    for _ in range(3):  # Newton on the cubic's slope
        slope = 6 * t * (t - 1) * (v0 - v1) + (1 - t) * (1 - 3 * t) * d0 + t * (3 * t - 2) * d1
        bend = (12 * t - 6) * (v0 - v1) + (6 * t - 4) * d0 + (6 * t - 2) * d1
        t = np.clip(t - np.divide(slope, bend, out=np.zeros_like(t), where=bend != 0), 0, 1)
    cubic = (
        (1 + 2 * t) * (1 - t) ** 2 * v0
        + t**2 * (3 - 2 * t) * v1
        + t * (1 - t) ** 2 * d0
        + t**2 * (t - 1) * d1
    )
    return np.asarray(cubic)


def _slopes(values: Array, step: float) -> Array:
    """Return the derivative of periodic samples, spectrally."""
    spectrum = np.fft.rfft(values)
    k = np.arange(len(spectrum))
    if len(values) % 2 == 0:
        spectrum[-1] = 0.0
    return np.asarray(np.fft.irfft(2j * np.pi * k * spectrum / (len(values) * step), len(values)))


def emf_figures(waveform: EmfWaveform) -> dict[str, EmfFigures]:
    """Return the figures of every coil by name.

    Notes
    -----
    The mean of |EMF| is the path that the linkage travels up and down, over the time: no sample
    has to fall on a zero of the EMF. Extremes are those of cubics between samples.
    """
    step = waveform.period_s / len(waveform.time_s)
    result = {}
    for i, name in enumerate(waveform.coils):
        emf, linkage = waveform.emf_V[i], waveform.linkage_Wb[i]
        turning = _extremes(linkage, -emf, step)
        if len(turning) == 0:
            turning = linkage
        peaks = [np.abs(emf).max()]
        if waveform.period.exact:
            peaks.append(np.abs(_extremes(emf, _slopes(emf, step), step)).max(initial=0.0))
            travelled = float(np.abs(np.diff(turning, append=turning[:1])).sum())
        else:
            travelled = float(np.abs(emf).sum() * step)
        result[name] = EmfFigures(
            peak_V=float(max(peaks)),
            rms_V=float(rms(emf)),
            rectified_mean_V=travelled / waveform.period_s,
            frequency_Hz=float(waveform.frequency_Hz[i]),
            peak_to_peak_linkage_Wb=float(
                max(linkage.max(), turning.max()) - min(linkage.min(), turning.min())
            ),
        )
    return result
