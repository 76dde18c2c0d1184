"""Figures of waveforms whose figures are known in closed form."""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldsim.waveform.emf import EmfWaveform, Speed
from fieldsim.waveform.figures import emf_figures
from fieldsim.waveform.period import Period

SPEED = Speed(2 * math.pi, (Fraction(1),), "crank")  # one turn a second


def waveform(linkage, emf, frequency=1.0, exact=True) -> EmfWaveform:
    linkage, emf = np.atleast_2d(linkage), np.atleast_2d(emf)
    count = linkage.shape[1]
    names = tuple(f"c{i}" for i in range(len(linkage)))
    return EmfWaveform(
        names,
        np.arange(count) / count,
        emf,
        linkage,
        np.full(len(names), frequency),
        SPEED,
        Period(Fraction(1), exact),
        0.0,
        np.sqrt(np.mean(emf**2, axis=1)),
    )


def sines(count, amplitudes, phases, offset=0.0):
    """Linkage sum a_k sin(k w t + p_k), and the EMF that belongs to it."""
    t = 2 * np.pi * np.arange(count) / count
    linkage, emf = np.full(count, offset), np.zeros(count)
    for k, (a, p) in enumerate(zip(amplitudes, phases, strict=True), start=1):
        linkage = linkage + a * np.sin(k * t + p)
        emf = emf - 2 * np.pi * k * a * np.cos(k * t + p)
    return linkage, emf


@settings(max_examples=60, deadline=None)
@given(st.floats(0, 2 * math.pi), st.integers(64, 800), st.floats(-5.0, 5.0))
def test_sine(phase, count, offset):
    """Peak w a, RMS w a / sqrt 2, mean 2 w a / pi: form factor pi / (2 sqrt 2) = 1.1107."""
    figures = emf_figures(waveform(*sines(count, [0.3], [phase], offset)))["c0"]
    peak = 2 * math.pi * 0.3
    # Extremes are those of cubics through slopes: (2 pi / 64)^4 / 384 of the amplitude at most.
    assert figures.peak_V == pytest.approx(peak, rel=3e-7)
    assert figures.rms_V == pytest.approx(peak / math.sqrt(2), rel=1e-12)  # equal steps: exact
    assert figures.rectified_mean_V == pytest.approx(peak * 2 / math.pi, rel=3e-7)
    assert figures.form_factor == pytest.approx(1.11072073454, rel=3e-7)
    assert figures.peak_to_peak_linkage_Wb == pytest.approx(0.6, rel=3e-7)
    assert figures.frequency_Hz == 1.0


@pytest.mark.parametrize("count", [64, 101, 720])
@pytest.mark.parametrize("quarter", range(4))
@pytest.mark.parametrize("zeros", [1, 2])
def test_sine_with_samples_on_its_turning_points(count, quarter, zeros):
    """An EMF of exactly zero at a sample marks a turning point as well."""
    linkage, emf = sines(count, [0.3], [quarter * math.pi / 2])
    emf[np.flatnonzero(np.abs(emf) < 1e-12)[:zeros]] = 0.0
    figures = emf_figures(waveform(linkage, emf))["c0"]
    assert figures.rectified_mean_V == pytest.approx(4 * 0.3, rel=3e-7)  # as above
    assert figures.peak_V == pytest.approx(2 * math.pi * 0.3, rel=3e-7)


def triangle(count, orders=399):
    """EMF of a triangle of unit height, by its Fourier series; linkage is its integral."""
    t = 2 * np.pi * np.arange(count) / count
    k = np.arange(1, orders + 1, 2)
    emf = 8 / np.pi**2 * (np.cos(np.outer(t, k)) / k**2).sum(axis=1)
    linkage = -8 / np.pi**2 * (np.sin(np.outer(t, k)) / (2 * np.pi * k**3)).sum(axis=1)
    return linkage, emf


def test_triangle():
    """Form factor 2 / sqrt 3 = 1.1547, crest sqrt 3."""
    figures = emf_figures(waveform(*triangle(4000)))["c0"]
    # The series cut at 399 lacks 8/pi^2 times sum of 1/k^2 beyond: 1.0e-3 of the peak; its square
    # sums to 5e-9 of the mean square; the linkage's swing lacks alternating 1/k^3 terms: 1e-8.
    assert figures.peak_V == pytest.approx(1.0, rel=1.1e-3)
    assert figures.rms_V == pytest.approx(1 / math.sqrt(3), rel=1e-7)
    assert figures.rectified_mean_V == pytest.approx(0.5, rel=1e-7)
    assert figures.form_factor == pytest.approx(1.15470053838, rel=1e-7)
    assert figures.peak_to_peak_linkage_Wb == pytest.approx(0.25, rel=1e-7)


