"""Gap studies: the clearance asked for is had, slopes and fits mean what they say."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from machines import MM, shipped

from fieldsim.errors import ImpossibleError
from fieldsim.machine.clearance.clearance_change import with_clearance
from fieldsim.machine.clearance.clearances import rotor_to_winding_m
from fieldsim.machine.magnets import ArmAxis, Cylinder, Magnet, Sphere
from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.studies.gap import _fit, gap_study


def point(machine, tolerance=1e-4):
    return OperatingPoint(machine, crank_speed_rad_per_s=12.0, tolerance=tolerance)


@pytest.fixture(scope="module")
def one():
    return shipped("one_rotor")


def raised(machine, **heights_mm):
    """Return the machine with rotors moved along z by hand."""
    return replace(
        machine,
        rotors=tuple(
            replace(
                rotor,
                shaft=replace(
                    rotor.shaft, through=(0.0, 0.0, heights_mm.get(rotor.name, 0.0) * MM)
                ),
            )
            for rotor in machine.rotors
        ),
    )


def rms(machine, tolerance=1e-8):
    return {name: f.rms_V for name, f in point(machine, tolerance).figures.items()}


SHAPES = [None, Sphere(8 * MM), Cylinder(8 * MM, 14 * MM, ArmAxis.FORWARD)]


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("gap", [0.001, 0.5, 3.0, 7.3, 40.0])
def test_the_clearance_asked_for_is_had(shape, gap, one):
    machine = one if shape is None else replace(one, magnets=(Magnet("bar", shape, 1.2),))
    moved = with_clearance(machine, gap * MM)
    (rotor,) = moved.placed_rotors
    # Root finding stops within 1e-10 m of the place; so small a slope as 1 carries that over.
    assert rotor_to_winding_m(rotor, moved.placed_coils) == pytest.approx(gap * MM, abs=1e-9)
    assert moved.rotors[0].shaft == machine.rotors[0].shaft
    assert moved.coils == machine.coils
    assert {m.radius for m in moved.rotors[0].magnets} == {22 * MM}


def test_a_machine_that_has_the_clearance_stays(one):
    assert with_clearance(one, 3 * MM) is one


@pytest.mark.parametrize(("name", "sign"), [("upper", 1), ("lower", -1)])
def test_rotors_stay_on_their_side(name, sign):
    machine = shipped("two_facing_rotors")
    moved = with_clearance(machine, 5 * MM, (name,))
    # Its magnets' faces are 3 mm off now and shall be 5 mm off.
    (mount,) = moved.rotor(name).magnets
    assert mount.height == pytest.approx(sign * 13.5 * MM, abs=1e-9)


def test_only_the_named_rotor_moves():
    machine = shipped("two_facing_rotors")
    study = gap_study(point(machine, 1e-6), [1 * MM], rotors=["upper"])
    by_hand = raised(machine, upper=-2.0)
    assert study.rotors == ("upper",)
    found = study.rows[0].figures["pickup"].rms_V
    assert found == pytest.approx(rms(by_hand)["pickup"], rel=3e-6)


def test_all_rotors_move_by_default():
    machine = shipped("two_facing_rotors")
    study = gap_study(point(machine, 1e-6), [1 * MM])
    by_hand = raised(machine, upper=-2.0, lower=2.0)
    assert study.rotors == ("upper", "lower")
    found = study.rows[0].figures["pickup"].rms_V
    assert found == pytest.approx(rms(by_hand)["pickup"], rel=3e-6)


def test_rows_come_in_the_order_asked_for(one):
    study = gap_study(point(one), [3 * MM, 1 * MM, 2 * MM])
    assert [row.gap_m for row in study.rows] == [3 * MM, 1 * MM, 2 * MM]
    volts = [row.figures["pickup"].rms_V for row in study.rows]
    assert volts[1] > volts[2] > volts[0]


def test_sensitivity_is_the_difference_over_a_tenth_of_a_millimetre(one):
    study = gap_study(point(one, 1e-8), [2 * MM])
    near, far = (raised(one, upper=d) for d in (-1.0, -0.9))
    change = 100 * (rms(far)["pickup"] / rms(near)["pickup"] - 1)
    # Each voltage is good to about 1e-8 of itself: 2e-6 percent.
    assert study.rows[0].percent_per_tenth_mm["pickup"] == pytest.approx(change, abs=5e-6)
    assert change == pytest.approx(-1.45, abs=0.05)


def test_slopes_along_many_rows_are_those_of_neighbours(one):
    """From eight gaps on a spline takes the place of a neighbour for each row."""
    many = gap_study(point(one, 1e-6), [d * MM for d in (1, 1.5, 2, 2.5, 3, 3.5, 4, 4.5)])
    few = gap_study(point(one, 1e-6), [2 * MM, 3 * MM])
    slopes = {row.gap_m: row.percent_per_tenth_mm["pickup"] for row in many.rows}
    for row in few.rows:
        # half a millimetre between rows: the spline is off by less than a thousandth of the slope
        assert slopes[row.gap_m] == pytest.approx(row.percent_per_tenth_mm["pickup"], rel=1e-3)


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
    assert gap_study(point(one, 1e-2), [1 * MM, 2 * MM]).fits == {}
    assert gap_study(point(one, 1e-2), [1 * MM] * 3).fits == {}
    fit = gap_study(point(one, 1e-3), [1 * MM, 2 * MM, 3 * MM]).fits["pickup"]
    # Between rows the fitted curve is what it was fitted to: about 1.5 % a tenth of a millimetre.
    assert 100 * math.expm1(-0.1 * MM / fit.decay_length_m) == pytest.approx(-1.5, abs=0.1)


@pytest.mark.parametrize(
    ("gaps", "rotors", "words"),
    [
        ([], (), "there are no gaps"),
        ([0.0], (), "a gap of 0 mm is out of range"),
        ([-1e-3], (), "a gap of -1 mm is out of range"),
        ([1e-3, math.nan], (), "a gap of nan mm is out of range"),
        ([math.inf], (), "out of range"),
        ([1e-3], ["middle"], 'no rotor is called "middle"; there are: upper'),
    ],
)
def test_impossible(gaps, rotors, words, one):
    with pytest.raises(ImpossibleError) as caught:
        gap_study(point(one, 1e-2), gaps, rotors=rotors)
    assert words in str(caught.value)


def test_progress(one):
    calls = []
    gap_study(point(one, 1e-2), [1 * MM], progress=lambda *done: calls.append(done))
    assert calls[-1] == (2, 2)
