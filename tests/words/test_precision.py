"""How far to trust a number: what the inputs allow comes first, the computation's error last."""

from __future__ import annotations

import math

import pytest
from machines import shipped

from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.operation.spread import LoadRange
from fieldsim.studies.gap import gap_study
from fieldsim.words.emf_text import emf_text
from fieldsim.words.light_text import light_text
from fieldsim.words.precision import (
    computed_words,
    effort_precision,
    emf_precision,
    gap_precision,
    light_precision,
)


def test_the_inputs_come_before_the_computation():
    words = emf_precision(3.4e-7)
    assert words.index("known within 5 %") < words.index("off by 0.5 mm") < words.index("0.00003 %")
    assert "e-0" not in words


def test_an_error_that_is_not_known_is_not_stated():
    assert computed_words([math.nan]) == computed_words([]) == ""
    assert computed_words([math.nan, 2e-3]) == " The computation itself is good to 0.2 %."


def test_torques_of_magnets_go_with_the_square():
    # (1.05)^2 - 1 = 10.25 %
    assert "known within 5 %: that makes 10 % here" in effort_precision([1e-5])


def test_a_gap_study_tells_what_half_a_millimetre_does():
    point = OperatingPoint(shipped("one_rotor"), "90 rpm", tolerance=1e-4)
    study = gap_study(point, [2e-3, 2.5e-3])
    near, far = (row.figures["pickup"].rms_V for row in study.rows)
    said = gap_precision(study).split("changes these voltages by ")[1].split(" %")[0]
    assert float(said) == pytest.approx(100 * (1 - far / near), abs=0.5)


def test_a_gap_study_of_nothing_says_nothing_of_the_gap():
    against = shipped("lamp_ring").changed({"rotors.lower.magnets[0].north": "-shaft"})
    study = gap_study(OperatingPoint(against, "90 rpm", tolerance=1e-3), [2e-3])
    assert "changes these voltages" not in gap_precision(study)
    assert "known within 5 %" in gap_precision(study)


def test_lamps_have_a_range():
    words = light_precision([LoadRange("white LED", 6.66e-3, 8.02e-3)], [1e-5])
    assert "give 6.66 to 8.02 mA in each white LED" in words
    assert "lamps that differ by 0.1 V come on top" in words


def test_twins_are_told_once_and_dark_lamps_by_their_speed():
    same = [LoadRange("red LED", 0.01, 0.012)] * 2
    assert light_precision(same, []).count("red LED") == 1
    twins = [*same, LoadRange("reversed red LED", 0.01, 0.012), LoadRange("amber LED", 0.02, 0.03)]
    assert (
        "give 10.0 to 12.0 mA in each red LED and each reversed red LED, 20.0 to 30.0 mA in each "
        "amber LED;"
    ) in light_precision(twins, [])
    dark = light_precision([LoadRange("red LED", 1e-9, 1e-8)], [])
    assert "light the lamps at a speed that is as much higher or lower" in dark


def test_a_load_without_lamps_has_a_range_of_power():
    words = light_precision([LoadRange("", 0.1, 0.121)], [])
    assert "give 100 mW to 121 mW; a clearance off by 0.5 mm comes on top." in words


def test_screens_say_it():
    ring = OperatingPoint(shipped("lamp_ring"), "90 rpm", tolerance=1e-4)
    assert "How far to trust this: voltage follows" in emf_text(ring)
    text = " ".join(light_text(ring.machine, ring.light).split())
    low, high = ring.light.ranges[0].least, ring.light.ranges[0].most
    assert f"give {1e3 * low:.3g} to {1e3 * high:.3g} mA in each white LED" in text
    assert "charge to" not in text
