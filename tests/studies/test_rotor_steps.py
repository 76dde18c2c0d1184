"""Turning one rotor's magnets over, or a rotor on its shaft."""

from __future__ import annotations

import numpy as np
import pytest
from machines import shipped

from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.operation.terminal_voltage import main_source, open_emf_V
from fieldsim.studies.rotor_steps import rotor_steps
from fieldsim.studies.sensitivity import Kind, sensitivity
from fieldsim.waveform.figures import rms


def point_of(name, changes=None, speed="90 rpm"):
    machine = shipped(name)
    return OperatingPoint(machine.changed(changes) if changes else machine, speed, tolerance=1e-4)


def open_V(point):
    return float(rms(open_emf_V(point, main_source(point)[0])))


@pytest.mark.parametrize(
    "name", ["lamp_ring", "geared_pair", "two_facing_rotors", "three_rotors", "one_rotor"]
)
def test_rotors_that_help_each_other_are_left_alone(name):
    assert rotor_steps(point_of(name)) == ()


@pytest.mark.parametrize("speed", ["90 rpm", "-90 rpm"])
@pytest.mark.parametrize(
    ("name", "start", "words"),
    [
        ("lamp_ring", "30 deg", "turned 30 deg back on its shaft (start: 0 deg)"),
        ("lamp_ring", "-20 deg", "turned 20 deg forward on its shaft (start: 0 deg)"),
        ("two_facing_rotors", "40 deg", "turned 40 deg back on its shaft (start: 0 deg)"),
    ],
)
def test_a_rotor_that_was_set_askew_is_turned_back(name, start, words, speed):
    askew = point_of(name, {"rotors.lower.start": start}, speed)
    (step,) = (s for s in rotor_steps(askew) if s.name == "start of lower")
    assert step.more_words == f'rotor "lower" {words}'
    better = askew.moved_to(step.more(askew.machine))
    assert open_V(better) == pytest.approx(open_V(point_of(name)), rel=1e-9)
    assert step.less_words == ""


def test_no_other_whole_degree_gives_more():
    """Rotors at different ratios, and a fast one that is set to the slow one's magnets."""
    point = point_of("three_rotors", {"rotors.arm.gear_ratio": 6, "rotors.arm.start": "90 deg"})
    (step,) = (s for s in rotor_steps(point) if s.name == "start of arm")
    best = open_V(point.moved_to(step.more(point.machine)))
    assert best > 1.02 * open_V(point)
    tried = [
        open_V(point.changed({"rotors.arm.start": f"{degrees} deg"}))
        for degrees in np.arange(0.0, 360.0, 10.0)
    ]
    assert max(tried) <= best * (1 + 1e-9)
    assert max(tried) > 0.95 * best


def test_magnets_that_face_the_wrong_way_are_turned_over():
    wrong = point_of("lamp_ring", {"rotors.lower.magnets[0].north": "-shaft"})
    poles, start = rotor_steps(wrong)
    assert poles.more_words == 'all magnets of rotor "lower" turned over'
    assert wrong.machine.changed({"rotors.lower.magnets[0].north": "+shaft"}) == poles.more(
        wrong.machine
    )
    assert "turned 90 deg" in start.more_words
    for step in (poles, start):
        right = wrong.moved_to(step.more(wrong.machine))
        assert open_V(right) == pytest.approx(open_V(point_of("lamp_ring")), rel=1e-9)


def test_what_helps_ranks_the_step_from_nothing_first():
    wrong = point_of("lamp_ring", {"rotors.lower.magnets[0].north": "-shaft"})
    found = sensitivity(wrong)
    assert found.kind is Kind.VOLTAGE
    best = found.helpful()[0]
    assert best.words == 'all magnets of rotor "lower" turned over'
    assert best.rms_V == pytest.approx(open_V(point_of("lamp_ring")), rel=1e-3)
    assert best.lit == 6
    assert best.voltage_gain > 1e6


def test_what_helps_ranks_a_small_angle_by_the_light():
    askew = point_of("lamp_ring", {"rotors.lower.start": "20 deg"})
    found = sensitivity(askew)
    lever = next(each for each in found.levers if each.name == "start of lower")
    assert found.kind is Kind.LIGHT
    assert found.best(lever) is lever.more
    whole = point_of("lamp_ring").circuit_result.lamps[0].average_current_A
    assert lever.more.lamp_current_average_A == pytest.approx(6 * whole, rel=2e-3)
    assert lever.less.words == ""


def test_angles_that_do_not_last_are_not_offered():
    drifting = point_of("three_rotors", {"rotors.side.gear_ratio": "2.2361"})
    assert not drifting.waveform.period.exact
    assert rotor_steps(drifting) == ()
