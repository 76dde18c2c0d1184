"""What hangs on the coils, as described, and the circuit parts that it comes to."""

import pytest
import yaml
from sections import complaint, section

from fieldsim.machine.load.circuit_parts import (
    SCHOTTKY,
    SILICON,
    Bridge,
    Capacitor,
    Led,
    Open,
    Parallel,
    Resistor,
    Series,
    Short,
    leaves,
    single_rectifier,
)
from fieldsim.machine.load.led_colours import generic_led
from fieldsim.machine.load.load import Load


def load(text):
    return section(Load, f"{{across: pickup, {text}}}").tree


def test_the_everyday_load():
    got = load(
        "rectifier: bridge, capacitor: {value: 470 uF, esr: 0.2 ohm},"
        "lamps: {colour: white, series: 2, parallel: 12}"
    )
    assert isinstance(got, Bridge)
    assert got.diode == SILICON
    assert [(type(p).__name__, n) for p, n in leaves(got.load)] == [("Led", 24), ("Capacitor", 1)]


def test_simple_loads():
    assert load("resistor: 4.7 kohm") == Resistor(4700.0)
    assert load("terminals: open") == Open()
    assert load("terminals: short") == Short()
    assert load("capacitor: 2 F") == Capacitor(2.0)
    assert load("rectifier: bridge, diode: schottky") == Bridge(Open(), SCHOTTKY)
    assert load("rectifier: single, resistor: 1 kohm") == single_rectifier(Resistor(1000.0))


def test_capacitor_keys():
    got = load("capacitor: {value: 1.5 F, esr: 2 ohm, initial: 2 V, rated: 16 V, polarised: true}")
    assert got == Capacitor(1.5, 2.0, 2.0, 16.0, True)


def test_lamps_by_data_sheet():
    got = load(
        "lamps: {forward: 3.1 V, at: 20 mA, rated: 25 mA, peak: 60 mA, visible: 0.2 mA,"
        "reverse_limit: 4 V, inner_resistance: 12 ohm}"
    )
    ((led, count),) = leaves(got)
    assert count == 1
    assert led.voltage_V(0.02) == pytest.approx(3.1, abs=1e-9)
    assert (led.rated_A, led.peak_A, led.visible_A, led.reverse_limit_V) == (
        pytest.approx(0.025),
        pytest.approx(0.06),
        pytest.approx(2e-4),
        4.0,
    )
    assert led.law.series_ohm == 12.0


@pytest.mark.parametrize("strings", ["series: 1", "series: 2, resistor: 100 ohm"])
def test_polarity_both_makes_opposed_pairs(strings):
    got = load(f"lamps: {{colour: red, parallel: 3, polarity: both, {strings}}}")
    lamps = [(p.reverse, n) for p, n in leaves(got) if isinstance(p, Led)]
    each = 3 if "1" in strings.split(",")[0] else 6
    assert lamps == [(False, each), (True, each)]


def test_polarity_reverse():
    ((led, _),) = leaves(load("lamps: {colour: red, polarity: reverse}"))
    assert led == generic_led("red").reversed()


def test_tree_with_groups_used_twice():
    got = load(
        "groups: {string: {series: [{lamps: {colour: red}}, {resistor: 100 ohm}]}},"
        "parts: [{use: string, count: 6}, {series: [{use: string}, {diode: schottky}]}]"
    )
    string = Series((Parallel((Series((generic_led("red"),), 1),), 1), Resistor(100.0)))
    assert got == Parallel((Parallel((string,), 6), Series((string, SCHOTTKY))))


def test_count_follows_the_kind_of_group():
    assert load("parts: [{series: [{resistor: 1 ohm}], count: 3}]") == Series(
        (Series((Resistor(1.0),)),), 3
    )
    assert load("parts: [{resistor: 1 ohm, count: 3, rated: 0.25 W}]") == Parallel(
        (Resistor(1.0, "", 0.25),), 3
    )


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("resistor: 0 ohm", "out of range"),
        ("resistor: -5 ohm", "out of range"),
        ("resistor: 100", "no unit"),
        ("resistor: 100 V", "not a resistance"),
        ("capacitor: 0 F", "out of range"),
        ("capacitor: {value: 1 uF, esr: -1 ohm}", "out of range"),
        ("lamps: {forward: 0 V, at: 20 mA}", "out of range"),
        ("lamps: {forward: 3 V}", "belong together"),
        ("lamps: {series: 2}", 'need a "colour"'),
        ("lamps: {colour: puce}", "is not one of"),
        ("lamps: {colour: red, series: 0}", "must be at least 1"),
        ("lamps: {colour: red, parallel: 1.5}", "whole number"),
        ("lamps: {colour: red, inner_resistance: 1 ohm}", "not with a colour alone"),
        ("lamps: {forward: 3 V, at: 20 mA, inner_resistance: 500 ohm}", "whole forward voltage"),
        ("lamp: {colour: red}", 'did you mean "lamps"'),
        ("resistor: 1 ohm, rectifier: half", "is not one of: none, single, bridge"),
        ("resistor: 1 ohm, rectifier: bridge, diode: germanium", "is not a diode"),
        ("resistor: 1 ohm, diode: silicon", 'there is no "rectifier"'),
        ("terminals: short, resistor: 1 ohm", "remove the rest"),
        ("terminals: open, rectifier: bridge", "remove the rest"),
        ("parts: []", 'a load needs "lamps"'),
        ("parts: [{}]", "here is none"),
        ("parts: [{resistor: 1 ohm, capacitor: 1 uF}]", "here is resistor and capacitor"),
        ("parts: [{series: []}]", "at least one part"),
        ("parts: [{use: nobody}]", 'no group is called "nobody"'),
        ("parts: [{resistor: 1 ohm, reverse: true}]", "turns a diode"),
        ("parts: [{capacitor: 1 uF, rated: 1 W}]", "resistor's power"),
        ("groups: {a: {series: [{use: b}]}, b: {use: a}}, parts: [{use: a}]", "contain each other"),
        ("groups: {a: {parallel: [{use: a}]}}, resistor: 1 ohm", "contain each other"),
    ],
)
def test_mistakes_get_one_line(text, message):
    assert message in complaint(Load, f"{{across: pickup, {text}}}").text


def test_groups_that_would_explode_are_refused_at_once():
    groups = {f"g{i}": {"parallel": [{"use": f"g{i + 1}"}] * 10} for i in range(15)}
    groups["g15"] = {"resistor": "1 ohm"}
    stated = {"across": "pickup", "groups": groups, "parts": [{"use": "g0"}]}
    assert "billions of parts" in complaint(Load, yaml.safe_dump(stated)).text
