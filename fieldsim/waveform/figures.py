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


def _turns(values: Array, slopes: Array, step: float) -> Array:
    """Return where turning points are: values and slopes times the step at both ends, (4, turns).

    The end joins the start.
    """
    # A slope of exactly zero counts as falling, so that a turning point on a sample counts once.
    rising = slopes > 0
    turn = np.nonzero(rising[:-1] != rising[1:])[0]
    if rising[-1] != rising[0]:
        turn = np.append(turn, len(values) - 1)
    after = (turn + 1) % len(values)
    return np.stack([values[turn], values[after], slopes[turn] * step, slopes[after] * step])


def _extremes(turns: Array) -> Array:
    """Return values at turning points between samples, from the cubic through both ends."""
    v0, v1, d0, d1 = turns
    fall, t = v0 - v1, d0 / (d0 - d1)
    for _ in range(3):  # Newton on the cubic's slope
        slope = 6 * t * (t - 1) * fall + (1 - t) * (1 - 3 * t) * d0 + t * (3 * t - 2) * d1
        bend = (12 * t - 6) * fall + (6 * t - 4) * d0 + (6 * t - 2) * d1
        t = np.clip(t - np.divide(slope, bend, out=np.zeros_like(t), where=bend != 0), 0, 1)
    return np.asarray(
        (1 + 2 * t) * (1 - t) ** 2 * v0
        + t**2 * (3 - 2 * t) * v1
        + t * (1 - t) ** 2 * d0
        + t**2 * (t - 1) * d1
    )


def _extremes_of(turns: dict[tuple[str, str], Array]) -> dict[tuple[str, str], Array]:
    """Return the extremes of each, all found at once: calls take longer than what they do."""
    if not turns:
        return {}
    ends = np.cumsum([each.shape[1] for each in turns.values()])
    found = np.split(_extremes(np.concatenate(list(turns.values()), axis=1)), ends[:-1])
    return dict(zip(turns, found, strict=True))


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
    turns: dict[tuple[str, str], Array] = {}
    for name, emf, linkage in zip(waveform.coils, waveform.emf_V, waveform.linkage_Wb, strict=True):
        turns["linkage", name] = _turns(linkage, -emf, step)
        if waveform.period.exact:
            turns["EMF", name] = _turns(emf, _slopes(emf, step), step)
    extremes = _extremes_of(turns)
    result = {}
    for i, name in enumerate(waveform.coils):
        emf, linkage = waveform.emf_V[i], waveform.linkage_Wb[i]
        turning = extremes["linkage", name]
        if len(turning) == 0:
            turning = linkage
        peak = float(np.abs(emf).max())
        if waveform.period.exact:
            peak = max(peak, float(np.abs(extremes["EMF", name]).max(initial=0.0)))
            travelled = float(np.abs(np.diff(turning, append=turning[:1])).sum())
        else:
            travelled = float(np.abs(emf).sum() * step)
        result[name] = EmfFigures(
            peak_V=peak,
            rms_V=float(rms(emf)),
            rectified_mean_V=travelled / waveform.period_s,
            frequency_Hz=float(waveform.frequency_Hz[i]),
            peak_to_peak_linkage_Wb=float(
                max(linkage.max(), turning.max()) - min(linkage.min(), turning.min())
            ),
        )
    return result
