"""Directions: made square once is made square for good."""

from __future__ import annotations

import math

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from fieldsim.machine.frames import cross, dot, perpendicular_part, unit

VECTORS = st.tuples(*[st.floats(-1.0, 1.0, allow_subnormal=False)] * 3)


@settings(max_examples=300, deadline=None, derandomize=True)
@given(v=VECTORS, axis=VECTORS)
def test_a_direction_made_square_is_kept_to_the_last_digit(v, axis):
    assume(min(math.hypot(*v), math.hypot(*axis)) > 1e-3)
    axis = unit(axis)
    assume(math.hypot(*cross(unit(v), axis)) > 1e-5)
    square = perpendicular_part(v, axis)
    assert perpendicular_part(square, axis) == square
    assert abs(dot(square, axis)) <= 4e-16  # rounding of three products
    assert math.hypot(*square) == pytest.approx(1.0, abs=1e-15)


def test_a_direction_along_the_axis_cannot_be_made_square():
    with pytest.raises(ValueError, match="parallel to the axis"):
        perpendicular_part((1e-7, 0.0, 1.0), (0.0, 0.0, 1.0))
