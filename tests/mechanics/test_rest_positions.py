"""Rest angles, cogging and energy of a periodic torque."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldsim.mechanics.rest_positions import interaction_energy_J, rest_positions


def turn(count, period=2 * math.pi):
    return period * np.arange(count) / count


@given(st.integers(1, 6), st.floats(0.0, 6.28), st.floats(1e-6, 50))
@settings(max_examples=30, deadline=None)
def test_a_sine_rests_where_it_falls_through_zero(poles, phase, peak):
    rest = rest_positions(-peak * np.sin(poles * (turn(64) - phase)))
    expected = (phase + turn(poles)) % (2 * math.pi)
    assert len(rest.stable_rad) == len(rest.unstable_rad) == poles
    # Spline on 8 x 64 points: (step of 1/85 of a wave)^4 with headroom.
    off = np.abs(np.exp(1j * rest.stable_rad[:, None]) - np.exp(1j * expected)).min(axis=1)
    assert off.max() < 1e-5
    assert rest.torque_to_pass_Nm == pytest.approx(peak, rel=1e-5)
    assert rest.barrier_J == pytest.approx(2 * peak / poles, rel=1e-5)


def test_several_harmonics_and_an_asymmetric_peak():
    angle = turn(48)
    torque = np.sin(angle) + 0.8 * np.sin(2 * angle + 1.0)
    rest = rest_positions(torque)
    exact = [np.sin(rest.stable_rad) + 0.8 * np.sin(2 * rest.stable_rad + 1.0)]
    assert np.abs(exact).max() < 1e-6  # spline on 384 points
    fine = np.linspace(0, 2 * math.pi, 100_001)
    values = np.sin(fine) + 0.8 * np.sin(2 * fine + 1.0)
    assert rest.forward_Nm == pytest.approx(-values.min(), rel=1e-6)  # 384 points
    assert rest.back_Nm == pytest.approx(values.max(), rel=1e-6)
    assert rest.forward_Nm != pytest.approx(rest.back_Nm, rel=1e-2)


def test_stable_lies_at_the_bottom_of_the_energy():
    angle = turn(64)
    torque = -0.2 * np.sin(2 * angle - 0.4)
    rest = rest_positions(torque)
    energy = rest.energy_J
    lowest = angle[np.argmin(energy)]
    assert np.abs(np.exp(1j * rest.stable_rad) - np.exp(1j * lowest)).min() < 0.1  # one sample
    assert energy.mean() == pytest.approx(0.0, abs=1e-15)


def test_a_zero_at_the_first_sample_counts_once():
    for sign in (1, -1):
        rest = rest_positions(sign * np.sin(turn(16)))
        stable, unstable = (rest.stable_rad, rest.unstable_rad)[:: 1 if sign < 0 else -1]
        assert stable == pytest.approx([0.0], abs=1e-9)
        assert unstable == pytest.approx([math.pi], abs=1e-9)


def test_period_and_start_move_the_answer():
    period = math.pi / 2
    rest = rest_positions(-np.sin(4 * turn(32, period)), period, start_rad=1.0)
    # Angles are counted from the first sample's, within one period.
    assert rest.stable_rad == pytest.approx([1.0], abs=1e-9)
    assert rest.unstable_rad == pytest.approx([1.0 + period / 2], abs=1e-9)
    assert rest.barrier_J == pytest.approx(2 / 4, rel=1e-6)  # spline on 256 points


def test_no_torque_rests_anywhere():
    rest = rest_positions(1e-9 * np.sin(turn(16)), negligible_Nm=1e-8)
    assert rest.stable_rad.size == rest.unstable_rad.size == 0
    assert rest.torque_to_pass_Nm == 0.0
    assert rest_positions(np.zeros(8)).stable_rad.size == 0


def test_a_torque_that_never_changes_sign_has_no_rest():
    rest = rest_positions(1.0 + 0.5 * np.sin(turn(16)))
    assert rest.stable_rad.size == rest.unstable_rad.size == 0
    assert rest.forward_Nm == 0.0
    assert rest.back_Nm == pytest.approx(1.5, rel=1e-5)  # spline on 128 points
    assert rest.barrier_J == 0.0


def test_the_highest_harmonic_is_not_doubled():
    # Alternating samples: the series through them is cos(4 angle), no more than 1.
    rest = rest_positions([1.0, -1.0] * 4)
    assert rest.torque_to_pass_Nm == pytest.approx(1.0, rel=1e-3)  # 16 points a wave
    assert len(rest.stable_rad) == 4


def test_energy_is_the_integral_for_odd_and_even_counts():
    for count in (15, 16):
        angle = turn(count)
        energy = interaction_energy_J(np.sin(angle) - 0.3 * np.cos(3 * angle))
        assert energy == pytest.approx(np.cos(angle) + 0.1 * np.sin(3 * angle), abs=1e-14)


@pytest.mark.parametrize("bad", [[1.0, 2.0], np.zeros((4, 4))])
def test_too_little_is_refused(bad):
    with pytest.raises(ValueError, match="at least 4 samples in one dimension"):
        rest_positions(bad)
