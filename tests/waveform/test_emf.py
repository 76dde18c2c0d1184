"""EMF at a speed, from flux tables whose curves are known."""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from machines import Standing, coil, rotor

from fieldsim.errors import ImpossibleError
from fieldsim.waveform.emf import crank_speed, emf_waveform, rotor_speed
from fieldsim.waveform.figures import emf_figures
from fieldsim.waveform.flux_table import FluxTable


def machine(*ratios, starts=None, coils=1) -> Standing:
    """Rotors without magnets: the tables below say what they link."""
    starts = starts or [0.0] * len(ratios)
    rotors = tuple(
        rotor(name=f"r{i}", ratio=Fraction(ratio), start=start)
        for i, (ratio, start) in enumerate(zip(ratios, starts, strict=True))
    )
    return Standing("known curves", rotors, tuple(coil(name=f"c{i}") for i in range(coils)))


# A curve with every phase and a few orders: c_k of linkage = c_0 + 2 Re sum c_k exp(i k angle).
CURVE = np.array([0.4, 0.05 - 0.02j, 0.01j, -0.004 + 0.003j, 0.0, 0.001])
OTHER = np.array([-0.1, 0.02 + 0.03j, -0.015, 0.002j])


def value(curve, angle):
    k = np.arange(len(curve))
    return 2 * (np.exp(1j * np.multiply.outer(angle, k)) @ curve).real - curve[0].real


def slope(curve, angle):
    k = np.arange(len(curve))
    return 2 * (np.exp(1j * np.multiply.outer(angle, k)) @ (1j * k * curve)).real


def table(*curves, angles=64, coils=1) -> FluxTable:
    """One coil (or ``coils`` like it, of falling strength) linked with one rotor a curve."""
    angle = 2 * np.pi * np.arange(angles) / angles
    linkage = np.array([[value(c, angle) / n for c in curves] for n in range(1, coils + 1)])
    return FluxTable(
        tuple(f"c{i}" for i in range(coils)),
        tuple(f"r{i}" for i in range(len(curves))),
        linkage,
        np.full(linkage.shape[:2], 1e-6),
        "known curves",
    )


SINE = np.array([0.0, -0.15j])  # 0.3 sin(angle)


@pytest.mark.parametrize("ratio", [1, 9, -9])
@pytest.mark.parametrize("rpm", [60, 120, 3000])
def test_sinusoidal_linkage_is_exact(ratio, rpm):
    """EMF = -w a cos(w t): peak, RMS, mean and form factor in closed form."""
    described = machine(ratio)
    speed = crank_speed(described, rpm * math.pi / 30)
    waveform = emf_waveform(table(SINE), described, speed)
    omega = ratio * rpm * math.pi / 30
    # Only rounding stands between: a few times 1e-16 of the peak, times the 64 angles summed.
    expected = -0.3 * omega * np.cos(omega * waveform.time_s)
    assert waveform.emf_V[0] == pytest.approx(expected, abs=1e-13 * 0.3 * abs(omega))
    linkage = 0.3 * np.sin(omega * waveform.time_s)
    assert waveform.linkage_Wb[0] == pytest.approx(linkage, abs=1e-14)
    figures = emf_figures(waveform)["c0"]
    peak = 0.3 * abs(omega)
    # Extremes of cubics between 720 samples: (2 pi / 720)^4 / 384 = 1.5e-11.
    assert figures.peak_V == pytest.approx(peak, rel=3e-11)
    assert figures.rms_V == pytest.approx(peak / math.sqrt(2), rel=1e-13)
    assert figures.rectified_mean_V == pytest.approx(2 * peak / math.pi, rel=3e-11)
    assert figures.form_factor == pytest.approx(math.pi / (2 * math.sqrt(2)), rel=3e-11)
    assert figures.frequency_Hz == pytest.approx(abs(ratio) * rpm / 60, rel=1e-14)
    assert figures.peak_to_peak_linkage_Wb == pytest.approx(0.6, rel=3e-11)


RATIOS = ["9", "-2.5", "10/3", "-1", "1/3"]


