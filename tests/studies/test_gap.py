"""Gap studies: the clearance asked for is had, slopes and fits mean what they say."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from machines import si_magnet

from fieldsim.errors import ImpossibleError
from fieldsim.machine.clearance.clearances import rotor_to_winding_m
from fieldsim.machine.magnets import ArmAxis, Cylinder, Sphere
from fieldsim.machine_file.reader import read_geometry
from fieldsim.studies.gap import _fit, gap_study, rotor_at_gap
from fieldsim.waveform.emf import crank_speed, emf_waveform
from fieldsim.waveform.figures import emf_figures
from fieldsim.waveform.flux_table import flux_table

MM = 1e-3


def speed(geometry):
    return crank_speed(geometry, 12.0)


@pytest.fixture(scope="module")
def load(request):
    return lambda name: read_geometry(request.config.rootpath / "geometries" / f"{name}.yaml")


@pytest.fixture(scope="module")
def one(load):
    return load("one_rotor")


def with_shape(rotor, shape):
    return replace(
        rotor,
        magnets=tuple(replace(m, magnet=si_magnet("m", shape, 1.2)) for m in rotor.magnets),
    )


def rms(geometry, tolerance=1e-8):
    waveform = emf_waveform(flux_table(geometry, tolerance=tolerance), geometry, speed(geometry))
    return {name: f.rms_V for name, f in emf_figures(waveform).items()}


SHAPES = [None, Sphere(8 * MM), Cylinder(8 * MM, 14 * MM, ArmAxis.FORWARD)]


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("gap", [0.001, 0.5, 3.0, 7.3, 40.0])
def test_the_clearance_asked_for_is_had(shape, gap, one):
    rotor = one.rotors[0] if shape is None else with_shape(one.rotors[0], shape)
    moved = rotor_at_gap(rotor, one.coils, gap * MM)
    # Root finding stops within 1e-10 m of the place; so small a slope as 1 carries that over.
    assert rotor_to_winding_m(moved, one.coils) == pytest.approx(gap * MM, abs=1e-9)
    x, y, _ = moved.shaft.through
    assert (x, y) == rotor.shaft.through[:2]
    assert moved.shaft.along == rotor.shaft.along


def test_a_rotor_that_has_the_clearance_stays(one):
    assert rotor_at_gap(one.rotors[0], one.coils, 3 * MM) is one.rotors[0]


@pytest.mark.parametrize(("name", "sign"), [("upper", 1), ("lower", -1)])
def test_rotors_stay_on_their_side(name, sign, load):
    machine = load("two_facing_rotors")
    moved = rotor_at_gap(machine.rotor(name), machine.coils, 5 * MM)
    # Its magnets' faces are 3 mm off now and shall be 5 mm off.
    assert moved.shaft.through[2] == pytest.approx(sign * 2 * MM, abs=1e-9)


def test_only_the_named_rotor_moves(load):
    machine = load("two_facing_rotors")
    study = gap_study(machine, [1 * MM], speed, rotors=["upper"], tolerance=1e-6)
    upper = machine.rotors[0].raised(-2 * MM)
    by_hand = machine.with_rotors((upper, machine.rotors[1]))
    assert study.rotors == ("upper",)
    found = study.rows[0].figures["pickup"].rms_V
    assert found == pytest.approx(rms(by_hand)["pickup"], rel=3e-6)


def test_all_rotors_move_by_default(load):
    machine = load("two_facing_rotors")
    study = gap_study(machine, [1 * MM], speed, tolerance=1e-6)
    upper, lower = machine.rotors
    by_hand = machine.with_rotors((upper.raised(-2 * MM), lower.raised(2 * MM)))
    assert study.rotors == ("upper", "lower")
    found = study.rows[0].figures["pickup"].rms_V
    assert found == pytest.approx(rms(by_hand)["pickup"], rel=3e-6)


def test_rows_come_in_the_order_asked_for(one):
    study = gap_study(one, [3 * MM, 1 * MM, 2 * MM], speed, tolerance=1e-4)
    assert [row.gap_m for row in study.rows] == [3 * MM, 1 * MM, 2 * MM]
    volts = [row.figures["pickup"].rms_V for row in study.rows]
    assert volts[1] > volts[2] > volts[0]


def test_sensitivity_is_the_difference_over_a_tenth_of_a_millimetre(one):
    study = gap_study(one, [2 * MM], speed, tolerance=1e-8)
    near, far = (one.with_rotors((one.rotors[0].raised(d * MM),)) for d in (-1.0, -0.9))
    change = 100 * (rms(far)["pickup"] / rms(near)["pickup"] - 1)
    # Each voltage is good to about 1e-8 of itself: 2e-6 percent.
    assert study.rows[0].percent_per_tenth_mm["pickup"] == pytest.approx(change, abs=5e-6)
    assert change == pytest.approx(-1.45, abs=0.05)


@settings(max_examples=50, deadline=None, derandomize=True)
@given(
    volts=st.floats(1e-6, 1e3),
    length=st.floats(0.5 * MM, 100 * MM),
    gaps=st.lists(st.integers(1, 400), min_size=3, max_size=20, unique=True),
)
def test_fit_recovers_an_exponential(volts, length, gaps):
    at = np.array(gaps) * 0.1 * MM
    fit = _fit(at, volts * np.exp(-at / length))
    # A least-squares line through exact points: rounding, magnified where gaps lie close together
    # beside the length that they are to tell.
    slack = 1e-12 * length / np.ptp(at) + 1e-11
    assert fit.decay_length_m == pytest.approx(length, rel=1e3 * slack)
    assert fit.rms_at_zero_gap_V == pytest.approx(
        volts, rel=1e3 * slack * np.max(at) / length + 1e-9
    )
    assert fit.largest_relative_misfit < 1e-9


def test_fit_says_how_far_off_it_is():
    at = np.array([1.0, 2.0, 3.0, 4.0]) * MM
    exact = 5.0 * np.exp(-at / (6 * MM))
    bent = exact * np.array([1.1, 1.0, 1.0, 1.1])
    assert _fit(at, exact).largest_relative_misfit < 1e-12
    assert 0.03 < _fit(at, bent).largest_relative_misfit < 0.1


def test_voltage_that_grows_has_no_decay_length():
    assert _fit(np.array([1.0, 2.0, 3.0]), np.array([1.0, 2.0, 3.0])).decay_length_m == math.inf


def test_fits_need_three_different_gaps(one):
    assert gap_study(one, [1 * MM, 2 * MM], speed, tolerance=1e-2).fits == {}
    assert gap_study(one, [1 * MM] * 3, speed, tolerance=1e-2).fits == {}
    fit = gap_study(one, [1 * MM, 2 * MM, 3 * MM], speed, tolerance=1e-3).fits["pickup"]
    # Between rows the fitted curve is what it was fitted to: about 1.5 % a tenth of a millimetre.
    assert 100 * math.expm1(-0.1 * MM / fit.decay_length_m) == pytest.approx(-1.5, abs=0.1)


@pytest.mark.parametrize(
    ("gaps", "rotors", "words"),
    [
        ([], None, "there are no gaps"),
        ([0.0], None, "a gap of 0 mm is out of range"),
        ([-1e-3], None, "a gap of -1 mm is out of range"),
        ([1e-3, math.nan], None, "a gap of nan mm is out of range"),
        ([math.inf], None, "out of range"),
        ([1e-3], ["middle"], 'no rotor is called "middle"; there are: upper'),
    ],
)
def test_impossible(gaps, rotors, words, one):
    with pytest.raises(ImpossibleError) as caught:
        gap_study(one, gaps, speed, rotors=rotors)
    assert words in str(caught.value)


def test_progress(one):
    calls = []
    gap_study(one, [1 * MM], speed, tolerance=1e-2, progress=lambda *done: calls.append(done))
    assert calls[-1] == (2, 2)
