"""What is conserved: flux over a turn, work between shaft and coil, moment of the EMF's area."""

from __future__ import annotations

import math
from fractions import Fraction

import magpylib
import numpy as np
import pytest
from machines import GEOMETRIES, Standing, block, coil, machine_of, mounted, rotor, shipped

from fieldsim.machine.magpylib_collection import magpylib_magnet
from fieldsim.waveform.emf import crank_speed, emf_waveform
from fieldsim.waveform.figures import emf_figures
from fieldsim.waveform.flux_table import flux_table

MM = 1e-3
NAMES = sorted(path.stem for path in GEOMETRIES.glob("*.yaml"))


@pytest.fixture(scope="module")
def results():
    found = {}
    for name in NAMES:
        described = shipped(name)
        found[name] = (described, flux_table(described, tolerance=1e-4))
    return found


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("rpm", [30, 120])
def test_emf_integrates_to_zero_over_a_period(name, rpm, results):
    described, table = results[name]
    waveform = emf_waveform(table, described, crank_speed(described, rpm * math.pi / 30))
    assert waveform.period.exact
    mean = waveform.emf_V.mean(axis=1)
    # Equal steps over a period integrate a Fourier series exactly: rounding is left.
    assert np.abs(mean).max() < 1e-12 * np.abs(waveform.emf_V).max()


@pytest.mark.parametrize("name", NAMES)
def test_area_under_the_emf_is_the_change_of_linkage(name, results):
    """From trough to crest of the linkage, whatever the speed."""
    described, table = results[name]
    for rpm in (20, 200):
        speed = crank_speed(described, rpm * math.pi / 30)
        waveform = emf_waveform(table, described, speed, samples=20_000)
        step = waveform.period_s / 20_000
        # Trapezoids: second order in 20000 steps of orders up to some hundred: 1e-5.
        area = np.cumsum((waveform.emf_V + np.roll(waveform.emf_V, 1, axis=1)) / 2 * step, axis=1)
        change = waveform.linkage_Wb - waveform.linkage_Wb[:, :1]
        area = area - area[:, :1]
        assert np.abs(area + change).max() < 3e-5 * np.ptp(waveform.linkage_Wb)


@pytest.mark.parametrize("name", NAMES)
def test_figures_scale_with_speed(name, results):
    described, table = results[name]
    slow = emf_figures(emf_waveform(table, described, crank_speed(described, 3.0)))
    fast = emf_figures(emf_waveform(table, described, crank_speed(described, 6.0)))
    for name in slow:
        for figure in ("peak_V", "rms_V", "rectified_mean_V", "frequency_Hz"):
            # Twice as fast in exact binary arithmetic, up to the order of some products.
            assert getattr(fast[name], figure) == pytest.approx(
                2 * getattr(slow[name], figure), rel=1e-12
            )
        swing = slow[name].peak_to_peak_linkage_Wb
        assert fast[name].peak_to_peak_linkage_Wb == pytest.approx(swing, rel=1e-12)
        assert slow[name].peak_V >= slow[name].rms_V >= slow[name].rectified_mean_V > 0
        # The mean counts at least one way up and one way down each period.
        assert slow[name].rectified_mean_V >= 2 * swing * slow[name].frequency_Hz * (1 - 1e-9)


def test_shaft_work_is_what_the_coil_takes():
    """With a fixed current the torque's work over any arc is current times change of linkage.

    Torque from the other side: magpylib's force on the coil's turns in the magnet's field, whose
    moment about the shaft is the magnet's reversed (action and reaction).
    """
    on_arm = mounted(block(12, 8, 6), radius=20, height=15)
    turning = rotor(on_arm)
    line = coil(opening=(20, 14), length=1e-3, build=1e-3, turns=50)
    described = Standing("arc", (turning,), (line,))
    table = flux_table(described, angles=360, tolerance=1e-6)
    current = 0.8
    corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1], [-1, -1]]) * [10 * MM, 7 * MM]
    vertices = np.column_stack([corners[:, 0], corners[:, 1] + 22 * MM, np.zeros(5)])
    loop = magpylib.current.Polyline(vertices=vertices, current=50 * current)
    x, w = np.polynomial.legendre.leggauss(8)
    start, end = math.radians(50), math.radians(80)
    work = 0.0
    for angle, weight in zip((start + end) / 2 + (end - start) / 2 * x, w, strict=True):
        source = magpylib_magnet(turning, on_arm, angle)
        _, torque = magpylib.getFT(source, loop, pivot=(0, 0, 0), meshing=400)
        work += weight * (end - start) / 2 * -torque[2]
    gained = current * (table.linkage_Wb[0, 0, 80] - table.linkage_Wb[0, 0, 50])
    # Segments of 0.2 mm at 12 mm leave 1e-5; so does the table's 1e-6 of the peak-to-peak.
    assert work == pytest.approx(gained, rel=1e-4)


@pytest.mark.parametrize("ratio", [Fraction(9), Fraction(-5, 2), Fraction(10, 3)])
def test_one_crank_turn_carries_the_swing_as_often_as_the_rotor_turns(ratio):
    """Mean of |EMF| times the time is the path of the linkage: a multiple of the rotor's turns."""
    on_arm = mounted(block(12, 8, 6), radius=20, height=15)
    winding = coil(opening=(20, 14), length=8, build=3, turns=50)
    path = {}
    for r in (Fraction(1), ratio):
        described = machine_of(rotor(on_arm, ratio=r, start=0.4), winding)
        table = flux_table(described, tolerance=1e-5)
        waveform = emf_waveform(table, described, crank_speed(described, 2 * math.pi))
        path[r] = emf_figures(waveform)["c"].rectified_mean_V  # over one second: one crank turn
    # Extremes of the linkage are those of cubics between samples: 1e-8.
    assert path[ratio] == pytest.approx(abs(float(ratio)) * path[Fraction(1)], rel=1e-7)