def test_triangular_linkage_gives_a_square():
    """Form factor 1; the series is cut, so the square has overshoot (Gibbs: 17.9 % over)."""
    t = 2 * np.pi * np.arange(20000) / 20000
    k = np.arange(1, 400, 2)
    linkage = 8 / np.pi**2 * (np.cos(np.outer(t, k)) / k**2).sum(axis=1)
    emf = 16 / np.pi * (np.sin(np.outer(t, k)) / k).sum(axis=1)
    figures = emf_figures(waveform(linkage, emf))["c0"]
    # Wilbraham-Gibbs constant: 2/pi Si(pi) = 1.178979744 as the number of terms grows.
    assert figures.peak_V == pytest.approx(4 * 1.178979744, rel=1e-4)
    # Half the mean square beyond order 399 is missing: 8/pi^2 / (4 * 200) / 2 = 5e-4.
    assert figures.rms_V == pytest.approx(4.0, rel=6e-4)
    assert figures.rectified_mean_V == pytest.approx(4.0, rel=1.1e-3)  # as a triangle's peak


def test_two_pulses_of_the_linkage():
    """The mean of |EMF| counts every rise and fall: here sin 3wt travels 12 amplitudes."""
    figures = emf_figures(waveform(*sines(720, [0, 0, 0.1], [0, 0, 0.3])))["c0"]
    assert figures.rectified_mean_V == pytest.approx(1.2, rel=1e-8)
    assert figures.peak_to_peak_linkage_Wb == pytest.approx(0.2, rel=1e-8)


@settings(max_examples=30, deadline=None)
@given(
    st.lists(st.floats(-1, 1), min_size=3, max_size=5),
    st.lists(st.floats(0, 6.3), min_size=5, max_size=5),
)
def test_against_dense_sampling(amplitudes, phases):
    """Any sum of a few sines: figures from 480 samples against brute force with 50000."""
    if max(map(abs, amplitudes)) < 0.05:
        return
    phases = phases[: len(amplitudes)]
    figures = emf_figures(waveform(*sines(480, amplitudes, phases)))["c0"]
    linkage, emf = sines(50_000, amplitudes, phases)
    scale = np.abs(emf).max()
    # Peaks between 50000 samples hide (5 w dt)^2 / 8 = 5e-8; |EMF| is summed across kinks: 1e-7.
    assert figures.peak_V == pytest.approx(scale, rel=2e-6)
    assert figures.rms_V == pytest.approx(np.sqrt(np.mean(emf**2)), rel=1e-10)
    assert figures.rectified_mean_V == pytest.approx(np.abs(emf).mean(), abs=2e-6 * scale)
    assert figures.peak_to_peak_linkage_Wb == pytest.approx(np.ptp(linkage), abs=2e-6 * scale)


def test_no_linkage_gives_nothing():
    figures = emf_figures(waveform(np.zeros(100), np.zeros(100)))["c0"]
    assert (figures.peak_V, figures.rms_V, figures.rectified_mean_V) == (0.0, 0.0, 0.0)
    assert figures.peak_to_peak_linkage_Wb == 0.0
    assert math.isnan(figures.form_factor)


def test_constant_linkage_gives_nothing():
    figures = emf_figures(waveform(np.full(100, 0.2), np.zeros(100)))["c0"]
    assert (figures.peak_V, figures.rms_V, figures.rectified_mean_V) == (0.0, 0.0, 0.0)


def test_coils_are_kept_apart():
    first, second = sines(720, [0.1], [0.0]), sines(720, [0.0, 0.4], [0.0, 1.0])
    both = waveform(np.stack([first[0], second[0]]), np.stack([first[1], second[1]]))
    figures = emf_figures(both)
    assert list(figures) == ["c0", "c1"]
    assert figures["c0"].rectified_mean_V == pytest.approx(0.4, rel=1e-8)
    assert figures["c1"].rectified_mean_V == pytest.approx(3.2, rel=1e-8)


def test_window_that_does_not_repeat():
    """Its mean is summed over the samples, since the ends do not join."""
    t = np.arange(4000) / 4000
    linkage, emf = 0.1 * np.sin(9.3 * t), -0.93 * np.cos(9.3 * t)
    figures = emf_figures(waveform(linkage, emf, exact=False))["c0"]
    # A sum over 4000 samples misses half of one at the end: 1 / 8000.
    dense = np.abs(0.93 * np.cos(9.3 * np.linspace(0, 1, 400_001))).mean()
    assert figures.rectified_mean_V == pytest.approx(dense, rel=3e-4)
    assert figures.peak_V == pytest.approx(0.93, rel=1e-6)
    assert figures.peak_to_peak_linkage_Wb == pytest.approx(0.2, rel=1e-6)
