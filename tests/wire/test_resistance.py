"""Resistance of wire, current limit and the heating estimate."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldsim.errors import ImpossibleError
from fieldsim.wire.packing import WireFill
from fieldsim.wire.resistance import (
    REFERENCE_TEMPERATURE_K,
    heating_caution,
    recommended_current_A,
    resistance_ohm_m,
    resistivity_ohm_m,
    temperature_rise_K,
    wire_resistance_ohm,
)
from fieldsim.wire.round_wire import awg_wire
from fieldsim.wire.winding import WindingSpec, resolve_winding

temperatures = st.floats(223.15, 473.15)


def test_a_metre_of_a_square_millimetre_by_definition():
    # 1/58 ohm mm2/m at 20 °C is the definition of standard annealed copper.
    diameter = 2 / math.sqrt(math.pi) * 1e-3
    assert float(wire_resistance_ohm(58.0, diameter)) == pytest.approx(1.0, rel=1e-14)


@given(length=st.floats(0.1, 1e4), t=temperatures)
@settings(max_examples=30, deadline=None)
def test_resistance_scales(length, t):
    # Twice the length, half the diameter: eight times the resistance. Rounding only.
    base = float(wire_resistance_ohm(length, 0.2e-3, t))
    assert float(wire_resistance_ohm(2 * length, 0.1e-3, t)) == pytest.approx(8 * base, rel=1e-13)


@given(t=temperatures)
@settings(max_examples=30, deadline=None)
def test_temperature_coefficient(t):
    rise = t - REFERENCE_TEMPERATURE_K
    ratio = float(resistivity_ohm_m(t) / resistivity_ohm_m())
    assert ratio - 1 == pytest.approx(0.00393 * rise, abs=1e-13)


def test_arguments_broadcast():
    lengths = np.array([[10.0], [20.0]])
    diameters = np.array([0.1e-3, 0.2e-3, 0.3e-3])
    table = wire_resistance_ohm(lengths, diameters, 300.0)
    assert table.shape == (2, 3)
    assert table[1, 2] == pytest.approx(float(wire_resistance_ohm(20.0, 0.3e-3, 300.0)))
    assert resistance_ohm_m(0.2e-3, [280.0, 300.0]).shape == (2,)


@pytest.mark.parametrize("celsius", [-150.0, 260.0, 1e6, -300.0, math.nan])
def test_temperature_out_of_range(celsius):
    with pytest.raises(ImpossibleError, match="allowed: -100 to 250 °C"):
        resistivity_ohm_m([300.0, celsius + 273.15])


def test_current_limit_is_density_times_copper():
    assert float(recommended_current_A(1e-3, 5e6)) == pytest.approx(5 * math.pi / 4)
    assert float(recommended_current_A(1e-3)) == pytest.approx(3 * math.pi / 4)
    assert recommended_current_A([0.1e-3, 0.2e-3]).shape == (2,)
    for wrong in (0.0, -1.0, math.nan):
        with pytest.raises(ValueError, match="above zero"):
            recommended_current_A(1e-3, wrong)


def test_same_copper_gives_turns_squared_over_resistance_whatever_the_gauge():
    # At a given copper fill the section holds the same copper: N^2 / R = copper area / (rho mean
    # turn), independent of the gauge; that is why the EMF squared over R is, too. Whole turns cost
    # up to one part in 500.
    figures = []
    for gauge in range(28, 41, 2):
        wire = awg_wire(gauge)
        fill = 0.4 * wire.overall_area_m2 / wire.copper_area_m2
        spec = WindingSpec(wire, (24e-3, 16e-3), 12e-3, WireFill(fill), build_m=6e-3, fill=True)
        winding = resolve_winding(spec)
        resistance = float(wire_resistance_ohm(winding.wire_length_m, wire.bare_diameter_m))
        figures.append(winding.turns**2 / resistance)
    expected = 0.4 * 72e-6 / (float(resistivity_ohm_m()) * (0.08 + 24e-3))
    np.testing.assert_allclose(figures, expected, rtol=4e-3)


def test_heating_estimate():
    assert float(temperature_rise_K(1.0, 0.01)) == pytest.approx(10.0)
    assert temperature_rise_K([1.0, 2.0], 0.01, 20.0).tolist() == pytest.approx([5.0, 10.0])
    for surface, film in ((0.0, 10.0), (-1.0, 10.0), (0.01, 0.0), (math.nan, 10.0)):
        with pytest.raises(ValueError, match="above zero"):
            temperature_rise_K(1.0, surface, film)


def test_cautions_come_at_their_temperatures():
    assert heating_caution("c", 39.9) is None
    warm, hot = heating_caution("c", 40.1), heating_caution("c", 85.1)
    assert (warm.kind, warm.where, warm.limit) == ("coil heat", "c", 333.15)
    assert (hot.value, hot.limit) == (pytest.approx(378.25), 378.15)
    assert heating_caution("c", 39.9, air_K=283.15) is None
    assert heating_caution("c", 39.9, air_K=303.15) is not None
