import numpy as np
import pytest

from fieldsim.circuit.cautions import (
    TOUCH_V,
    circuit_cautions,
)
from fieldsim.circuit.emf_source import PeriodicEmf
from fieldsim.circuit.network import one_coil_circuit
from fieldsim.circuit.solver import periodic_steady_state
from fieldsim.machine.load.circuit_parts import (
    Bridge,
    Capacitor,
    Open,
    Parallel,
    Resistor,
    anti_parallel,
    lamp_strings,
)
from fieldsim.machine.load.led_colours import generic_led

SINE = np.sin(2 * np.pi * np.arange(64) / 64)
WHITE = generic_led("white")


def solve(load, peak_V=9.0, ohm=100.0):
    """At 100 Hz, whose flicker no eye sees."""
    return periodic_steady_state(one_coil_circuit(ohm, load), PeriodicEmf(0.01, peak_V * SINE))


def kinds(result):
    return [caution.kind for caution in circuit_cautions(result)]


def test_a_sound_circuit_needs_none():
    assert kinds(solve(Bridge(lamp_strings(WHITE, 1, 4, 100.0)))) == []


def test_lamp_over_its_rating():
    found = kinds(solve(Bridge(WHITE), ohm=10.0))
    assert found == ["LED over-current", "LED peak current"]
    result = solve(Bridge(WHITE), ohm=10.0)
    (lamp,) = result.lamps
    caution = circuit_cautions(result)[0]
    assert (caution.where, caution.value) == ("white LED", lamp.average_current_A)
    assert caution.value > caution.limit == lamp.rated_current_A == 0.02


def test_lamp_peak_alone():
    (caution,) = circuit_cautions(solve(Bridge(lamp_strings(WHITE, 1, 2)), peak_V=70.0, ohm=250.0))[
        -1:
    ]
    assert caution.kind == "open-circuit voltage"
    assert "LED peak current" in kinds(solve(Bridge(lamp_strings(WHITE, 1, 2)), 70.0, 250.0))


def test_pulses_far_above_the_rating_are_named():
    # 48 mA through each of four at the top of the wave, 20 mA rated and 100 mA momentary
    hard = solve(Bridge(lamp_strings(WHITE, 1, 4)), peak_V=30.0, ohm=100.0)
    found = {caution.kind: caution for caution in circuit_cautions(hard)}
    (trace,) = [t for t in hard.parts if t.label == "white LED"]
    assert 0.06 < trace.current_A.max() < 0.1
    assert "LED peak current" not in found
    assert found["LED pulses"].value == trace.current_A.max()
    assert found["LED pulses"].limit == pytest.approx(3 * 0.02)


def test_lamp_backwards():
    assert kinds(solve(WHITE)) == ["LED reverse voltage"]
    assert kinds(solve(anti_parallel(WHITE))) == []


def flashing(rate_Hz, peak_V=9.0, load=Bridge(WHITE)):  # noqa: B008  (a part, which is immutable)
    """Behind a bridge light swings twice as often as the wave; it is dark in between."""
    emf = PeriodicEmf(2 / rate_Hz, peak_V * SINE)
    result = periodic_steady_state(one_coil_circuit(100.0, load), emf)
    return [c for c in circuit_cautions(result) if c.kind == "flashing light"]


@pytest.mark.parametrize(("rate_Hz", "due"), [(2.9, 0), (3.1, 1), (16, 1), (29.9, 1), (31, 0)])
def test_flashes_from_3_to_30_a_second_are_cautioned(rate_Hz, due):
    found = flashing(rate_Hz)
    assert len(found) == due
    for caution in found:
        assert caution.value == pytest.approx(rate_Hz)
        assert caution.value > caution.limit == 3.0


def test_steady_or_unseen_light_flashes_nobody():
    assert flashing(16, load=Bridge(Parallel((WHITE, Capacitor(0.1))))) == []
    assert flashing(16, peak_V=2.5) == []


def test_brief_flashes_of_a_lamp_too_dark_to_glow_are_cautioned():
    emf = PeriodicEmf(0.2, 2.3 * SINE**5)
    lamp = generic_led("red")
    result = periodic_steady_state(one_coil_circuit(100.0, anti_parallel(lamp)), emf)
    assert [lamp.flashes for lamp in result.lamps] == [True, True]
    values = [c.value for c in circuit_cautions(result) if c.kind == "flashing light"]
    assert values == pytest.approx([5.0, 5.0])


def test_high_voltage_when_the_load_comes_off():
    (caution,) = circuit_cautions(solve(Resistor(10.0), peak_V=60.0))
    assert caution.kind == "open-circuit voltage"
    assert (caution.where, caution.limit) == ("coil", TOUCH_V)
    assert caution.value == pytest.approx(60.0, rel=1e-3)  # the wave is sampled
    assert kinds(solve(Open(), peak_V=0.98 * TOUCH_V)) == []
    assert kinds(solve(Open(), peak_V=1.02 * TOUCH_V)) == ["open-circuit voltage"]


def test_capacitor_over_its_voltage_or_backwards():
    over = Bridge(Parallel((Capacitor(100e-6, rated_V=6.3), Resistor(1e4))))
    assert kinds(solve(over)) == ["capacitor voltage"]
    across = Capacitor(100e-6, polarised=True)
    assert kinds(solve(across)) == ["capacitor polarity"]
    assert kinds(solve(Bridge(Parallel((across, Resistor(1e4)))))) == []


def test_resistor_over_its_power():
    # 9 V peak on 100 + 100 ohm: 101 mW in each
    assert kinds(solve(Resistor(100.0, rated_W=0.1))) == ["resistor power"]
    assert kinds(solve(Resistor(100.0, rated_W=0.11))) == []
