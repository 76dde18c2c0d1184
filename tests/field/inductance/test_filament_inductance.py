"""Straight filaments: limits, symmetries, special positions."""

from __future__ import annotations

import math

import mpmath
import numpy as np
import pytest
from filament_loops import polygon_mutual_H, rectangle_corners, segment_mutual_H
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from fieldsim.field.inductance.filament_inductance import (
    MU_0_OVER_4PI,
    PARALLEL_SINE,
    parallel_integral_m,
    skew_integral_m,
)

coordinate = st.floats(-1.0, 1.0).map(lambda x: round(x, 6))
point = st.tuples(coordinate, coordinate, coordinate)


def by_quadrature(a1, b1, a2, b2):
    """Neumann's integral to 25 digits: the first segment in closed form, mpmath on the second."""
    with mpmath.workdps(25):
        vectors = [[mpmath.mpf(float(x)) for x in p] for p in (a1, b1, a2, b2)]

        def dot(u, v):
            return sum(x * y for x, y in zip(u, v, strict=True))

        p1, q1, p2, q2 = vectors
        e = [y - x for x, y in zip(p1, q1, strict=True)]
        g = [y - x for x, y in zip(p2, q2, strict=True)]
        l1, l2 = mpmath.sqrt(dot(e, e)), mpmath.sqrt(dot(g, g))
        e, g = [x / l1 for x in e], [x / l2 for x in g]

        def potential(t):
            r = [x + t * y - z for x, y, z in zip(p2, g, p1, strict=True)]
            z = dot(r, e)
            rest = [x - z * y for x, y in zip(r, e, strict=True)]
            d = mpmath.sqrt(dot(rest, rest))
            return mpmath.asinh(z / d) - mpmath.asinh((z - l1) / d)

        integral = mpmath.quad(potential, mpmath.linspace(0, l2, 9))
        return float(mpmath.mpf(MU_0_OVER_4PI) * dot(e, g) * integral)


@pytest.mark.parametrize(
    ("angle", "tolerance"),
    # Rounding grows as 1e-15/angle down to where the directions count as parallel.
    [(1.3, 1e-13), (0.1, 1e-12), (1e-3, 1e-11), (1e-5, 1e-9), (1e-7, 1e-7), (1e-9, 1e-9)],
)
@pytest.mark.parametrize("backwards", [False, True])
def test_segments_at_any_angle_agree_with_quadrature(angle, tolerance, backwards):
    start1, end1 = np.array([0.1, 0.0, 0.0]), np.array([1.1, 0.0, 0.0])
    direction = np.array([math.cos(angle), math.sin(angle) * 0.6, math.sin(angle) * 0.8])
    start2 = np.array([-0.3, 0.4, -0.5])
    end2 = start2 + (-0.8 if backwards else 0.8) * direction
    expected = by_quadrature(start1, end1, start2, end2)
    assert segment_mutual_H(start1, end1, start2, end2) == pytest.approx(expected, rel=tolerance)


def test_perpendicular_segments_do_not_couple():
    assert abs(segment_mutual_H([0, 0, 0], [1, 0, 0], [0.2, 0.1, 0.3], [0.2, 2.0, 0.3])) < 1e-22


def test_segments_in_one_line_need_no_distance():
    # From the definition: the integral of 1/(y - x) over x in (0, 1), y in (2, 3).
    expected = MU_0_OVER_4PI * (3 * math.log(3) - 4 * math.log(2))
    value = segment_mutual_H([0, 0, 0], [1, 0, 0], [2, 0, 0], [3, 0, 0])
    assert value == pytest.approx(expected, rel=1e-13)  # rounding of a cancelling sum


def test_segments_that_touch_end_to_end():
    expected = MU_0_OVER_4PI * 2 * math.log(2)  # the same integral over y in (1, 2)
    value = segment_mutual_H([0, 0, 0], [1, 0, 0], [1, 0, 0], [2, 0, 0])
    assert value == pytest.approx(expected, rel=1e-11)  # the lines' stand-in distance is 1e-12


def test_segments_that_meet_at_an_angle():
    # Two unit segments from one corner at 60 degrees: with the divergence form only the far edges
    # count, each the potential of one segment at the far end of the other, ln 3.
    value = segment_mutual_H([0, 0, 0], [1, 0, 0], [0, 0, 0], [0.5, math.sqrt(3) / 2, 0])
    assert value == pytest.approx(MU_0_OVER_4PI * 0.5 * 2 * math.log(3), rel=1e-13)


