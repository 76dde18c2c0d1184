"""Distances to iron, and what runs into it."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from machines import IRON

from fieldsim.machine.clearance.clearances import check_collisions, clearances
from fieldsim.machine.clearance.collision_error import CollisionError
from fieldsim.machine.clearance.iron_bodies import iron_body, iron_distance, iron_reach_m
from fieldsim.machine.iron import Ball, Block, Disc, Rod, Tube
from fieldsim.machine.materials import MATERIALS
from fieldsim.machine.placed import PlacedIron
from fieldsim.machine_file.reader import read_text

SHAPES = [
    Rod(0.008, 0.05),
    Tube(0.012, 0.007, 0.03),
    Disc(0.04, 0.002),
    Block((0.012, 0.008, 0.04)),
    Ball(0.01),
]
STEEL = next(iter(MATERIALS.values()))


def machine(**changes):
    return read_text(IRON).changed(changes) if changes else read_text(IRON)


def placed(shape):
    axis = np.array([1.0, 2.0, 2.0]) / 3
    side = np.array([2.0, 1.0, -2.0]) / 3
    return PlacedIron("piece", shape, (0.01, -0.02, 0.03), tuple(axis), tuple(side), STEEL)


@pytest.mark.parametrize("shape", SHAPES, ids=lambda s: type(s).__name__)
@settings(max_examples=25, deadline=None)
@given(u=st.tuples(*[st.floats(-1, 1)] * 3))
def test_what_fills_a_piece_lies_in_it(shape, u):
    piece = placed(shape)
    point = iron_body(piece)(np.array([u]))
    assert iron_distance(piece)(point)[0] <= 1e-12
    assert np.linalg.norm(point - piece.centre) <= iron_reach_m(piece) + 1e-12


@pytest.mark.parametrize("shape", SHAPES, ids=lambda s: type(s).__name__)
def test_distance_from_outside_is_that_to_the_nearest_point(shape):
    piece = placed(shape)
    chance = np.random.default_rng(1)
    inside = iron_body(piece)(chance.uniform(-1, 1, (40_000, 3)))
    for far in chance.uniform(-0.06, 0.06, (20, 3)):
        point = np.array(piece.centre) + far
        expected = np.linalg.norm(inside - point, axis=1).min()
        found = iron_distance(piece)(point[None])[0]
        if found > 0:
            assert found == pytest.approx(expected, abs=1.5e-3)  # of a cloud of points
            assert found <= expected + 1e-12


def test_distances_are_those_that_a_ruler_shows():
    found = {(c.first, c.second): c.distance_m for c in clearances(machine())}
    assert found['rotor "upper"', 'iron "plate"'] == pytest.approx(1e-3, abs=1e-9)
    assert found['rotor "upper"', 'iron "ball"'] == pytest.approx(3.5e-3, abs=1e-8)
    # From the corner that comes farthest out, 36 mm along the arm and 5 mm across it.
    corner = 0.0495 - math.hypot(0.036, 0.005)
    assert found['rotor "upper"', 'iron "frame"'] == pytest.approx(corner, abs=1e-7)
    assert found['rotor "upper"', "core of pickup"] == pytest.approx(3.5e-3, abs=1e-9)


def test_a_plate_may_lie_against_the_magnets_that_it_turns_with():
    check_collisions(machine(**{"iron.plate.centre[2]": "16 mm"}))
    with pytest.raises(CollisionError, match='rotor "upper" runs into iron "plate"') as found:
        check_collisions(machine(**{"iron.plate.centre[2]": "15.5 mm"}))
    assert found.value.collisions[0].key == ("iron", "plate")
    assert "move them apart" in found.value.collisions[0].way_out()


@pytest.mark.parametrize(
    ("path", "value", "words"),
    [
        ("iron.ball.centre[2]", "8 mm", 'rotor "upper" runs into iron "ball": they overlap by 2.5'),
        ("iron.frame.centre[1]", "44 mm", 'iron "frame" runs into coil "pickup"'),
        ("iron.ball.centre", ["0 mm", "52 mm", "0 mm"], 'iron "ball" runs into iron "frame"'),
        ("iron.ball.centre", ["0 mm", "26 mm", "0 mm"], 'core of pickup runs into iron "ball"'),
        ("coils.pickup.core.length", "21 mm", 'rotor "upper" runs into core of pickup'),
    ],
)
def test_what_runs_into_iron_is_refused(path, value, words):
    with pytest.raises(CollisionError) as found:
        check_collisions(machine(**{path: value}))
    assert words in str(found.value)


def test_a_frame_may_lie_against_a_winding_but_iron_not_against_iron():
    check_collisions(machine(**{"iron.frame.centre[1]": "45.5 mm"}))
    with pytest.raises(CollisionError, match="they touch"):
        check_collisions(machine(**{"iron.ball.centre": ["0 mm", "60.5 mm", "0 mm"]}))


def test_the_way_out_of_a_bolt_that_is_too_long():
    with pytest.raises(CollisionError) as found:
        check_collisions(machine(**{"coils.pickup.core.length": "20 mm"}))
    assert 'raise rotor "upper"' in found.value.collisions[0].way_out()
