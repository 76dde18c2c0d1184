"""What ``parameters`` prints: values and steps with their units."""

from __future__ import annotations

import math

import pytest
from machines import shipped

from fieldsim.machine.parameters import Parameter, parameters
from fieldsim.words.parameter_text import parameter_value, parameters_text


def item(unit, step=math.nan, text="1"):
    return Parameter("x", 1.0, unit, text, 0.0, 10.0, step, "what it is")


@pytest.mark.parametrize(
    ("each", "value", "text"),
    [
        (item("m"), 0.0035, "3.5 mm"),
        (item("AWG", 1.0), 32.0, "AWG 32"),
        (item("AWG", 1.0), 1.0, "1"),
        (item("K", 5.0), 5.0, "5 K"),
        (item("rad/s"), math.pi, "30 rpm"),
        (item("rad"), math.pi / 6, "30 deg"),
        (item("T"), 1.25, "1.25 T"),
        (item("", text="80 %"), 0.755, "75.5 %"),
        (item(""), 12.0, "12"),
        (item(""), "red", "red"),
    ],
)
def test_a_value_has_its_unit(each, value, text):
    assert parameter_value(each, value) == text


def test_a_warm_room_is_no_step():
    assert parameter_value(item("K", 5.0), 293.15) == "20 degC"


def test_every_parameter_is_listed_with_its_step():
    machine = shipped("lamp_ring")
    found = parameters(machine)
    text = parameters_text(machine, found, 260)
    assert text.startswith(f"{machine.title}: {len(found)} parameters\n")
    lines = {line.split()[0]: " ".join(line.split()) for line in text.splitlines() if line.strip()}
    assert lines["magnets.bar.remanence"] == (
        "magnets.bar.remanence 1.2 T 120 mT strength of the material"
    )
    assert lines["coils.pickup.wire.gauge"].startswith("coils.pickup.wire.gauge AWG 32 1 ")
    assert lines["rotors.upper.magnets[0].north"].split()[1:4] == ["+shaft", "a", "word"]
    assert set(lines) >= {each.path for each in found}


def test_a_narrow_screen_lists_them_with_the_meaning_below():
    machine = shipped("lamp_ring")
    found = parameters(machine)
    lines = parameters_text(machine, found, 80).splitlines()
    place = lines.index("magnets.bar.remanence = 1.2 T, step 120 mT")
    assert lines[place + 1] == "    strength of the material"
    assert lines[place - 2 : place] == [
        "magnets.bar.size[2] = 5 mm, step 1 mm",
        "    along the arm, across the arm, along the shaft",
    ]
    assert lines.count("    along the arm, across the arm, along the shaft") == 1
    assert "rotors.upper.magnets[0].poles = alternating; one of alternating, same" in lines
    shown = {line.split(" = ")[0] for line in lines if " = " in line}
    assert shown == {each.path for each in found}
