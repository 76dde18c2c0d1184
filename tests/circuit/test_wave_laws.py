import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldsim.circuit.wave_laws import WaveLaws
from fieldsim.machine.load.diode_law import JunctionLaw, diode_current_A, junction_through

laws = st.builds(
    JunctionLaw,
    saturation_A=st.floats(-30, -6).map(lambda x: 10.0**x),
    slope_V=st.floats(0.02, 0.2),
    series_ohm=st.sampled_from([0.0, 0.05, 15.0]),
    leakage_S=st.sampled_from([0.0, 1e-9, 1e-6]),
)


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


def test_softening_keeps_the_place_of_the_knee():
    law = junction_through(3.2, 0.02, 0.05, 15.0)
    sharp = WaveLaws.from_laws([law], 600.0)
    far = np.array([12.0])
    # a volt off the knee counts as far, also for one eight times as wide
    soft = sharp.softened(8.0).at(far)
    assert float(soft.current_A[0]) == pytest.approx(float(sharp.at(far).current_A[0]), rel=0.2)
    assert float(sharp.softened(8.0).at(np.array([-5.0])).current_A[0]) < 1e-6