@pytest.mark.parametrize("ratio", RATIOS)
@pytest.mark.parametrize("samples", [None, 97, 5000])
def test_any_curve_at_any_ratio_and_start(ratio, samples):
    described = machine(ratio, starts=[0.7])
    speed = crank_speed(described, 10.0)
    waveform = emf_waveform(table(CURVE), described, speed, samples=samples)
    omega = float(Fraction(ratio)) * 10.0
    angle = 0.7 + omega * waveform.time_s
    assert waveform.linkage_Wb[0] == pytest.approx(value(CURVE, angle), abs=1e-14)  # rounding
    assert waveform.emf_V[0] == pytest.approx(-omega * slope(CURVE, angle), abs=1e-13 * abs(omega))
    assert waveform.period_s == pytest.approx(2 * math.pi / abs(omega), rel=1e-15)
    assert len(waveform.time_s) == (samples or 720)


@pytest.mark.parametrize("ratios", [("9", "-9"), ("9", "-2.5"), ("10/3", "-2.5"), ("3", "6")])
def test_rotors_add(ratios):
    described = machine(*ratios, starts=[0.2, -1.1])
    waveform = emf_waveform(table(CURVE, OTHER), described, crank_speed(described, 7.0))
    expected, total = 0.0, 0.0
    for ratio, start, curve in zip(ratios, (0.2, -1.1), (CURVE, OTHER), strict=True):
        omega = 7.0 * float(Fraction(ratio))
        angle = start + omega * waveform.time_s
        expected = expected - omega * slope(curve, angle)
        total = total + value(curve, angle)
    assert waveform.period.exact
    assert waveform.emf_V[0] == pytest.approx(expected, abs=1e-12)  # rounding of up to 20 V
    assert waveform.linkage_Wb[0] == pytest.approx(total, abs=1e-14)
    # The end of the period joins its start.
    end = waveform.period_s
    for ratio in ratios:
        whole = 7.0 * float(Fraction(ratio)) * end / (2 * math.pi)
        assert whole == pytest.approx(round(whole), abs=1e-12)


def test_incommensurate_ratios_get_a_window():
    described = machine("1", "3.14159", starts=[0.1, 0.2])
    waveform = emf_waveform(table(CURVE, OTHER), described, crank_speed(described, 2 * math.pi))
    assert not waveform.period.exact
    assert waveform.period_s == pytest.approx(100.0)
    t = waveform.time_s
    expected = sum(
        -2 * math.pi * r * slope(c, s + 2 * math.pi * r * t)
        for r, s, c in ((1.0, 0.1, CURVE), (3.14159, 0.2, OTHER))
    )
    # Angles of 2000 rad are rounded to 2e-13.
    assert waveform.emf_V[0] == pytest.approx(expected, abs=1e-11)


def test_nearly_equal_ratios_are_not_taken_for_equal():
    described = machine("9", "9.001")
    waveform = emf_waveform(table(SINE, -SINE), described, crank_speed(described, 1.0))
    t = waveform.time_s
    expected = -2.7 * np.cos(9 * t) + 2.7003 * np.cos(9.001 * t)
    assert waveform.emf_V[0] == pytest.approx(expected, abs=1e-11)


@settings(max_examples=25, deadline=None)
@given(
    st.sampled_from(RATIOS),
    st.sampled_from(RATIOS),
    st.floats(-6.0, 6.0),
    st.floats(0.5, 200.0),
)
def test_speed_scales_the_emf_and_shortens_the_time(first, second, start, speed_rad_per_s):
    described = machine(first, second, starts=[start, 0.3])
    once = emf_waveform(table(CURVE, OTHER), described, crank_speed(described, speed_rad_per_s))
    twice = emf_waveform(
        table(CURVE, OTHER), described, crank_speed(described, 2 * speed_rad_per_s)
    )
    # Doubling is exact in binary numbers.
    assert np.array_equal(twice.emf_V, 2 * once.emf_V)
    assert np.array_equal(twice.linkage_Wb, once.linkage_Wb)
    assert twice.time_s == pytest.approx(once.time_s / 2, rel=1e-14)
    assert twice.frequency_Hz == pytest.approx(2 * once.frequency_Hz, rel=1e-14)


def test_turning_the_crank_backwards_runs_the_film_backwards():
    described = machine("9", "-2.5", starts=[0.4, 1.0])
    forth = emf_waveform(table(CURVE, OTHER), described, crank_speed(described, 5.0))
    back = emf_waveform(table(CURVE, OTHER), described, crank_speed(described, -5.0))
    mirrored = np.roll(forth.linkage_Wb[:, ::-1], 1, axis=1)
    assert back.linkage_Wb == pytest.approx(mirrored, abs=1e-14)  # rounding
    assert back.emf_V == pytest.approx(-np.roll(forth.emf_V[:, ::-1], 1, axis=1), abs=1e-12)
    assert back.frequency_Hz == pytest.approx(forth.frequency_Hz, rel=1e-14)


