import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from fieldsim.circuit.emf_source import CrankStart, PeriodicEmf, emf_while_turning


@pytest.mark.parametrize("samples", [31, 32, 128, 5000])
def test_band_limited_waveforms_are_followed_between_the_samples(samples):
    def wave(t):
        return np.cos(2 * np.pi * 3 * t) - 0.5 * np.sin(2 * np.pi * 11 * t)

    emf = PeriodicEmf(1.0, wave(np.arange(samples) / samples))
    t = np.linspace(-1, 2, 777)
    # cubic spline on 2000 or more points: (2 pi 11/2000)^4 / 384 = 4e-9
    assert np.abs(emf(t)[0] - wave(t)).max() < 2e-8


def test_faster_and_scaled():
    t = np.arange(16) / 16
    emf = PeriodicEmf(0.1, np.array([np.sin(2 * np.pi * t), np.cos(2 * np.pi * t)]))
    fast = emf.faster(2.0)
    assert fast.period_s == 0.05
    assert fast([0.01])[:, 0] == pytest.approx(2 * emf([0.02])[:, 0], rel=1e-9)
    assert emf.scaled([1.0, -3.0]).emf_V[1] == pytest.approx(-3 * emf.emf_V[1])
    assert (emf.coils, emf.samples, emf.bandwidth) == (2, 16, 1)


@pytest.mark.parametrize(
    ("period", "values"),
    [(0.0, np.zeros(8)), (-1.0, np.zeros(8)), (1.0, np.zeros(3)), (1.0, np.full(8, np.nan))],
)
def test_impossible_waveforms(period, values):
    with pytest.raises(ValueError):
        PeriodicEmf(period, values)


@settings(max_examples=25, deadline=None)
@given(
    st.floats(-20, 20),
    st.one_of(st.just(0.0), st.floats(0.01, 2)),
    st.floats(0, 0.9),
    st.floats(0.3, 4),
    st.floats(0.01, 3),
)
def test_crank_angle_is_the_integral_of_its_speed(speed, ramp, wobble, hertz, end):
    crank = CrankStart(speed, ramp, wobble, hertz)
    corner = [ramp] if 0 < ramp < end else None
    exact, error = quad(
        lambda t: float(crank.speed_at_rad_per_s(t)), 0, end, points=corner, limit=200
    )
    # quad's own error, and the cancellation of 1/w^2 terms: about 1e-13 of the speed
    assert float(crank.angle_rad(end)) == pytest.approx(exact, abs=10 * error + 1e-11)
    assert abs(float(crank.speed_at_rad_per_s(end))) <= crank.fastest_rad_per_s + 1e-12


@pytest.mark.parametrize("keys", [{"ramp_s": -1.0}, {"wobble": 1.0}, {"wobble_Hz": 0.0}])
def test_impossible_cranks(keys):
    with pytest.raises(ValueError):
        CrankStart(1.0, **keys)


def test_sign_of_the_emf():
    # linkage sin(angle): it grows at angle 0, so the EMF is negative there
    emf = emf_while_turning(
        lambda a: np.cos(a)[None], lambda t: 3 * t, lambda t: np.full_like(t, 3.0)
    )
    assert float(emf(np.array([0.0]))[0, 0]) == -3.0


def test_the_shortest_ramp_there_is_counts_as_none():
    at_once, short = CrankStart(10.0, 0.0, 0.1, 3.0), CrankStart(10.0, 5e-324, 0.1, 3.0)
    times = np.linspace(0, 1, 7)
    assert short.angle_rad(times).tolist() == at_once.angle_rad(times).tolist()


def test_four_samples_are_the_fewest():
    assert PeriodicEmf(1.0, np.array([0.0, 1.0, 0.0, -1.0])).samples == 4
    with pytest.raises(ValueError, match=r"shape \(coils, samples >= 4\), not \(1, 3\)"):
        PeriodicEmf(1.0, np.zeros(3))
