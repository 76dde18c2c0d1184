"""Numbers as text: digits, prefixes, signs, and what is shown as nothing."""

from __future__ import annotations

import math

import pytest

from fieldsim.words.numbers import (
    SOLVED,
    change,
    in_unit,
    number,
    plain_number,
    quantity,
    share,
    typeset,
    unit_for,
)


@pytest.mark.parametrize(
    ("value", "text"),
    [(0.0, "0"), (12345.6, "12300"), (-2.0, "-2"), (1e-4, "0.0001"), (65.04, "65"), (99.96, "100")],
)
def test_plain_number(value, text):
    assert plain_number(value) == text


@pytest.mark.parametrize(
    ("value", "least", "text"),
    [
        (-0.000112, SOLVED * 13.3, "0"),  # a reading beside a peak of 13 V
        (8.44e-08, SOLVED * 0.135, "0"),  # a torque beside 0.135 N m
        (-0.000112, 0.0, "-0.000112"),
        (2e-4, 1e-4, "0.000200"),
        (math.inf, 1.0, "inf"),
    ],
)
def test_rounding_beside_a_scale_is_nothing(value, least, text):
    assert number(value, 3, least) == text


def test_units_and_their_nothing():
    assert in_unit(4e-7, "mA") == in_unit(4e-5, "V") == "0"
    assert (in_unit(6e-7, "mA"), in_unit(-0.25, "mW"), in_unit(0.0123, "mm")) == (
        "0.000600",
        "-250",
        "12.3",
    )
    assert (
        quantity(5e-4, "W"),
        quantity(4700.0, "ohm"),
        quantity(0.5, "V"),
        quantity(3e6, "W"),
    ) == (
        "0.500 mW",
        "4.70 kohm",
        "500 mV",
        "3.00 MW",
    )


def test_shares_and_changes():
    assert (share(0.5), share(4e-5), share(1.2341, 4)) == ("50 %", "0 %", "123.4 %")
    assert (change(-4e-4), change(-6e-4), change(0.1, 0)) == ("0.0 %", "-0.1 %", "+10 %")


def test_a_page_has_true_minus_signs():
    assert typeset("-0.1 %") == "−0.1\N{NO-BREAK SPACE}%"
    assert (
        typeset("1e-05, AWG 28-30, north -shaft, (-3 V")
        == "1e-05, AWG 28-30, north -shaft, (−3\N{NO-BREAK SPACE}V"
    )


@pytest.mark.parametrize(
    ("largest", "symbol", "expected"),
    [
        (0.0, "V", (1.0, "V")),
        (0.6, "V", (1.0, "V")),
        (0.4, "V", (1e-3, "mV")),
        (-3e-6, "Wb", (1e-6, "µWb")),
        (1e-30, "s", (1e-12, "ps")),
        (float("nan"), "V", (1.0, "V")),
        (5000.0, "V", (1.0, "V")),
    ],
)
def test_units(largest, symbol, expected):
    assert unit_for(largest, symbol) == expected
