import numpy as np
import pytest

from fieldsim.circuit.emf_source import PeriodicEmf
from fieldsim.circuit.network import one_coil_circuit
from fieldsim.circuit.solver import periodic_steady_state, start_up
from fieldsim.machine.load.circuit_parts import (
    Bridge,
    Capacitor,
    Parallel,
    Resistor,
    Series,
    lamp_strings,
    single_rectifier,
)
from fieldsim.machine.load.led_colours import generic_led

T = np.arange(128) / 128
EMF = PeriodicEmf(0.05, 9 * np.sin(2 * np.pi * T))
WHITE = generic_led("white")


def solve(load, emf=EMF):
    return periodic_steady_state(one_coil_circuit(100.0, load, 0.02), emf)


def test_results_cannot_be_changed():
    result = solve(Bridge(WHITE))
    with pytest.raises(ValueError, match="read-only"):
        result.coils["coil"].current_A[0] = 1.0
    with pytest.raises(ValueError, match="read-only"):
        result.time_s[0] = 1.0
    with pytest.raises(TypeError):
        result.coils["coil"] = None
    with pytest.raises(AttributeError):
        result.source_power_W = 1.0


def test_lamp_report():
    result = solve(Bridge(lamp_strings(WHITE, 2, 3)))
    (lamp,) = result.lamps
    trace = result.part("white LED")
    assert (lamp.count, trace.series, trace.parallel) == (6, 2, 3)
    assert lamp.average_current_A == pytest.approx(result.average(trace.current_A), rel=1e-4)
    assert lamp.peak_current_A == trace.current_A.max()
    assert lamp.lights
    assert lamp.share_of_rated == pytest.approx(lamp.average_current_A / 0.02)
    # three strings share the bridge's current; two lamps share the voltage behind it
    bridge = result.part("bridge diode")
    other = result.part("bridge diode 2")
    through = bridge.average_current_A + other.average_current_A
    assert through == pytest.approx(3 * trace.average_current_A, rel=1e-4)
    dc = result.outlets["coil"].dc_voltage_V
    assert 2 * trace.voltage_V == pytest.approx(dc, abs=1e-9)
    assert trace.on_dc
    assert not bridge.on_dc


def test_flicker_is_at_twice_the_frequency_behind_a_bridge_and_once_behind_one_diode():
    full, half = solve(Bridge(WHITE)).lamps[0], solve(single_rectifier(WHITE)).lamps[0]
    assert full.flicker_Hz == pytest.approx(40.0)
    assert half.flicker_Hz == pytest.approx(20.0)
    # both go dark between pulses: (max - 0)/(max + 0)
    assert full.flicker_percent == pytest.approx(100.0, abs=0.01)


def test_a_capacitor_calms_the_flicker():
    depths = [
        solve(Bridge(Parallel((WHITE, Capacitor(c, 0.1))))).lamps[0].flicker_percent
        for c in (10e-6, 1e-3, 0.1)
    ]
    assert depths[0] > 50 > depths[1] > 5 * depths[2]


def test_weights_integrate_and_sampling_interpolates():
    result = solve(Resistor(100.0))
    assert result.weight_s.sum() == pytest.approx(EMF.period_s, rel=1e-12)
    assert result.duration_s == pytest.approx(0.05)
    # third-order quadrature of sin^2 over a hundred steps
    assert result.average(np.sin(2 * np.pi * result.time_s / 0.05) ** 2) == pytest.approx(
        0.5, rel=1e-6
    )
    times, emf = result.sampled(result.coils["coil"].emf_V, 256)
    assert len(times) == 256
    # straight lines between about 200 points: (2 pi/200)^2 / 8 = 1e-4, more over the long ones
    assert emf == pytest.approx(EMF(times)[0], abs=9 * 6e-4)
    transient = start_up(one_coil_circuit(100.0, Resistor(100.0)), EMF, 0.1, 1e-3)
    times, emf = transient.sampled(transient.coils["coil"].emf_V, 256)
    assert (times[0], times[-1]) == (0.0, pytest.approx(0.1))
    assert emf[50:] == pytest.approx(EMF(times[50:])[0], abs=9 * 2e-3)
    assert transient.period_s is None


def test_efficiency_counts_lamps_or_resistors_but_not_meters():
    load = Parallel((Resistor(100.0), Resistor(100.0, name="meter")))
    result = solve(load)
    assert result.useful_power_W == pytest.approx(result.part("resistor").power_W)
    assert result.efficiency == pytest.approx(50.0 / 150.0 / 2, rel=1e-6)
    lamps = solve(Bridge(Series((WHITE, Resistor(100.0)))))
    assert lamps.useful_power_W == lamps.part("white LED").power_W
    assert 0 < lamps.efficiency < 1


def test_matched_resistor_takes_half():
    result = solve(Resistor(100.0))
    assert result.efficiency == pytest.approx(0.5, rel=1e-4)
    assert result.coils["coil"].heat_W == pytest.approx(result.load_W, rel=1e-4)
    assert result.coils["coil"].rms_current_A ** 2 * 100 == pytest.approx(result.load_W, rel=1e-4)


def test_open_circuit_peak_is_the_emf_s():
    assert solve(WHITE).outlets["coil"].open_circuit_peak_V == pytest.approx(9.0, rel=1e-3)


def test_unknown_part_lists_the_known():
    with pytest.raises(KeyError, match="there are: resistor"):
        solve(Resistor(1.0)).part("lamp")
