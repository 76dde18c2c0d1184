from dataclasses import replace

import numpy as np
import pytest

import fieldsim as fs
from fieldsim.studies.ranges import ranges
from fieldsim.words.range_text import (
    comparison_range_lines,
    effort_range_lines,
    emf_range_lines,
    light_range_lines,
    page_range_lines,
)

ROUGH = {"tolerance": 1e-4, "circuit_tolerance": 1e-3}


@pytest.fixture(scope="module")
def ring():
    return ranges(fs.OperatingPoint(fs.read("geometries/lamp_ring.yaml"), "38 rpm", **ROUGH))


def test_an_open_coil_in_a_sentence(ring):
    lines = emf_range_lines(ring)
    found = ring.coil_ranges("pickup")["rms_V"]
    assert lines == [
        f"pickup: 2.93 V RMS, {found.low:.2f} to {found.high:.2f} in nine of ten machines built "
        "like this, mostly from the crank speed",
        "(give or take by common practice remanence 5 %, clearance 0.5 mm, turns 2 %, build 10 %, "
        "lamp voltage 0.1 V, crank speed 10 %)",
    ]


def test_lamps_in_sentences(ring):
    first, second, _ = light_range_lines(ring)
    assert first == (
        f"the lamps light in {round(100 * ring.share_all_light)} of 100 machines built like this"
    )
    assert second.startswith("white LED: 0.")
    assert " mA, 0." in second
    assert "in nine of ten machines built like this, mostly from " in second


@pytest.mark.parametrize(("lit", "said"), [(64, "100"), (63, "98"), (0, "0"), (32, "50"), (1, "2")])
def test_nearly_all_is_not_all(ring, lit, said):
    current = np.where(np.arange(64)[:, None] < lit, 1e-2, 1e-5)
    some = replace(ring, points=replace(ring.points, lamp_current_A=current))
    assert light_range_lines(some)[0].startswith(f"the lamps light in {said} of 100 machines")


def test_what_the_file_says_is_told_by_its_path():
    machine = fs.read("geometries/one_rotor.yaml").changed({"uncertain": {"clearance": "0.2 mm"}})
    study = ranges(fs.OperatingPoint(machine, "60 rpm", **ROUGH), machines=8, with_load=False)
    assert emf_range_lines(study)[-1] == (
        "(give or take clearance 0.2 mm; by common practice remanence 5 %, turns 2 %, build 10 %, "
        "crank speed 10 %)"
    )
    assert light_range_lines(study) == []  # no current is reckoned with


def test_machines_that_cannot_be_are_told():
    machine = fs.read("geometries/one_rotor.yaml").changed(
        {"clearance": "0.3 mm", "uncertain": {"clearance": "0.6 mm"}}
    )
    study = ranges(fs.OperatingPoint(machine, "60 rpm", **ROUGH), machines=32, with_load=False)
    told = emf_range_lines(study)[1]
    share = 100 * (1 - study.share_that_can_be)
    assert told.startswith(f"{share:.0f} of 100 machines built like this cannot be: ")


def test_average_torque_in_a_sentence():
    point = fs.OperatingPoint(fs.read("geometries/geared_pair.yaml"), "90 rpm", **ROUGH)
    study = ranges(point, machines=16)
    line, _ = effort_range_lines(study, point.effort)
    assert line.startswith("average torque: 0.193 N m, 0.1")
    assert "in nine of ten" in line
    # nothing of it without a load
    bare = fs.OperatingPoint(fs.read("geometries/one_rotor.yaml"), "90 rpm", **ROUGH)
    assert effort_range_lines(ranges(bare, machines=4), bare.effort) == []


def test_designs_side_by_side():
    studies = tuple(
        ranges(
            fs.OperatingPoint(fs.read(f"geometries/{name}.yaml"), "60 rpm", **ROUGH),
            machines=8,
            with_load=False,
        )
        for name in ("one_rotor", "two_facing_rotors")
    )
    first, second, _ = comparison_range_lines(studies)
    assert first.startswith("One rotor beside a rectangular coil, pickup: 1.")
    assert second.startswith("Two facing rotors around one coil, pickup: 2.")


def test_nothing_without_a_study():
    assert emf_range_lines(None) == light_range_lines(None) == []
    assert comparison_range_lines(()) == []


def test_on_one_page_what_ranges_rest_on_is_said_once(ring):
    effort = ring.point.effort
    light, torque, emf = page_range_lines(ring, True, effort)
    assert light == light_range_lines(ring)
    assert [*torque, light[-1]] == effort_range_lines(ring, effort)
    assert [*emf, light[-1]] == emf_range_lines(ring)


def test_without_light_on_the_page_it_is_said_with_what_comes_next(ring):
    light, torque, emf = page_range_lines(ring, False, None)
    assert light == torque == []
    assert emf == emf_range_lines(ring)
    assert page_range_lines(None, True, None) == ([], [], [])
