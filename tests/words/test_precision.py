"""How far to trust a number: what the inputs allow comes first, the computation's error last."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from machines import shipped

from fieldsim.machine.uncertain import GiveOrTake
from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.studies.gap import gap_study
from fieldsim.words.effort_text import effort_text
from fieldsim.words.emf_text import emf_text, flux_text
from fieldsim.words.light_text import light_text
from fieldsim.words.precision import (
    computed_words,
    gap_precision,
    linear_precision,
    square_precision,
)

ONE, RING = shipped("one_rotor"), shipped("lamp_ring")


def knowing(machine, **stated):
    return replace(
        machine, uncertain=tuple(GiveOrTake(p.replace("_", "."), t) for p, t in stated.items())
    )


def test_the_inputs_come_before_the_computation():
    words = linear_precision(ONE, [3.4e-7])
    assert words.index("known within 5 %") < words.index("off by 0.5 mm") < words.index("0.00003 %")
    assert "e-0" not in words


def test_what_a_file_says_goes_before_what_is_usual():
    known = knowing(ONE, magnets_bar_remanence="2 %", clearance="0.1 mm")
    assert "known within 2 %" in linear_precision(known, [])
    assert "off by 0.1 mm" in linear_precision(known, [])
    # 60 mT of 1.2 T are 5 %, and a tenth of the clearance of 3 mm is 0.3 mm.
    known = knowing(ONE, magnets_bar_remanence="60 mT", clearance="10 %")
    assert "known within 5 %" in linear_precision(known, [])
    assert "off by 0.3 mm" in linear_precision(known, [])


def test_the_magnet_known_worst_counts():
    three = knowing(shipped("three_rotors"), magnets_bar_remanence="1 %")
    assert "known within 5 %" in linear_precision(three, [])


def test_an_error_that_is_not_known_is_not_stated():
    assert computed_words([math.nan]) == computed_words([]) == ""
    assert computed_words([math.nan, 2e-3]) == "The computation itself is good to 0.2 %."
    assert linear_precision(ONE, []).endswith("comes on top (fieldsim gap shows how much).")


def test_torques_of_magnets_go_with_the_square():
    # (1.05)^2 - 1 = 10.25 %, (1.02)^2 - 1 = 4.04 %
    assert "5 % there is 10 % here" in square_precision(ONE)
    assert "2 % there is 4 % here" in square_precision(knowing(ONE, magnets_bar_remanence="2 %"))


def test_a_gap_study_tells_what_half_a_millimetre_does():
    point = OperatingPoint(ONE, "90 rpm", tolerance=1e-4)
    study = gap_study(point, [2e-3, 2.5e-3])
    near, far = (row.figures["pickup"].rms_V for row in study.rows)
    said = gap_precision(study, ONE).split("changes these voltages by ")[1].split(" %")[0]
    assert float(said) == pytest.approx(100 * (1 - far / near), abs=0.5)
    wide = gap_precision(gap_study(point, [0.5e-3, 8e-3]), ONE)
    assert "changes these voltages by 6 to 8 %" in wide


def test_a_gap_study_of_nothing_says_nothing_of_the_gap():
    against = RING.changed({"rotors.lower.magnets[0].north": "-shaft"})
    study = gap_study(OperatingPoint(against, "90 rpm", tolerance=1e-3), [2e-3])
    assert "changes these voltages" not in gap_precision(study, against)
    assert "known within 5 %" in gap_precision(study, against)


def test_screens_say_it():
    ring = OperatingPoint(RING, "90 rpm", tolerance=1e-4)
    ranges = ["pickup: 5 to 8 V"]
    for screen in (emf_text(ring, ranges=ranges), light_text(RING, ring.light, ranges=ranges)):
        text = " ".join(screen.split())  # wherever a line is folded
        assert text.index("pickup: 5 to 8 V") < text.index("The computation itself is good to")
        assert "charge to" not in text
    for text in (emf_text(ring), light_text(RING, ring.light)):
        assert "\nHow far to trust this: voltage follows" in text
    assert "\nHow far to trust this: linkage follows" in flux_text(ring.flux_table, RING)
    screen = effort_text(RING, ring.effort, ranges=["average torque: 0.03 to 0.04 N m"])
    effort = " ".join(screen.split())
    assert effort.index("0.03 to 0.04 N m") < effort.index("The computation itself is good to")
    assert "How far to trust this: what magnets do to each other" in effort
    alone = OperatingPoint(ONE, "90 rpm", tolerance=1e-4)
    assert "How far to trust this" not in effort_text(ONE, alone.effort)
