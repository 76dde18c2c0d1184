import math

import numpy as np
import pytest

from fieldsim.circuit.emf_source import PeriodicEmf
from fieldsim.circuit.meters import (
    average_responding_reading,
    dc_reading,
    meter_readings,
    peak_hold_readings,
    true_rms_reading,
    with_meter,
    with_meter_behind_bridge,
)
from fieldsim.circuit.network import one_coil_circuit
from fieldsim.circuit.solver import periodic_steady_state, start_up
from fieldsim.machine.load.circuit_parts import Bridge, Capacitor, Open, Parallel, Resistor, Series
from fieldsim.machine.load.led_colours import generic_led

N = 4096
T = np.arange(N) / N
ONES = np.ones(N)
SINE = np.sin(2 * np.pi * T)
TRIANGLE = 4 * np.abs(T - 0.5) - 1
SQUARE = np.sign(SINE + 1e-12)


@pytest.mark.parametrize(
    ("wave", "error"),
    # form factors of the square, 1, and of the triangle, 2/sqrt 3, against pi/(2 sqrt 2)
    [(SINE, 0.0), (SQUARE, 0.1107207), (TRIANGLE, -0.0380883)],
    ids=["sine", "square", "triangle"],
)
def test_average_responding_meter_is_right_for_a_sine_only(wave, error):
    ratio = average_responding_reading(wave, ONES) / true_rms_reading(wave, ONES)
    # a sum over 4096 samples has the wave's corners right to 1/4096 of a sample's height
    assert ratio - 1 == pytest.approx(error, abs=2e-6)


def test_what_each_meter_does_with_an_offset():
    wave = 3.0 + 2.0 * SINE
    assert dc_reading(wave, ONES) == pytest.approx(3.0)
    assert true_rms_reading(wave, ONES) == pytest.approx(math.sqrt(2))
    assert true_rms_reading(wave, ONES, keeps_dc=True) == pytest.approx(math.sqrt(11))
    assert average_responding_reading(wave, ONES) == pytest.approx(math.sqrt(2), rel=1e-6)


def test_weights_count():
    assert dc_reading([1.0, 4.0], [2.0, 1.0]) == pytest.approx(2.0)


def test_peak_hold_shows_the_largest_since_the_last_number():
    t = np.linspace(0, 1, 20001)
    shown = peak_hold_readings(t, t * np.sin(200 * np.pi * t), 0.25)
    assert len(shown) == 4
    # the envelope is t itself; the last crest in each interval is at most 5 ms before its end
    assert shown == pytest.approx([0.25, 0.5, 0.75, 1.0], abs=0.0051)


def test_peak_hold_of_less_than_one_display():
    assert peak_hold_readings([0.0, 0.1], [1.0, -2.0], 5.0).tolist() == [2.0]
    with pytest.raises(ValueError, match="update time"):
        peak_hold_readings([0.0, 0.1], [1.0, -2.0], 0.0)


EMF = PeriodicEmf(0.05, 9 * np.sin(2 * np.pi * np.arange(128) / 128))
WHITE = generic_led("white")


def test_readings_of_a_result_open_and_loaded():
    circuit = one_coil_circuit(1000.0, Open())
    loaded = periodic_steady_state(circuit.with_load("coil", Resistor(1000.0)), EMF)
    open_ = periodic_steady_state(with_meter(circuit, "coil"), EMF)
    for result, peak in ((loaded, 4.5), (open_, 9.0 * 10e6 / 10.001e6)):
        shown = meter_readings(result, result.outlets["coil"].voltage_V)
        assert shown.dc_V == pytest.approx(0.0, abs=1e-6)
        # the solver's quadrature over a hundred steps
        assert shown.true_rms_V == pytest.approx(peak / math.sqrt(2), rel=1e-4)
        assert shown.average_responding_V == pytest.approx(peak / math.sqrt(2), rel=2e-4)
        # the highest of some 200 points may miss the crest by (pi/200)^2 / 2 = 1e-4
        assert shown.peak_hold_least_V == shown.peak_hold_most_V == pytest.approx(peak, rel=1e-3)


def test_a_meter_of_low_resistance_loads_the_coil():
    circuit = with_meter(one_coil_circuit(1000.0, Open()), "coil", input_ohm=1000.0)
    result = periodic_steady_state(circuit, EMF)
    assert np.abs(result.outlets["coil"].voltage_V).max() == pytest.approx(4.5, rel=1e-3)


def test_meter_behind_the_bridge():
    circuit = one_coil_circuit(1000.0, Series((Resistor(1.0), Bridge(Open()))))
    metered = with_meter_behind_bridge(circuit, "coil")
    result = periodic_steady_state(metered, EMF)
    assert result.part("meter").on_dc
    dc = dc_reading(result.outlets["coil"].dc_voltage_V, result.weight_s)
    # a microampere through silicon drops 0.2 V a diode: 2/pi 9 V - 0.4 V, a little more off-crest
    assert dc == pytest.approx(2 / math.pi * 9 - 0.4, abs=0.15)
    with pytest.raises(ValueError, match="no bridge"):
        with_meter_behind_bridge(one_coil_circuit(1.0, Open()), "coil")


def test_meter_beside_a_storage_capacitor_shows_the_crest():
    circuit = one_coil_circuit(100.0, Bridge(Parallel((Capacitor(100e-6), WHITE))))
    light = periodic_steady_state(with_meter_behind_bridge(circuit, "coil"), EMF)
    shown = meter_readings(light, light.outlets["coil"].dc_voltage_V)
    assert shown.dc_V == pytest.approx(WHITE.voltage_V(light.lamps[0].average_current_A), rel=0.05)


def test_displays_shorter_than_the_period_differ():
    result = periodic_steady_state(one_coil_circuit(100.0, Resistor(1e5)), EMF)
    shown = meter_readings(result, result.outlets["coil"].voltage_V, update_s=0.003)
    low, high = shown.peak_hold_least_V, shown.peak_hold_most_V
    assert low < 0.7 * high
    assert high == pytest.approx(9.0, rel=5e-3)


def test_peak_hold_of_a_transient():
    circuit = one_coil_circuit(100.0, Resistor(1e5))
    result = start_up(circuit, lambda t: EMF(t) * np.minimum(t / 0.5, 1), 0.5, 1e-3)
    shown = peak_hold_readings(result.time_s, result.outlets["coil"].voltage_V, 0.1)
    assert np.all(np.diff(shown) > 0)
