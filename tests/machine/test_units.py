"""Quantities with units: values by definition of each unit, and what is refused."""

from __future__ import annotations

import math
import warnings

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldsim.machine.units import KINDS, parse_quantity

# International yard and pound agreement of 1959: 1 in = 25.4 mm and 1 lb = 0.45359237 kg, exactly.
GOOD = [
    ("8 mm", "length", 8e-3),
    ("8mm", "length", 8e-3),
    (" 8  mm ", "length", 8e-3),
    ("+8 mm", "length", 8e-3),
    (".5 mm", "length", 5e-4),
    ("8. mm", "length", 8e-3),
    ("8e-3 m", "length", 8e-3),
    ("1/4 in", "length", 6.35e-3),
    ("-1 / 4 in", "length", -6.35e-3),
    ("1 ft", "length", 0.3048),
    ("250 thou", "length", 6.35e-3),
    ("250 mil", "length", 6.35e-3),
    ("5 µm", "length", 5e-6),
    ("5 μm", "length", 5e-6),  # the Greek letter
    ("5 um", "length", 5e-6),
    ("50 mm^2", "area", 5e-5),
    ("50 mm²", "area", 5e-5),
    ("50 mm2", "area", 5e-5),
    ("1 lb", "mass", 0.45359237),
    ("4 oz", "mass", 0.45359237 / 4),
    ("180 deg", "angle", math.pi),
    ("180°", "angle", math.pi),
    ("0.5 turn", "angle", math.pi),
    ("120 rpm", "rotation speed", 4 * math.pi),
    ("2 turn/s", "rotation speed", 4 * math.pi),
    ("2 rev/s", "rotation speed", 4 * math.pi),
    ("720 deg/s", "rotation speed", 4 * math.pi),
    ("12 rad/s", "rotation speed", 12.0),
    ("12 kG", "flux density", 1.2),
    ("1200 mT", "flux density", 1.2),
    ("4.7 kohm", "resistance", 4700.0),
    ("4.7 kΩ", "resistance", 4700.0),
    ("470 uF", "capacitance", 470e-6),
    ("5 A/mm^2", "current density", 5e6),
    ("20 degC", "temperature", 293.15),
    ("20 °C", "temperature", 293.15),
    ("293 K", "temperature", 293.0),
    ("60 %", "fraction", 0.6),
    ("5 mN*m", "torque", 5e-3),
    ("5 mN·m", "torque", 5e-3),
    ("3 MPa", "stress", 3e6),
    ("1 min", "time", 60.0),
]


@pytest.mark.parametrize(("text", "kind", "value"), GOOD)
def test_values(text, kind, value):
    assert parse_quantity(text, kind) == pytest.approx(value, rel=1e-14)  # some roundings


@pytest.mark.parametrize("kind", KINDS)
def test_examples_in_messages_are_right(kind):
    for text in KINDS[kind].examples.replace(" or ", ", ").split(", "):
        assert math.isfinite(parse_quantity(text.strip('"'), kind))


@pytest.mark.parametrize(
    ("text", "kind", "words"),
    [
        ("2 Hz", "rotation speed", "is not a rotation speed"),
        ("2 1/s", "rotation speed", "is not a number with a unit"),
        ("12 rpm", "frequency", "is not a frequency"),
        ("8", "length", '"8" has no unit'),
        (8, "length", "8 has no unit"),
        (8.5, "length", "8.5 has no unit"),
        (10**400, "length", "a huge number has no unit"),
        (math.nan, "length", "nan has no unit"),
        (None, "length", "an empty value is not a length"),
        (True, "angle", "true is not an angle"),
        ([8], "length", "a list is not a length"),
        ("mm", "length", "is not a number with a unit"),
        ("", "length", "is not a number with a unit"),
        ("8 mm 3", "length", "is not a length"),
        ("8 Mmm", "length", 'unknown unit "Mmm"'),
        ("8 mm/", "length", "is not a number with a unit"),
        ("1e400 mm", "length", "is too large a number"),
        ("1/0 mm", "length", "divides by zero"),
        ("0x10 mm", "length", "unit"),
        ("8 degC", "length", "is not a length"),
        ("__import__('os') mm", "length", "is not a number with a unit"),
        ("8 " + "m*" * 200 + "m", "length", "is not a number with a unit"),
    ],
)
def test_refused(text, kind, words):
    with pytest.raises(ValueError) as caught:
        parse_quantity(text, kind)
    message = str(caught.value)
    assert words in message
    assert "write it like" in message
    assert "\n" not in message
    assert len(message) < 200


UNITS = [
    "m",
    "mm",
    "in",
    "T",
    "kG",
    "deg",
    "rpm",
    "degC",
    "K",
    "%",
    "°",
    "Ω",
    "µm",
    "N",
    "x",
    "_",
    "2",
]


def checked(text: str, kind: str) -> None:
    """Check that a text is a finite number or one line of complaint."""
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            assert math.isfinite(parse_quantity(text, kind))
        except ValueError as error:
            message = str(error)
        else:
            message = ""
    assert "\n" not in message


@settings(max_examples=300, deadline=None, derandomize=True)
@given(
    number=st.one_of(
        st.floats().map(repr),
        st.integers().map(str),
        st.text("0123456789.eE+-/", max_size=9),
    ),
    first=st.sampled_from(UNITS),
    rest=st.lists(st.tuples(st.sampled_from("*/·^ "), st.sampled_from(UNITS)), max_size=3),
    kind=st.sampled_from(sorted(KINDS)),
)
def test_any_unit_is_a_number_or_one_message(number, first, rest, kind):
    checked(f"{number} {first}" + "".join(a + b for a, b in rest), kind)


@settings(max_examples=100, deadline=None, derandomize=True)
@given(st.text(max_size=300), st.sampled_from(sorted(KINDS)))
def test_any_text_is_a_number_or_one_message(text, kind):
    checked(text, kind)
