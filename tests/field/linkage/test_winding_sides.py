"""The four sides of a winding and their distances."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from machines import si_coil

from fieldsim.field.linkage.winding_sides import side_distances_m, sides_of

COIL = si_coil("c", (0, 0, 0), (0, 0, 1), (1, 0, 0), (0.024, 0.016), 0.012, 0.006, 100)


def test_sides_follow_each_other_round_the_axis():
    sides = sides_of(COIL)
    directions = sides.frame[:, 0]
    assert np.cross(directions, np.roll(directions, -1, axis=0)).tolist() == [[0, 0, 1]] * 4
    ends = sides.middle_m + sides.half_m[:, None] * directions
    starts = sides.middle_m - sides.half_m[:, None] * directions
    assert ends == pytest.approx(np.roll(starts, -1, axis=0), abs=1e-15)


def test_build_grows_outward():
    sides = sides_of(COIL)
    assert np.einsum("ij,ij->i", sides.middle_m, sides.frame[:, 1]).tolist() == [
        0.008,
        0.012,
        0.008,
        0.012,
    ]


def test_distances_of_stacked_coils():
    upper = replace(COIL, centre=(0, 0, 0.022))
    distances = side_distances_m(sides_of(COIL), sides_of(upper))
    assert np.diag(distances) == pytest.approx(0.010)
    # Across the opening: 16 mm and the 10 mm between them.
    assert distances[0, 2] == pytest.approx(np.hypot(0.016, 0.010))
    assert distances == pytest.approx(distances.T)


def test_a_coil_touches_itself():
    assert np.diag(side_distances_m(sides_of(COIL), sides_of(COIL))).tolist() == [0.0] * 4
