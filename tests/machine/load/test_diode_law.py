import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldsim.machine.load.diode_law import (
    JunctionLaw,
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


@settings(max_examples=30, deadline=None)
@given(laws, st.integers(1, 5), st.integers(1, 30), st.floats(-3, 6))
def test_grouped_law_is_that_of_the_parts(law, series, parallel, volt):
    group = float(diode_current_A(series * volt, law.grouped(series, parallel)))
    single = float(diode_current_A(volt, law))
    # near zero volt the current is a difference of numbers as large as Is
    slack = 1e-14 * parallel * law.saturation_A + 1e-25
    assert group == pytest.approx(parallel * single, rel=1e-9, abs=slack)


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
