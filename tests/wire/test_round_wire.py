"""Gauge numbers, diameters and mass."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldsim.errors import ImpossibleError
from fieldsim.wire.enamel import Enamel
from fieldsim.wire.round_wire import (
    COPPER_DENSITY_KG_M3,
    ENAMEL_DENSITY_KG_M3,
    Wire,
    awg_diameter_m,
    awg_number,
    awg_wire,
    awg_wires,
    copper_area_m2,
    metric_wire,
    parse_awg,
    wire_mass_kg_m,
)


@pytest.mark.parametrize(
    ("text", "number"),
    [
        (32, 32),
        ("32", 32),
        ("AWG 32", 32),
        ("AWG32", 32),
        ("awg 32", 32),
        (" 32 AWG ", 32),
        ("#38", 38),
        ("32 gauge", 32),
        ("32ga", 32),
        ("AWG 8", 8),
        ("0", 0),
        ("1/0", 0),
        ("00", -1),
        ("2/0", -1),
        ("0000", -3),
        ("4/0", -3),
    ],
)
def test_gauges_are_read(text, number):
    assert parse_awg(text) == number


@pytest.mark.parametrize(
    "text",
    ["0.2 mm", "AWG", "", "32.5", "-3", "SWG 32", "5/0", "AWG 1000", "32 32", True, None, 3.2],
)
def test_other_text_is_not_a_gauge(text):
    with pytest.raises(ValueError, match="is not a wire gauge; write it like"):
        parse_awg(text)


@given(n=st.floats(-3, 56))
@settings(max_examples=50, deadline=None)
def test_gauge_and_diameter_are_inverse(n):
    # Rounding of the power and of the logarithm, some 1e-14 of 60.
    assert float(awg_number(awg_diameter_m(n))) == pytest.approx(n, abs=1e-11)


def test_six_gauges_halve_the_diameter():
    # The step ratio to the sixth power is 2.0050, exactly 92 ** (6 / 39): a definition.
    d = awg_diameter_m(np.arange(10, 41))
    assert d.shape == (31,)
    np.testing.assert_allclose(d[:-6] / d[6:], 92 ** (6 / 39), rtol=1e-13)  # rounding


def test_mass_is_copper_and_enamel():
    wire = Wire("w", 1e-3, 1.2e-3)
    copper = math.pi / 4 * 1e-6
    enamel = math.pi / 4 * 0.44e-6
    assert wire.copper_mass_kg_m == pytest.approx(COPPER_DENSITY_KG_M3 * copper, rel=1e-14)
    assert wire.mass_kg_m - wire.copper_mass_kg_m == pytest.approx(
        ENAMEL_DENSITY_KG_M3 * enamel, rel=1e-12
    )
    assert wire.overall_area_m2 == pytest.approx(copper + enamel, rel=1e-14)


def test_tables_equal_single_wires():
    gauges = np.arange(24, 41)
    wires = awg_wires(gauges, Enamel.HEAVY)
    single = [awg_wire(int(n), Enamel.HEAVY) for n in gauges]
    assert wires.overall_diameter_m.tolist() == [w.overall_diameter_m for w in single]
    masses = wire_mass_kg_m(wires.bare_diameter_m, wires.overall_diameter_m)
    np.testing.assert_allclose(masses, [w.mass_kg_m for w in single], rtol=1e-15)
    np.testing.assert_allclose(
        copper_area_m2(wires.bare_diameter_m), [w.copper_area_m2 for w in single], rtol=1e-15
    )


def test_names_say_size_and_enamel():
    assert awg_wire(32).name == "AWG 32 single"
    assert metric_wire(0.2e-3, Enamel.GRADE_2).name == "0.2 mm grade 2"


@pytest.mark.parametrize("gauge", [9, 47, 10**9, -(10**9)])
def test_gauge_out_of_range(gauge):
    with pytest.raises(ImpossibleError, match=f"AWG {gauge} is out of range; allowed: AWG 10"):
        awg_wire(gauge)


def test_ends_of_the_range_are_wires():
    assert awg_wire(10).overall_diameter_m > awg_wire(46).overall_diameter_m > 0


@pytest.mark.parametrize(
    ("bare", "overall", "message"),
    [
        (0.2e-3, 0.19e-3, "0.2 mm copper cannot be 0.19 mm"),
        (0.2e-3, 0.2e-3, "must be thicker"),
        (0.0, 0.2e-3, "above zero"),
        (0.2e-3, math.nan, "above zero"),
        (-1e-3, 1e-3, "above zero"),
    ],
)
def test_impossible_wire(bare, overall, message):
    with pytest.raises(ImpossibleError, match=message):
        Wire("w", bare, overall)