def test_start_shifts_the_waveform():
    """A rotor that starts a quarter of a turn on is a quarter of its period ahead."""
    at_zero, ahead = machine(9), machine(9, starts=[math.pi / 2])
    first = emf_waveform(table(CURVE), at_zero, crank_speed(at_zero, 5.0))
    second = emf_waveform(table(CURVE), ahead, crank_speed(ahead, 5.0))
    quarter = len(first.time_s) // 4
    assert second.emf_V == pytest.approx(np.roll(first.emf_V, -quarter, axis=1), abs=1e-12)


def test_rotor_speed_takes_only_the_sign_of_the_ratio():
    described = machine("9", "-2.5", starts=[0.4, 1.0])
    waveform = emf_waveform(table(CURVE, OTHER), described, rotor_speed(described, 50.0))
    assert waveform.speed.rotors_rad_per_s == (50.0, -50.0)
    t = waveform.time_s
    expected = -50 * slope(CURVE, 0.4 + 50 * t) + 50 * slope(OTHER, 1.0 - 50 * t)
    assert waveform.emf_V[0] == pytest.approx(expected, abs=1e-12)
    assert waveform.period_s == pytest.approx(2 * math.pi / 50, rel=1e-15)


def test_crank_speed_multiplies_by_the_ratio():
    described = machine("9", "-2.5")
    assert crank_speed(described, 4.0).rotors_rad_per_s == (36.0, -10.0)


def test_frequency_counts_what_repeats():
    """Four like poles give four waves a turn, although the rotor turns once."""
    four = np.zeros(9, dtype=complex)
    four[4], four[8] = 0.1, 0.02j
    described = machine(9)
    waveform = emf_waveform(table(four), described, crank_speed(described, 2 * math.pi))
    assert waveform.frequency_Hz[0] == pytest.approx(36.0, rel=1e-14)


def test_coils_have_their_own_rows():
    described = machine(9, coils=2)
    waveform = emf_waveform(table(CURVE, coils=2), described, crank_speed(described, 3.0))
    assert waveform.emf_V[1] == pytest.approx(waveform.emf_V[0] / 2, abs=1e-13)


def test_number_of_angles_does_not_matter():
    """Once there are enough: the series is the same."""
    described = machine("10/3", starts=[0.7])
    speed = crank_speed(described, 10.0)
    one = emf_waveform(table(CURVE, angles=45), described, speed, samples=500)
    other = emf_waveform(table(CURVE, angles=720), described, speed, samples=500)
    # Rounding of 720 angles' sums, raised by the order 359 where rounding noise is kept.
    assert other.emf_V == pytest.approx(one.emf_V, abs=1e-11)


def test_error_of_the_table_is_handed_on():
    described = machine(1)
    source = table(CURVE)
    assert emf_waveform(source, described, crank_speed(described, 1.0)).relative_error == 1e-6


@pytest.mark.parametrize("speed", [0.0, float("nan"), float("inf"), -float("inf")])
def test_impossible_speeds(speed):
    with pytest.raises(ImpossibleError, match="above zero and finite"):
        crank_speed(machine(1), speed)


def test_too_fast():
    with pytest.raises(ImpossibleError, match="a rotor would turn at"):
        crank_speed(machine(9), 2 * math.pi * 1200)
    assert crank_speed(machine(9), 2 * math.pi * 1100).base_rad_per_s > 0


def test_table_of_another_machine():
    with pytest.raises(ImpossibleError, match="which are not the machine's"):
        emf_waveform(table(CURVE, OTHER), machine(9), crank_speed(machine(9), 1.0))


def test_too_few_angles():
    described = machine(9)
    with pytest.raises(ImpossibleError, match="12 angles are too few to differentiate"):
        emf_waveform(table(CURVE, angles=12), described, crank_speed(described, 1.0))


@pytest.mark.parametrize("samples", [1, 7, 4_000_001])
def test_impossible_samples(samples):
    described = machine(9)
    with pytest.raises(ImpossibleError, match="samples is out of range; allowed: 8 to"):
        emf_waveform(table(CURVE), described, crank_speed(described, 1.0), samples=samples)
