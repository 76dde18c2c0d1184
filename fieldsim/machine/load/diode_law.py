"""The law of a diode junction with series resistance: current from voltage, and back."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "JunctionLaw",
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
