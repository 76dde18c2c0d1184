"""The law of a diode junction with series resistance: current from voltage, and back.

Besides the plain law there is one in the combination ``u = v + R j`` of junction voltage and
current, in which both are smooth with slopes between zero and one, however steep the exponential:
what a Newton solver needs.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "JunctionLaw",
    "WaveLaws",
    "WavePoint",
    "diode_current_A",
    "diode_voltage_V",
    "junction_through",
    "led_and_resistor_A",
    "thermal_voltage_V",
]

Array = NDArray[np.float64]

BOLTZMANN_J_K = 1.380649e-23  # exact since the 2019 revision of the SI
ELEMENTARY_CHARGE_C = 1.602176634e-19  # exact since the 2019 revision of the SI
ROOM_K = 298.15


def thermal_voltage_V(temperature_K: float = ROOM_K) -> float:
    """Return ``k T / q`` [V].

    Examples
    --------
    >>> round(thermal_voltage_V(300.0), 9)
    0.025852
    """
    return BOLTZMANN_J_K * temperature_K / ELEMENTARY_CHARGE_C


@dataclass(frozen=True)
class JunctionLaw:
    """Shockley junction behind a series resistance, with a leakage path around both.

    Parameters
    ----------
    saturation_A
        Saturation current ``Is`` [A].
    slope_V
        Ideality times thermal voltage, ``n k T / q`` [V].
    series_ohm
        Resistance in series with the junction [ohm].
    leakage_S
        Conductance across the whole part [S]; a gigaohm by default, so that a reversed diode leaks
        some nanoamperes (common practice, no published source).

    Notes
    -----
    ``i = j + g v`` with ``j = Is (exp((v - Rs j) / (n Vt)) - 1)``.
    """

    saturation_A: float
    slope_V: float
    series_ohm: float = 0.0
    leakage_S: float = 1e-9

    def __post_init__(self) -> None:
        if not (self.saturation_A > 0 and self.slope_V > 0):
            raise ValueError("a junction needs a saturation current and a slope above zero")
        if not (self.series_ohm >= 0 and self.leakage_S >= 0):
            raise ValueError("a junction's series resistance and leakage cannot be negative")

    def grouped(self, series: float, parallel: float) -> JunctionLaw:
        """Return the law of equal parts, ``series`` in a string and ``parallel`` strings; exact."""
        return replace(
            self,
            saturation_A=self.saturation_A * parallel,
            slope_V=self.slope_V * series,
            series_ohm=self.series_ohm * series / parallel,
            leakage_S=self.leakage_S * parallel / series,
        )


def junction_through(
    voltage_V: float, current_A: float, slope_V: float, series_ohm: float, leakage_S: float = 1e-9
) -> JunctionLaw:
    """Return the junction that carries ``current_A`` at ``voltage_V``.

    Raises
    ------
    ValueError
        If the series resistance alone takes the whole voltage.

    Examples
    --------
    >>> law = junction_through(3.0, 0.02, 0.05, 10.0)
    >>> round(float(diode_current_A(3.0, law)), 12)
    0.02
    """
    j = current_A - leakage_S * voltage_V
    junction_V = voltage_V - series_ohm * j
    if not (j > 0 and junction_V > 0):
        raise ValueError("the series resistance takes the whole forward voltage")
    # Is = j / (exp(x) - 1), written with exp(-x) because x reaches hundreds
    x = junction_V / slope_V
    return JunctionLaw(j * math.exp(-x) / -math.expm1(-x), slope_V, series_ohm, leakage_S)


class WavePoint(NamedTuple):
    """Voltage, current and their slopes at a value of the wave variable ``u``."""

    voltage_V: Array
    current_A: Array
    voltage_slope: Array
    current_slope_S: Array


@dataclass(frozen=True)
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
    saturation_A: Array
    slope_V: Array
    series_ohm: Array
    leakage_S: Array
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


def led_and_resistor_A(
    voltage_V: ArrayLike, resistance_ohm: float, saturation_A: float, slope_V: float
) -> Array:
    """Return the current of a junction and a resistor in series across a voltage [A].

    Notes
    -----
    ``I = (nVt/R) W0[(Is R/nVt) exp((V + Is R)/nVt)] - Is``, through the Wright omega function.

    Examples
    --------
    >>> slope = 2.0 * thermal_voltage_V(298.15)
    >>> f"{float(led_and_resistor_A(5.0, 220.0, 1e-18, slope)):.12f}"
    '0.014042971148'
    """
    from scipy.special import wrightomega

    v = np.asarray(voltage_V, dtype=float)
    if resistance_ohm == 0.0:
        return np.asarray(saturation_A * np.expm1(v / slope_V))
    offset = saturation_A * resistance_ohm
    omega = wrightomega((v + offset) / slope_V + math.log(offset / slope_V))
    return np.asarray((slope_V / resistance_ohm) * omega - saturation_A)


def diode_current_A(voltage_V: ArrayLike, law: JunctionLaw) -> Array:
    """Return the current at a voltage across the part [A], the leakage included."""
    v = np.asarray(voltage_V, dtype=float)
    return led_and_resistor_A(v, law.series_ohm, law.saturation_A, law.slope_V) + law.leakage_S * v


def diode_voltage_V(current_A: ArrayLike, law: JunctionLaw) -> Array:
    """Return the voltage at a forward current [V]; the leakage path is left out of it.

    Examples
    --------
    >>> law = junction_through(2.0, 0.02, 0.05, 10.0, leakage_S=0.0)
    >>> round(float(diode_voltage_V(0.02, law)), 12)
    2.0
    """
    i = np.asarray(current_A, dtype=float)
    return np.asarray(law.slope_V * np.log1p(i / law.saturation_A) + law.series_ohm * i)
