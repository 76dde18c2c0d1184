"""What hangs on the coils, in plain words."""

from __future__ import annotations

import pytest

from fieldsim.machine.load.load import Load
from fieldsim.words.load_words import load_lines

WHITE = {"colour": "white"}


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        ({"terminals": "short"}, "the ends joined: a short circuit"),
        ({"resistor": "4.7 kohm"}, "a resistor of 4.7 kohm"),
        ({"resistor": "10 Mohm"}, "a resistor of 10 Mohm"),
        ({"lamps": WHITE}, "a white LED (3.2 V at 20 mA each)"),
        (
            {"lamps": {"forward": "2.1 V", "at": "1 A", "parallel": 3}},
            "3 LEDs side by side (2.1 V at 1 A each)",
        ),
        (
            {"lamps": {"colour": "red", "series": 2, "parallel": 4, "resistor": "22 ohm"}},
            "4 strings of 2 red LEDs in series (2 V at 20 mA each), 22 ohm in series with each "
            "string",
        ),
        (
            {"lamps": {"colour": "red", "series": 2, "polarity": "both"}},
            "2 red LEDs in series (2 V at 20 mA each); each string with a twin the other way round",
        ),
        (
            {"lamps": {"colour": "red", "polarity": "reverse"}},
            "a red LED (2 V at 20 mA each), turned round",
        ),
        (
            {"rectifier": "single", "diode": {"forward": "0.6 V", "at": "100 mA"},
             "capacitor": {"value": "2 F", "rated": "5.5 V", "initial": "1 V", "polarised": True}},
            "one diode of 0.6 V at 100 mA, and behind it a capacitor of 2 F, rated 5.5 V, charged "
            "to 1 V, polarised",
        ),
        (
            {"rectifier": "bridge", "diode": "schottky", "resistor": "10 ohm",
             "capacitor": {"value": "470 uF", "esr": "0.2 ohm"}},
            "a bridge of four Schottky diodes, and behind it side by side: a resistor of 10 ohm; a "
            "capacitor of 470 uF, ESR 0.2 ohm",
        ),
        ({"rectifier": "bridge"}, "a bridge of four silicon diodes, and behind it nothing"),
    ],
)  # fmt: skip
def test_a_load_in_words(keys, words):
    assert load_lines(Load("coil", **keys)) == [words]


def test_a_tree_of_parts_and_its_groups():
    load = Load(
        "coil",
        groups={"chain": {"series": [{"resistor": "22 ohm", "rated": "0.25 W"}, {"lamps": WHITE}]}},
        parts=[
            {"use": "chain", "count": 3},
            {"name": "half", "series": [{"diode": "silicon", "reverse": True}], "count": 2},
            {"bridge": [{"capacitor": "10 uF"}, {"parallel": [{"resistor": "1 ohm"}]}]},
        ],
    )
    assert load_lines(load) == [
        "side by side: 3 times side by side: group chain; half: 2 times one after the other: one "
        "after the other: (a silicon diode, turned round); a bridge of four silicon diodes, and "
        "behind it (side by side: a capacitor of 10 uF; side by side: (a resistor of 1 ohm))",
        "group chain: one after the other: (a resistor of 22 ohm, rated 250 mW; a white LED (3.2 V "
        "at 20 mA each))",
    ]
