"""The first screen's answers, on numbers made for the purpose."""

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from machines import shipped

from fieldsim.circuit.lamp_speeds import LampSpeed
from fieldsim.circuit.results import LampReport
from fieldsim.machine.mechanics import Crank, Friction
from fieldsim.mechanics.crank_effort import CrankEffort
from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.studies.design_study import study_design
from fieldsim.studies.sensitivity import Effect, LeverEffect
from fieldsim.words.first_screen import answers, facts_of, key_numbers
from fieldsim.words.numbers import number

NO_ARM = Crank()
RUBBING = Friction(crank=0.01)


@pytest.fixture(scope="module")
def study():
    machine = shipped("one_rotor")
    return study_design(OperatingPoint(machine, crank_speed_rad_per_s=4 * math.pi, tolerance=1e-4))


def lamp(average_A=0.01, count=6):
    return LampReport(
        "white LED",
        "white",
        count,
        average_A,
        0.02,
        5e-4,
        0.02,
        5.0,
        0.03,
        32.0,
        50.0,
        average_A * 3,
        0.0,
    )


def lit(study, *lamps, speeds=()):
    result = SimpleNamespace(lamps=lamps, useful_power_W=0.03)
    light = SimpleNamespace(
        result=result, lamp_speeds=speeds, run=SimpleNamespace(speed=study.point.speed)
    )
    return replace(study, light=light)


def ranked(study, *steps):
    levers = tuple(LeverEffect(step.words, step, step) for step in steps)
    found = replace(study.sensitivity, levers=levers)
    return replace(study, changes=lambda: replace(study.changes(), sensitivity=found))


def cranked(study, torque_Nm, arm=NO_ARM, friction=RUBBING, because=""):
    crank = CrankEffort(torque_Nm, 4 * math.pi, 0.1, 0.0, 0.0)
    effort = replace(
        study.effort,
        crank=crank,
        arm=arm,
        friction=friction,
        electric=replace(study.effort.electric, open_because=because),
    )
    return replace(study, effort=effort)


def test_without_lamps(study):
    answer = answers(study)[0]
    assert (answer.question, answer.answer) == ("Does it light?", "No lamps are given.")
    assert "pickup gives 3.06" in answer.reason  # the RMS that the emf command prints


@pytest.mark.parametrize(
    ("lamps", "short"),
    [
        ([lamp()], "Yes, all 6 lamps light."),
        ([lamp(count=1)], "Yes, it lights."),
        ([lamp(1e-4)], "No, all 6 lamps stay dark."),
        ([lamp(1e-4, 1)], "No, it stays dark."),
        ([lamp(), lamp(1e-4, 2)], "In part: 6 of 8 lamps light."),
        ([lamp(0.03)], "Yes, but above what the lamps are rated for."),
        ([], "No lamps in the load."),
    ],
)
def test_lamps(study, lamps, short):
    assert answers(lit(study, *lamps))[0].answer == short


def test_lamp_details(study):
    words = answers(lit(study, lamp(), lamp(1e-4, 1)))[0].reason
    assert "10.0 mA on average each, 50 % of the rated 20.0 mA." in words
    assert "0.100 mA on average; seen from 0.500 mA." in words


def test_a_lamp_that_only_flashes_is_not_dark(study):
    flashing = replace(lamp(2e-4, 1), flash_Hz=12.5)
    answer = answers(lit(study, flashing, lamp(1e-9)))[0]
    assert answer.answer == "Only in flashes."
    assert "0.200 mA on average, seen in flashes, 12.5 a second." in answer.reason


def test_a_dark_lamp_says_what_it_needs(study):
    speeds = (LampSpeed("white LED", 5e-4, 6 * math.pi, 80.0),)
    assert (
        "It would light from 180 rpm of the crank."
        in answers(lit(study, lamp(1e-4), speeds=speeds))[0].reason
    )
    never = (LampSpeed("white LED", 5e-4, None, 80 * math.pi),)
    words = answers(lit(study, lamp(1e-4), speeds=never))[0].reason
    assert "Up to 2400 rpm of the crank no speed lights it." in words


@pytest.mark.parametrize(
    ("newtons", "short"),
    [
        (5.0, "It turns easily."),
        (20.0, "It takes a steady hand."),
        (50.0, "It is hard work."),
        (70.0, "Too hard for one hand."),
    ],
)
def test_effort_against_the_hand(study, newtons, short):
    machine = cranked(study, np.array([0.0, newtons * 0.08]), Crank(0.08, 60.0))
    answer = answers(machine)[1]
    assert answer.answer == short
    assert f"{number(newtons)} N at most; a hand can give about 60 N" in answer.reason
    assert "80 mm arm" in answer.reason
    assert (f"{number(newtons)} N", "at most on a 80 mm crank arm") in key_numbers(machine)


