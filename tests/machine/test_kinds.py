"""Values of every kind: checked, read, written; and what a list of the wrong length meant."""

from fractions import Fraction

import pytest
from pydantic_core import PydanticCustomError

from fieldsim.machine.kinds import Direction, Flag, Quantity, Ratio, Whole, list_hint


@pytest.mark.parametrize(
    ("entries", "hint"),
    [
        (["16 mm 30 mm"], "commas"),
        (["16 mm -30 mm"], "commas"),
        (["0 0 1"], "commas"),
        ([1, "4 cm", "30 mm"], "decimals with a point"),
        (["1 mm", 1, "5 mm"], "decimals with a point"),
        (["1e-5 m"], None),
        (["1/4 in"], None),
        (["20 mm^2"], None),
        (["16 mm", "30 mm", "5 mm"], None),
        ([1, 2], None),
        ([1.5, "4 cm"], None),
        ([True, "4 cm"], None),
        ([], None),
        ([None, [1, 2]], None),
    ],
)
def test_hint(entries, hint):
    assert (hint in list_hint(entries)) if hint else list_hint(entries) == ""


def refusal(kind, value, *, in_file=False):
    with pytest.raises(PydanticCustomError) as caught:
        kind.read(value, in_file)
    assert "\n" not in caught.value.message()
    return caught.value.message()


LENGTH = Quantity("length", "0.1 mm", "10 m")


def test_a_quantity_is_a_number_in_python_and_text_in_a_file():
    assert LENGTH.read(0.008, in_file=False) == LENGTH.read("8 mm", in_file=True) == 0.008
    assert "0.008 has no unit" in refusal(LENGTH, 0.008, in_file=True)
    assert LENGTH.read(LENGTH.written(0.0095), in_file=True) == 0.0095


@pytest.mark.parametrize("value", [1e-4, 10, "0.1 mm", "10 m", "10000 mm"])
def test_bounds_are_allowed(value):
    assert LENGTH.read(value, in_file=False) in (1e-4, 10.0)


@pytest.mark.parametrize(
    ("value", "words"),
    [
        (0.99e-4, "9.9e-05 m is out of range; allowed: 0.1 mm to 10 m"),
        (10.001, "10.001 m is out of range"),
        (float("nan"), "nan m is not a finite number"),
        (True, "true is not a length"),
        ("8", "has no unit"),
        ("8 T", "is not a length"),
    ],
)
def test_quantities_that_cannot_be(value, words):
    assert words in refusal(LENGTH, value)


@pytest.mark.parametrize(
    ("value", "ratio"),
    [
        (9, Fraction(9)),
        (0.1, Fraction(1, 10)),
        ("10/3", Fraction(10, 3)),
        ("-2.5", Fraction(-5, 2)),
    ],
)
def test_ratios_are_exact_and_come_back(value, ratio):
    kind = Ratio()
    assert kind.read(value, in_file=False) == ratio
    assert kind.read(kind.written(ratio), in_file=True) == ratio


@pytest.mark.parametrize(
    ("value", "words"),
    [
        (0, "would never turn"),
        (1001, "out of range"),
        (Fraction(1, 1234567), "out of range"),
        (Fraction(1234567, 7654321), "too many digits"),
        ("1/0", "is not a ratio"),
        (float("inf"), "not a finite number"),
    ],
)
def test_ratios_that_cannot_be(value, words):
    assert words in refusal(Ratio(), value)


@pytest.mark.parametrize(
    ("value", "words"),
    [
        ((0, 0, 0), "length above zero"),
        ((1e200, 0, 0), "absurdly large or small"),
        ((0, 0, True), "true is not a plain number"),
        ("z", "is not a direction"),
        ((1, 2, 3, 4), "has 4 numbers"),
    ],
)
def test_directions_that_cannot_be(value, words):
    assert words in refusal(Direction(), value)


def test_making_a_direction_unit_twice_changes_nothing():
    kind = Direction()
    for numbers in ((0.1, 0.7, -0.3), (1, 1, 1), (-2, 0, 1e-9)):
        once = kind.read(numbers, in_file=False)
        assert kind.read(once, in_file=False) == once


def test_flags_and_counts_from_a_command_line():
    assert Flag().read("true", in_file=False) is True
    assert '"true" is not one of' in refusal(Flag(), "true", in_file=True)
    assert Whole(1, 10).read("3", in_file=False) == 3
    assert '"3" is not a plain number' in refusal(Whole(1, 10), "3", in_file=True)
    assert "at most 10" in refusal(Whole(1, 10), 11)
