"""Measured: current against voltage of a red and of a white LED.

Source: a hobbyist's published curves ("LED IV curves"), read to 0.1 mA. No type is given, so two
numbers are fitted to each, by least squares of the voltage: to the white one its saturation current
and series resistance, with the ideality of 2 that every lamp here has; to the red one, whose series
resistance drowns in the noise (its voltage does not even rise steadily), saturation and ideality.
The generic lamps of the same colours, to which nothing was fitted, are compared as they are.
"""

from __future__ import annotations

import numpy as np
import pytest

from fieldsim.machine.load.diode_law import JunctionLaw, diode_voltage_V, thermal_voltage_V
from fieldsim.machine.load.led_colours import generic_led

RED_V = (1.3094, 1.5546, 1.6256, 1.639, 1.661, 1.676, 1.661, 1.68, 1.678, 1.69, 1.664, 1.692, 1.704,
         1.688, 1.689, 1.709)  # fmt: skip
RED_mA = (0, 0.2, 0.6, 1.1, 1.5, 2, 2.2, 2.7, 3.1, 3.6, 4.1, 4.6, 5.5, 6.1, 6.7, 7.3)
WHITE_V = (2.359, 2.462, 2.53, 2.55, 2.635, 2.656, 2.676, 2.721, 2.731, 2.788, 2.805, 2.826, 2.867,
           2.926, 2.94, 3.01)  # fmt: skip
WHITE_mA = (0, 0, 0.2, 0.4, 0.5, 1, 1.5, 2.2, 2.9, 3.6, 4.8, 6.1, 7.3, 9, 11, 14.1)
READ_mA = 0.2  # below it, a reading to 0.1 mA says little


def curve(volt, milliampere):
    """Return voltages [V] and currents [A], where there is current to speak of."""
    v, i = np.array(volt), np.array(milliampere)
    return v[i >= READ_mA], i[i >= READ_mA] * 1e-3


CURVES = {"red": curve(RED_V, RED_mA), "white": curve(WHITE_V, WHITE_mA)}


def fitted_law(colour: str) -> JunctionLaw:
    """Return the law, which is linear in what is fitted: v = s ln(i) - s ln(Is) + R i."""
    volt, ampere = CURVES[colour]
    slope = 2.0 * thermal_voltage_V()
    ones = np.ones_like(ampere)
    if colour == "white":
        known, columns = slope * np.log(ampere), [ones, ampere]
    else:
        known, columns = 0.0 * ampere, [ones, np.log(ampere)]
    (first, second), *_ = np.linalg.lstsq(np.stack(columns, axis=1), volt - known)
    if colour == "white":
        return JunctionLaw(float(np.exp(-first / slope)), slope, float(second))
    return JunctionLaw(float(np.exp(-first / second)), float(second))


def misses_V(colour: str, law: JunctionLaw) -> np.ndarray:
    """Voltage of a law beyond the measured one."""
    volt, ampere = CURVES[colour]
    return np.asarray(diode_voltage_V(ampere, law) - volt)


@pytest.mark.parametrize(("colour", "rms_mV", "most_mV"), [("red", 11.6, 22), ("white", 18.5, 41)])
def test_the_law_fits_to_the_noise_of_the_readings(colour, rms_mV, most_mV):
    miss_mV = misses_V(colour, fitted_law(colour)) * 1e3
    assert np.sqrt((miss_mV**2).mean()) == pytest.approx(rms_mV, abs=0.1)
    assert np.abs(miss_mV).max() < most_mV + 1


def test_what_was_fitted_is_what_lamps_have():
    white, red = fitted_law("white"), fitted_law("red")
    assert 10 < white.series_ohm < 30
    assert 1 < red.slope_V / thermal_voltage_V() < 2


def test_a_junction_without_series_resistance_would_not_do_for_the_white_one():
    volt, ampere = CURVES["white"]
    slope = 2.0 * thermal_voltage_V()
    rest = volt - slope * np.log(ampere)
    alone = np.sqrt(((rest - rest.mean()) ** 2).mean())
    fitted = np.sqrt((misses_V("white", fitted_law("white")) ** 2).mean())
    assert alone > 3 * fitted


@pytest.mark.parametrize("colour", CURVES)
def test_the_generic_lamp_is_within_some_tenths_of_a_volt(colour):
    """Both measured lamps need less than the generic one, by up to 0.16 V."""
    miss = misses_V(colour, generic_led(colour).law)
    assert miss.min() > 0.03
    assert miss.max() < 0.16
