import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldsim.circuit.diode_law import (
    JunctionLaw,
    WaveLaws,
    diode_current_A,
    diode_voltage_V,
    junction_through,
    thermal_voltage_V,
)

laws = st.builds(
    JunctionLaw,
    saturation_A=st.floats(-30, -6).map(lambda x: 10.0**x),
    slope_V=st.floats(0.02, 0.2),
    series_ohm=st.sampled_from([0.0, 0.05, 15.0]),
    leakage_S=st.sampled_from([0.0, 1e-9, 1e-6]),
)


def test_thermal_voltage_of_the_si_constants():
    # k and q are exact since 2019; values to 12 digits computed independently
    assert thermal_voltage_V(293.15) == pytest.approx(0.025261712458, rel=1e-10)
    assert thermal_voltage_V(298.15) == pytest.approx(0.0256925791211, rel=1e-11)


@settings(max_examples=60, deadline=None)
@given(laws, st.floats(-20, 20), st.floats(0.1, 1e4))
def test_wave_law_is_the_same_law(law, u, wave_ohm):
    point = WaveLaws.from_laws([law], wave_ohm).at(np.array([u]))
    current = float(diode_current_A(point.voltage_V, law)[0])
    # voltages are rounded to 1e-15 of the 20 V of u, which the slope turns into currents
    conductance = float(point.current_slope_S[0] / point.voltage_slope[0])
    assert float(point.current_A[0]) == pytest.approx(
        current, rel=1e-9, abs=1e-13 * (1 + abs(u)) * conductance + 1e-22
    )


@settings(max_examples=60, deadline=None)
@given(laws, st.floats(-5, 5))
def test_wave_slopes_are_the_derivatives(law, u):
    laws_ = WaveLaws.from_laws([law], 100.0)
    step = 1e-4 * law.slope_V
    low, mid, high = (laws_.at(np.array([u + s])) for s in (-step, 0.0, step))
    # central difference: (step/slope)^2 / 6 = 2e-9, and rounding 1e-15 * 5 / step = 3e-9
    for name, value in (("voltage_slope", "voltage_V"), ("current_slope_S", "current_A")):
        rise = (getattr(high, value) - getattr(low, value)) / (2 * step)
        assert getattr(mid, name)[0] == pytest.approx(rise[0], rel=1e-6, abs=1e-7)


@settings(max_examples=30, deadline=None)
@given(laws, st.integers(1, 5), st.integers(1, 30), st.floats(-3, 6))
def test_grouped_law_is_that_of_the_parts(law, series, parallel, volt):
    group = float(diode_current_A(series * volt, law.grouped(series, parallel)))
    single = float(diode_current_A(volt, law))
    # near zero volt the current is a difference of numbers as large as Is
    slack = 1e-14 * parallel * law.saturation_A + 1e-25
    assert group == pytest.approx(parallel * single, rel=1e-9, abs=slack)


def test_softening_keeps_the_place_of_the_knee():
    law = junction_through(3.2, 0.02, 0.05, 15.0)
    sharp = WaveLaws.from_laws([law], 600.0)
    far = np.array([12.0])
    # a volt off the knee counts as far, also for one eight times as wide
    soft = sharp.softened(8.0).at(far)
    assert float(soft.current_A[0]) == pytest.approx(float(sharp.at(far).current_A[0]), rel=0.2)
    assert float(sharp.softened(8.0).at(np.array([-5.0])).current_A[0]) < 1e-6


def test_voltage_undoes_current():
    law = JunctionLaw(1e-14, 0.05, 2.0, 0.0)
    current = np.array([1e-6, 1e-3, 0.1])
    assert diode_current_A(diode_voltage_V(current, law), law) == pytest.approx(current, rel=1e-9)


@pytest.mark.parametrize(
    "arguments", [(0.0, 0.05), (1e-12, 0.0), (1e-12, 0.05, -1.0), (1e-12, 0.05, 0.0, -1.0)]
)
def test_impossible_laws(arguments):
    with pytest.raises(ValueError, match="junction"):
        JunctionLaw(*arguments)


def test_series_resistance_that_takes_everything():
    with pytest.raises(ValueError, match="whole forward voltage"):
        junction_through(2.0, 0.02, 0.05, 150.0)
