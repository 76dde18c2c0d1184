"""Corners of turns: what a depth adds to their length and area."""

import numpy as np
import pytest

from fieldsim.wire.corners import Corners


@pytest.mark.parametrize("corners", Corners)
def test_length_is_what_the_area_grows_by(corners):
    """A turn that moves out by a little sweeps its own length."""
    opening, depth, step = (0.024, 0.016), 0.006, 1e-6
    area = [corners.area_m2(opening, d) for d in (depth - step, depth + step)]
    length = 2 * sum(opening) + corners.growth * depth
    assert (area[1] - area[0]) / (2 * step) == pytest.approx(length, rel=1e-9)  # rounding
    assert corners.area_m2(opening, 0.0) == pytest.approx(0.024 * 0.016)


def test_round_corners_around_a_point_make_circles():
    assert Corners.ROUND.area_m2((0.0, 0.0), 0.01) == pytest.approx(np.pi * 1e-4)
