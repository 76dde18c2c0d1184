"""Diode junctions as the solver takes them: in a combination of voltage and current.

In ``u = v + R j`` both the voltage and the current are smooth, with slopes between zero and one,
however steep the exponential: what Newton's method needs.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from fieldsim.machine.load.diode_law import JunctionLaw

__all__ = ["WaveLaws", "WavePoint"]

Array = NDArray[np.float64]


class WavePoint(NamedTuple):
    """Voltage, current and their slopes at a value of the wave variable ``u``."""

    voltage_V: Array
    current_A: Array
    voltage_slope: Array
    current_slope_S: Array


@dataclass(frozen=True, eq=False)
class WaveLaws:
    """Laws of several junctions in the wave variable ``u = (junction voltage) + R j``.

    Parameters
    ----------
    wave_ohm
        The resistance ``R`` [ohm], any value above zero; one of the circuit's own size is best.
    saturation_A, slope_V, series_ohm, leakage_S
        The laws, each (junctions,).

    Notes
    -----
    ``j = (s/R) omega(ln(Is R/s) + (u + R Is)/s) - Is`` with ``s = n Vt`` and the Wright omega
    function ``omega + ln omega = x``: the Lambert-W solution in logarithms, free of overflow.
    """

    wave_ohm: float
    saturation_A: Array = field(repr=False)
    slope_V: Array = field(repr=False)
    series_ohm: Array = field(repr=False)
    leakage_S: Array = field(repr=False)
    _start: Array = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        offset = self.wave_ohm * self.saturation_A / self.slope_V
        object.__setattr__(self, "_start", offset + np.log(offset))

    @classmethod
    def from_laws(cls, laws: Sequence[JunctionLaw], wave_ohm: float) -> WaveLaws:
        """Return the laws as arrays."""
        return cls(
            wave_ohm,
            np.array([law.saturation_A for law in laws], dtype=float),
            np.array([law.slope_V for law in laws], dtype=float),
            np.array([law.series_ohm for law in laws], dtype=float),
            np.array([law.leakage_S for law in laws], dtype=float),
        )

    def softened(self, factor: float) -> WaveLaws:
        """Return laws with a knee ``factor`` times as wide, at the same place."""
        slope = self.slope_V * factor
        # the knee stands where ln(Is R/s) + u/s = 0
        knee = -self.slope_V * np.log(self.saturation_A * self.wave_ohm / self.slope_V)
        saturation = slope / self.wave_ohm * np.exp(-knee / slope)
        return WaveLaws(self.wave_ohm, saturation, slope, self.series_ohm, self.leakage_S)

    def at(self, u: Array) -> WavePoint:
        """Return voltages, currents and their slopes at wave variables (..., junctions).

        Examples
        --------
        >>> from fieldsim.machine.load.diode_law import JunctionLaw, diode_current_A
        >>> law = JunctionLaw(1e-12, 0.026, series_ohm=0.5, leakage_S=0.0)
        >>> point = WaveLaws.from_laws([law], wave_ohm=100.0).at(np.array([2.0]))
        >>> current = diode_current_A(point.voltage_V, law)
        >>> bool(abs(current[0] / point.current_A[0] - 1) < 1e-12)
        True
        """
        from scipy.special import wrightomega

        omega = wrightomega(u / self.slope_V + self._start)
        share = omega / (1.0 + omega)
        j = omega * (self.slope_V / self.wave_ohm) - self.saturation_A
        j_slope = share / self.wave_ohm
        voltage = u + (self.series_ohm - self.wave_ohm) * j
        voltage_slope = (1.0 - share) + self.series_ohm * j_slope
        return WavePoint(
            voltage,
            j + self.leakage_S * voltage,
            voltage_slope,
            j_slope + self.leakage_S * voltage_slope,
        )
