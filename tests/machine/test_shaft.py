"""One line or two: whichever way shafts point, up to what rounding makes of one."""

from __future__ import annotations

import math

import numpy as np
import pytest

from fieldsim.machine.shaft import Shaft

UP = Shaft((0, 0, 0), (0, 0, 1))


@pytest.mark.parametrize(
    ("other", "sense"),
    [
        (Shaft((0, 0, 5), (0, 0, 1)), 1),
        (Shaft((0, 0, 5), (0, 0, -1)), -1),
        (Shaft((0, 1e-3, 0), (0, 0, 1)), 0),
        (Shaft((0, 0, 0), (0, 1, 0)), 0),
    ],
)
def test_senses(other, sense):
    for one, two in ((UP, other), (other, UP)):
        assert one.sense_of(two.through, two.along) == sense
        assert one.is_on_line_of(two) == (sense != 0)


@pytest.mark.parametrize(("off", "same"), [(0.9e-9, True), (1.1e-9, False)])
@pytest.mark.parametrize("height", [0.0, 0.3])
def test_at_the_border_a_nanometre_beside_counts(off, same, height):
    assert UP.is_on_line_of(Shaft((off, 0, height), (0, 0, 1))) is same
    tilted = Shaft((0, 0, 0), (1, 2, 3))
    beside = np.cross(tilted.along, (1, 0, 0))
    place = off * beside / np.linalg.norm(beside) + height * np.array(tilted.along)
    assert tilted.is_on_line_of(Shaft(tuple(place), (-1, -2, -3))) is same


@pytest.mark.parametrize(("sine", "same"), [(0.9e-9, True), (1.1e-9, False)])
def test_at_the_border_a_thousand_millionth_of_a_slope_counts(sine, same):
    along = (sine, 0.0, math.sqrt(1.0 - sine**2))
    assert UP.is_on_line_of(Shaft((0, 0, 0), along)) is same


def test_rounding_makes_no_second_line():
    """Points of one tilted line, as far apart as a machine may be large."""
    one = Shaft((0.1, -0.2, 0.3), (1, 2, 3))
    place = np.array(one.through) + 5.0 * np.array(one.along)
    assert one.sense_of(tuple(place.tolist()), Shaft((0, 0, 0), (2, 4, 6)).along) == 1
