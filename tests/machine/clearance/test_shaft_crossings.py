"""Shafts that have to pass through copper, and those that need not."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from machines import block, coil, machine_of, mounted, rotor, shipped

from fieldsim.cautions import Hazard
from fieldsim.machine.clearance.shaft_crossings import shaft_cautions

SMALL = block(4, 4, 4)
BESIDE = (0.0, -10.0, 0.0)  # puts the middle of a bar, 4 mm wide and 10 mm long, on the z axis


def turning(*heights, name="r", ratio=1, **more):
    magnets = (mounted(SMALL, 40.0, height, math.pi * i) for i, height in enumerate(heights))
    return rotor(*magnets, name=name, ratio=ratio, **more)


def lengths_mm(*parts):
    return {c.where: round(1e3 * c.value, 6) for c in shaft_cautions(machine_of(*parts))}


def test_copper_between_magnets_of_one_rotor_is_in_the_way():
    (found,) = shaft_cautions(machine_of(turning(-20, 20, name="reel"), coil(BESIDE, name="c")))
    assert found.kind is Hazard.SHAFT_IN_WINDING
    assert found.where == "c"
    assert found.value == pytest.approx(0.010)
    assert found.limit is None
    assert found.facts == {"rotors": "reel"}


def test_copper_on_one_side_leaves_the_other():
    assert lengths_mm(turning(20), coil(BESIDE)) == {}


def test_copper_on_both_sides_leaves_no_way_out():
    thin = coil((0.0, -10.0, 30.0), length=6.0, name="thin")
    assert lengths_mm(turning(15), coil(BESIDE, name="low"), thin) == {}  # each coil by itself
    inside = coil((0.0, 0.0, 0.0), axis=(1.0, 0.0, 0.0), side=(0.0, 1.0, 0.0), opening=(100, 20))
    assert lengths_mm(turning(0), inside) == {"c": 4.0}


def test_two_rotors_share_a_shaft_if_they_turn_alike():
    coils = coil(BESIDE)
    upper, lower = turning(20, name="upper"), turning(-20, name="lower")
    (found,) = shaft_cautions(machine_of(upper, lower, coils))
    assert found.facts == {"rotors": "upper and lower"}
    assert lengths_mm(upper, turning(-20, name="lower", ratio=-1), coils) == {}
    flipped = turning(20, name="lower", ratio=-1, along=(0.0, 0.0, -1.0))
    assert lengths_mm(upper, flipped, coils) == {"c": 10.0}
    aside = turning(-20, name="lower", through=(0.0, 1.0, 0.0))
    assert lengths_mm(upper, aside, coils) == {}


def test_a_line_through_the_opening_or_along_a_face_is_free():
    assert lengths_mm(turning(-20, 20), coil((0.0, 0.0, 0.0))) == {}
    assert lengths_mm(turning(-20, 20), coil((0.0, -12.0, 0.0))) == {}  # the outer face: y = 0
    assert lengths_mm(turning(-20, 20), coil((0.0, -11.99, 0.0))) == {"c": 10.0}


def test_corners_count_once():
    corner = coil((-14.0, -10.0, 0.0))  # where two bars overlap
    assert lengths_mm(turning(-20, 20), corner) == {"c": 10.0}


@settings(max_examples=40, deadline=None)
@given(st.floats(-0.2, 0.2))
def test_a_shaft_at_a_slant_passes_through_more(tilt):
    """Across a bar of thickness d at an angle: d / cos, as long as it leaves by the same faces."""
    slanted = turning(-30, 30, along=(0.0, math.sin(tilt), math.cos(tilt)))
    found = lengths_mm(slanted, coil((0.0, -10.0, 0.0), length=4.0))
    assert found == {"c": pytest.approx(4.0 / math.cos(tilt), abs=1e-5)}


def test_the_shipped_machines():
    assert [c.where for c in shaft_cautions(shipped("bar_inside_coil"))] == ["wound"]
    assert shaft_cautions(shipped("bar_inside_coil"))[0].value == pytest.approx(0.005)
    for name in ("one_rotor", "two_facing_rotors", "lamp_ring", "three_rotors", "two_coils"):
        assert shaft_cautions(shipped(name)) == ()


def test_moving_the_coil_away_frees_the_shaft():
    machine = shipped("bar_inside_coil")
    wound = replace(machine.coils[0], centre=(0.0, 0.2, 0.0))
    assert shaft_cautions(replace(machine, coils=(wound,))) == ()