def test_segments_that_cross_are_finite():
    value = segment_mutual_H([-1, 0, 0], [1, 0, 0], [-1, -1, 0], [1, 1, 0])
    # Four meetings of unit and sqrt(2) segments at 45 and 135 degrees, by the divergence form.
    near = math.log((1 + math.sqrt(2) + 1) / (1 + math.sqrt(2) - 1))
    near_long = math.log((math.sqrt(2) + 1 + 1) / (math.sqrt(2) + 1 - 1))
    far = math.log((math.sqrt(2) + math.sqrt(5) + 1) / (math.sqrt(2) + math.sqrt(5) - 1))
    far_long = math.log((1 + math.sqrt(5) + math.sqrt(2)) / (1 + math.sqrt(5) - math.sqrt(2)))
    # x = 1: potential there of both halves of the diagonal; y = sqrt(2): of both halves of x.
    x_edge = math.log((1 + 1 + math.sqrt(2)) / (1 + 1 - math.sqrt(2))) + far_long
    y_edge = near + far
    assert near == pytest.approx(near_long)
    expected = 2 * (x_edge + math.sqrt(2) * y_edge) * math.cos(math.pi / 4)
    assert value == pytest.approx(MU_0_OVER_4PI * expected, rel=1e-12)


def test_segments_on_each_other_are_infinite():
    assert np.isinf(segment_mutual_H([0, 0, 0], [1, 0, 0], [0.5, 0, 0], [2, 0, 0]))


def test_a_filament_without_length_is_refused():
    with pytest.raises(ValueError, match="length above zero"):
        segment_mutual_H([0, 0, 0], [0, 0, 0], [0, 1, 0], [1, 1, 0])
    with pytest.raises(ValueError, match="two lengths above zero"):
        rectangle_corners((0, 0, 0), (0, 0, 1), (1, 0, 0), (0.0, 1.0))


def test_parallel_and_skew_forms_meet():
    # The skew form at a small angle against the parallel one, which differs by about the angle.
    one, half = np.array(1.0), np.array(0.5)
    straight = parallel_integral_m(0.2 * one, 0.3 * one, half, half)
    angle = 1e-5
    skew = skew_integral_m(
        0.2 * one, 0.2 * math.cos(angle) * one, 0.3 * one, math.cos(angle), angle, half, half
    )
    assert skew == pytest.approx(float(straight), rel=10 * angle)
    assert angle > PARALLEL_SINE


@settings(max_examples=40, deadline=None)
@given(point, point, point, point)
def test_swapping_filaments_changes_nothing_and_reversing_one_the_sign(a1, b1, a2, b2):
    assume(math.dist(a1, b1) > 0.05 and math.dist(a2, b2) > 0.05)
    value = float(segment_mutual_H(a1, b1, a2, b2))
    assume(math.isfinite(value))
    # 1e-7 m of filament is the loss where directions are almost parallel.
    close = pytest.approx(value, rel=1e-7, abs=1e-16)
    assert float(segment_mutual_H(a2, b2, a1, b1)) == close
    assert -float(segment_mutual_H(b1, a1, a2, b2)) == close


@settings(max_examples=30, deadline=None)
@given(point, point, point, st.floats(0.1, 0.9))
def test_a_segment_is_the_sum_of_its_parts(a1, b1, a2, share):
    assume(math.dist(a1, b1) > 0.05)
    b2 = (a2[0] + 0.3, a2[1] - 0.4, a2[2] + 0.5)
    cut = tuple(x + share * (y - x) for x, y in zip(a1, b1, strict=True))
    whole = float(segment_mutual_H(a1, b1, a2, b2))
    assume(math.isfinite(whole))
    parts = segment_mutual_H([a1, cut], [cut, b1], a2, b2)
    assert float(parts.sum()) == pytest.approx(whole, rel=1e-7, abs=1e-16)


def test_polygons_broadcast():
    lower = rectangle_corners((0, 0, 0), (0, 0, 1), (1, 0, 0), (0.04, 0.02))
    heights = np.array([0.01, 0.02, 0.05])
    upper = lower + heights[:, None, None] * np.array([0.0, 0.0, 1.0])
    together = polygon_mutual_H(lower, upper)
    assert together.shape == (3,)
    assert together.tolist() == [float(polygon_mutual_H(lower, one)) for one in upper]


def test_a_distant_loop_sees_a_dipole():
    small = rectangle_corners((0, 0, 0), (0, 0, 1), (1, 0, 0), (0.02, 0.01))
    other = rectangle_corners((0.0, 0.0, 1.0), (0, 0, 1), (1, 0, 0), (0.01, 0.03))
    dipole = 2 * MU_0_OVER_4PI * (0.02 * 0.01) * (0.01 * 0.03)
    # The next term is of the order (size/distance)**2.
    assert polygon_mutual_H(small, other) == pytest.approx(dipole, rel=2e-3)