def test_a_force_that_only_swings_is_nothing_on_average(study):
    machine = cranked(study, 0.4 * np.sin(2 * np.pi * np.arange(64) / 64), Crank(0.1, 60.0))
    why = answers(machine)[1].reason
    assert "Nothing on average: the magnets pull back and forth with up to 4.00 N" in why
    assert "e−" not in why


def test_a_force_that_nobody_feels(study):
    machine = cranked(study, np.array([1e-8, 3e-8]), Crank(0.1, 60.0))
    assert answers(machine)[1].reason.startswith("Next to nothing on the 100 mm arm;")
    assert ("0 N", "at most on a 100 mm crank arm") in key_numbers(machine)


def test_what_is_left_out_is_said(study):
    machine = cranked(study, np.array([0.1, 0.3]), NO_ARM, Friction(), "no coil has wire")
    why = answers(machine)[1].reason
    assert "3.00 N at most" in why  # on the arm of 100 mm that stands in
    assert "100 mm arm (the file gives none)" in why
    assert "No current is reckoned with, as no coil has wire." in why
    assert "Friction is left out" in why


def test_nothing_brakes(study):
    answer = answers(study)[1]
    assert answer.answer == "Not known yet."
    assert not any("hand" in words for _, words in key_numbers(study))


def test_effort_that_cannot_be(study):
    machine = replace(study, effort=None, absent={"effort": "friction is too much"})
    assert answers(machine)[1].answer == "Not known."
    assert answers(replace(machine, too_hard=True))[1].answer == "Too hard for one hand."
    assert answers(machine)[1].reason == "Friction is too much."
    assert math.isnan(facts_of(machine).hand_power_W)


def test_what_helps(study):
    answer = answers(study)[2]
    assert answer.answer.startswith("Magnets 1 mm closer to the winding: +15.4")
    assert answer.answer.endswith("voltage.")
    assert answer.reason.startswith("Then: ")
    assert 4 <= len(key_numbers(study)) <= 5


def test_nothing_helps(study):
    worse = Effect("a", 1.0, voltage_gain=-0.1)
    assert answers(ranked(study, worse))[2].answer == "No single step helps."


def test_lamps_that_get_too_much_need_no_more(study):
    answer = answers(lit(study, lamp(0.03)))[2]
    assert answer.answer == "Nothing more is needed."
    assert "slower crank" in answer.reason
    assert not any("best single step" in words for _, words in key_numbers(lit(study, lamp(0.03))))


@pytest.mark.parametrize(("count", "words"), [(0, "No single step is enough"), (6, "light it")])
def test_whether_a_step_lights_dark_lamps(study, count, words):
    step = Effect("closer", 1.0, voltage_gain=0.2, lit=count)
    why = answers(ranked(lit(study, lamp(1e-4)), step))[2].reason
    assert words in why
    assert ("No single step" in why) == (count == 0)


def test_what_cancels_is_turned_round():
    against = shipped("lamp_ring").changed({"rotors.lower.magnets[0].north": "-shaft"})
    nothing = study_design(OperatingPoint(against, "90 rpm", tolerance=1e-4))
    assert nothing.cancels
    first, _, third = answers(nothing)
    assert first.answer == "No, the linkages cancel."
    assert third.answer == "Turn one part round."
    shown = key_numbers(nothing)
    assert ("0 V", "RMS, open, from pickup") in shown
    assert not any("best single step" in words for _, words in shown)


def test_a_gain_of_many_times_is_said_as_such(study):
    shown = ranked(study, Effect("one coil turned", 1.0, voltage_gain=34.1))
    assert ("35.1 times", "the voltage from the best single step") in key_numbers(shown)
    assert answers(shown)[2].answer == "One coil turned: 35.1 times the voltage."
    shown = ranked(study, Effect("closer", 1.0, voltage_gain=0.2))
    assert ("+20.0 %", "voltage from the best single step") in key_numbers(shown)


def test_opposed_coils_are_told_which_ends_to_swap():
    machine = shipped("two_coils")
    opposed = replace(
        machine, connections=(replace(machine.connections[0], series=["left", "-right"]),)
    )
    study = study_design(OperatingPoint(opposed, "90 rpm", tolerance=1e-4))
    assert study.cancels
    first, _, third = answers(study)
    assert first.answer == "No, the linkages cancel."
    assert third.reason == 'Ends of "left" swapped in "pair": pair then gives 8.33 V RMS.'
