"""The field of turning magnets at points that stand still."""

from __future__ import annotations

import math

import numpy as np
import pytest
from machines import ball, block, disc, field_T, mounted, rotor

from fieldsim.field.force.turning_field import repeats_in_a_turn, turning_field_T

MM = 1e-3
POINTS = np.array([[31.0, 4.0, 22.0], [-60.0, 10.0, -5.0], [3.0, -2.0, 40.0]]) * MM
ANGLES = np.array([0.0, 0.3, math.pi / 2, 5.0, -1.0])


@pytest.mark.parametrize(
    "turning",
    [
        rotor(mounted(block(20, 10, 5), height=12)),
        rotor(mounted(disc(12, 4), height=12), mounted(ball(8), height=10, angle=1.2)),
        rotor(
            *(mounted(block(20, 10, 5), height=12, angle=math.pi / 2 * i) for i in range(4)),
            along=(0.6, 0, 0.8),
        ),
    ],
)
def test_as_magnet_by_magnet(turning):
    found = turning_field_T(turning, ANGLES, POINTS)
    expected = [field_T(turning, angle, POINTS) for angle in ANGLES]
    assert found == pytest.approx(np.array(expected), rel=1e-6, abs=1e-9)


def test_few_points_at_once_or_many(monkeypatch):
    turning = rotor(mounted(block(20, 10, 5), height=12))
    whole = turning_field_T(turning, ANGLES, POINTS)
    monkeypatch.setattr("fieldsim.field.force.turning_field._POINTS", 1)
    assert np.array_equal(turning_field_T(turning, ANGLES, POINTS), whole)


def test_no_magnets_no_field():
    assert not turning_field_T(rotor(), ANGLES, POINTS).any()


def spaced(*turns):
    return rotor(*(mounted(block(20, 10, 5), angle=math.tau * turn) for turn in turns))


def test_how_often_magnets_stand_as_before():
    even = [i / 6 + 0.1 for i in range(6)]
    assert repeats_in_a_turn(spaced(*even)) == 6
    assert repeats_in_a_turn(spaced(*even[:5])) == 1
    assert repeats_in_a_turn(spaced(0, 0.1, 0.5, 0.6)) == 2
    assert repeats_in_a_turn(spaced(0, 1 / 3 + 1e-6, 2 / 3)) == 1
    assert repeats_in_a_turn(rotor()) == 1
    other = mounted(ball(8), angle=1.0)
    assert repeats_in_a_turn(rotor(*spaced(*even).magnets, other)) == 1
