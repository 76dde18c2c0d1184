"""Rectified sines against closed forms: identities of the sine, constant drop, constant voltage.

Sources: integrals of a clipped sine (exact); the numbers are tabulated in the literature on
rectifiers and were computed independently to 12 digits.
"""

import math

import numpy as np
import pytest

from fieldsim.circuit.emf_source import PeriodicEmf
from fieldsim.circuit.meters import average_responding_reading, dc_reading, true_rms_reading
from fieldsim.circuit.network import one_coil_circuit
from fieldsim.circuit.solver import periodic_steady_state
from fieldsim.machine.load.circuit_parts import (
    Bridge,
    Capacitor,
    Diode,
    Parallel,
    Resistor,
    single_rectifier,
)
from fieldsim.machine.load.diode_law import JunctionLaw

T = np.arange(128) / 128

# Nearly ideal: 10 uV times the logarithm of the current over 1 nA, 0.2 mV at most.
IDEAL = Diode(JunctionLaw(1e-9, 1e-5, leakage_S=0.0))


def sine(peak_V, hertz=50.0):
    return PeriodicEmf(1 / hertz, peak_V * np.sin(2 * np.pi * T))


def constant_drop(forward_V, at_A):
    """A knee of 1 mV: within 7 mV of the drop from a thousandth of the current upward."""
    slope = forward_V / 600.0
    return Diode(JunctionLaw(at_A * math.exp(-600.0), slope, leakage_S=0.0))


def rectified(load):
    # a coil of a thousandth of the load: its drop is 1e-3, divided out below
    return periodic_steady_state(one_coil_circuit(1.0, load), sine(10.0))


def test_full_wave_mean_rms_form_factor_and_ripple():
    result = rectified(Bridge(Resistor(999.0), IDEAL))
    v = result.outlets["coil"].dc_voltage_V / 9.99
    mean, rms = dc_reading(v, result.weight_s), true_rms_reading(v, result.weight_s, keeps_dc=True)
    # two drops of 0.16 mV in 10 V are 3e-5; the solver adds its 5e-5
    assert mean == pytest.approx(2 / math.pi, rel=1e-4)
    assert rms == pytest.approx(1 / math.sqrt(2), rel=1e-4)
    assert rms / mean == pytest.approx(1.11072073454, rel=1e-4)
    ripple = true_rms_reading(v, result.weight_s) / mean
    assert ripple == pytest.approx(0.483425847609, rel=3e-4)  # a difference of squares: x 4
    assert average_responding_reading(
        result.outlets["coil"].voltage_V, result.weight_s
    ) == pytest.approx(9.99 / math.sqrt(2), rel=1e-4)


def test_half_wave_mean_and_rms():
    result = rectified(single_rectifier(Resistor(999.0), IDEAL))
    v = result.part("resistor").voltage_V / 9.99
    mean, rms = dc_reading(v, result.weight_s), true_rms_reading(v, result.weight_s, keeps_dc=True)
    assert mean == pytest.approx(1 / math.pi, rel=1e-4)
    assert rms == pytest.approx(0.5, rel=1e-4)
    assert rms / mean == pytest.approx(math.pi / 2, rel=2e-4)


@pytest.mark.parametrize(
    ("peak_V", "forward_V", "mean_V"),
    [(5.0, 0.7, 1.90871142504), (10.0, 0.7, 5.02868896745), (3.0, 0.3, 1.34818538318)],
)
def test_bridge_with_constant_drops(peak_V, forward_V, mean_V):
    # the load is 1e5 times the coil, and the drop is meant at the peak current
    diode = constant_drop(forward_V, peak_V / 1e5)
    circuit = one_coil_circuit(1.0, Bridge(Resistor(1e5), diode))
    result = periodic_steady_state(circuit, sine(peak_V))
    got = dc_reading(result.outlets["coil"].dc_voltage_V, result.weight_s)
    # knee of Vf/600 = 1.2 mV, a mean logarithm of about 0.5, twice: 1.2 mV in 1.3 to 5 V
    assert got == pytest.approx(mean_V, abs=2.5e-3)


@pytest.mark.parametrize(
    ("volt", "current_mA", "power_mW"),
    [(2.0, 14.4131781752, 28.8263563504), (3.0, 7.75475677665, 23.2642703300)],
)
def test_bridge_into_a_constant_voltage(volt, current_mA, power_mW):
    # A capacitor too large to ripple, drained by just the resistor that keeps it at that voltage.
    drain = volt / (1e-3 * current_mA)
    load = Bridge(Parallel((Capacitor(1.0), Resistor(drain))), IDEAL)
    result = periodic_steady_state(one_coil_circuit(100.0, load), sine(5.0))
    # drops of 0.16 mV in the 2 to 3 V between source and load: 2e-4
    assert 1e3 * result.part("resistor").average_current_A == pytest.approx(current_mA, rel=3e-4)
    assert 1e3 * result.part("resistor").power_W == pytest.approx(power_mW, rel=6e-4)
