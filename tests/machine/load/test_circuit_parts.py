import pytest

from fieldsim.machine.load.circuit_parts import (
    SCHOTTKY,
    SILICON,
    Bridge,
    Capacitor,
    Diode,
    Led,
    Parallel,
    Resistor,
    Series,
    anti_parallel,
    lamp_strings,
    leaves,
    single_rectifier,
)
from fieldsim.machine.load.diode_law import diode_current_A
from fieldsim.machine.load.led_colours import GENERIC_VOLTAGES_V, generic_led


@pytest.mark.parametrize("colour", GENERIC_VOLTAGES_V)
def test_generic_leds_pass_their_two_points(colour):
    led = generic_led(colour)
    low, usual = GENERIC_VOLTAGES_V[colour]
    # the leakage of a nanosiemens is 3 nA: 3e-6 of the lower current
    assert led.voltage_V(1e-3) == pytest.approx(low, abs=1e-6)
    assert led.voltage_V(20e-3) == pytest.approx(usual, abs=1e-9)


def test_where_lamps_come_on():
    # common practice, no published source: green 2.5 to 2.7 V, white near 3 V
    green, white = generic_led("green"), generic_led("white")
    assert 2.5 <= green.voltage_V(green.visible_A) <= 2.7
    assert 2.5 <= green.voltage_V(1e-3) <= 2.7
    assert 2.65 <= white.voltage_V(white.visible_A) <= 3.0
    assert 2.9 <= white.voltage_V(8e-3) <= 3.1


def test_a_white_array_behind_a_bridge_starts_near_6_and_runs_at_7_to_8_volt():
    # common practice, no published source: two in series, two bridge diodes
    white, diode = generic_led("white"), SILICON

    def across(lamp_A, strings):
        total = strings * lamp_A
        from fieldsim.machine.load.diode_law import diode_voltage_V

        return 2 * white.voltage_V(lamp_A) + 2 * float(diode_voltage_V(total, diode.law))

    assert across(1e-5, 12) == pytest.approx(6.0, abs=0.3)
    assert 7.0 <= across(10e-3, 12) <= 8.0


def test_data_sheet_with_one_point_keeps_it():
    led = Led.from_data_sheet(2.1, 0.02, colour="red")
    assert led.voltage_V(0.02) == pytest.approx(2.1, abs=1e-9)
    assert led.law.series_ohm == pytest.approx(0.1 * 2.1 / 0.02)  # a tenth of the voltage
    assert (led.rated_A, led.peak_A) == (0.02, pytest.approx(0.1))


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ({"forward_V": 0.0, "at_A": 0.02}, "forward voltage of 0 V"),
        ({"forward_V": 3.0, "at_A": 0.0}, "forward current of 0 A"),
        ({"forward_V": 3.0, "at_A": 0.02, "rated_A": 0.0}, "rated current of 0 A"),
        ({"forward_V": 3.0, "at_A": 0.02, "series_ohm": 160.0}, "whole forward voltage"),
        ({"forward_V": 3.0, "at_A": 0.02, "low_point": (3.1, 0.001)}, "low point"),
        ({"forward_V": 3.0, "at_A": 0.02, "low_point": (2.99, 0.001)}, "lower ideality"),
    ],
)
def test_impossible_leds(arguments, message):
    with pytest.raises(ValueError, match=message):
        Led.from_data_sheet(**arguments)


@pytest.mark.parametrize(
    "build",
    [
        lambda: Resistor(0.0),
        lambda: Resistor(-5.0),
        lambda: Capacitor(0.0),
        lambda: Capacitor(1e-6, esr_ohm=-1.0),
        lambda: Series(()),
        lambda: Parallel((Resistor(1.0),), count=0),
        lambda: Diode.from_forward(0.0, 1.0),
        lambda: generic_led("puce"),
    ],
)
def test_impossible_parts(build):
    with pytest.raises(ValueError):
        build()


def test_rectifier_diodes_drop_what_they_say():
    assert float(diode_current_A(0.75, SILICON.law)) == pytest.approx(0.1, rel=1e-9)
    assert float(diode_current_A(0.32, SCHOTTKY.law)) == pytest.approx(0.1, rel=1e-9)


def test_leaves_count_copies():
    lamp = generic_led("red")
    load = single_rectifier(
        Series((lamp_strings(lamp, 3, 4, 100.0), anti_parallel(lamp, 5)), count=2)
    )
    found = [(type(part).__name__, n) for part, n in leaves(load)]
    assert found == [("Diode", 1), ("Led", 24), ("Resistor", 8), ("Led", 10), ("Led", 10)]
    assert [n for _, n in leaves(Bridge(Parallel((Resistor(1.0),), 3)))] == [4, 3]


def test_reversed_twice_is_the_same():
    lamp = generic_led("red")
    assert lamp.reversed().reversed() == lamp
    assert anti_parallel(lamp).parts == (lamp, lamp.reversed())
