"""The potential of a box: quadrature outside it, its source inside it, and symmetry."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldsim.field.linkage.quadrature import gauss_tensor
from fieldsim.field.potential.box_potential import box_potential_m2

HALF = (1.0, 0.7, 0.4)


def by_quadrature(point, half):
    nodes = gauss_tensor((40, 40, 40))
    apart = nodes[:3].T * half - point
    return nodes[3] @ (1 / np.linalg.norm(apart, axis=1)) * np.prod(half)


@pytest.mark.parametrize("point", [(2.0, 0.3, 0.5), (-1.3, 0.9, -2.0), (0.5, -1.7, 0.4)])
def test_outside_it_is_the_integral(point):
    assert box_potential_m2(np.array(point), HALF) == pytest.approx(by_quadrature(point, HALF))


@pytest.mark.parametrize("point", [(0.3, 0.2, -0.1), (0.9, -0.6, 0.3), (1.4, 0.2, 0.3)])
def test_its_laplacian_is_the_density(point):
    """-4 pi inside, nothing outside; a difference over 1e-3 errs by its square."""
    steps = 1e-3 * np.concatenate([np.eye(3), -np.eye(3)])
    around = box_potential_m2(np.array(point) + steps, HALF)
    laplacian = (around.sum() - 6 * box_potential_m2(np.array(point), HALF)) / 1e-6
    inside = bool((np.abs(point) < HALF).all())
    assert laplacian == pytest.approx(-4 * np.pi * inside, abs=1e-4)


@given(st.tuples(*[st.floats(-2, 2)] * 3), st.tuples(*[st.sampled_from([-1.0, 1.0])] * 3))
@settings(deadline=None)
def test_mirrors(point, signs):
    there = box_potential_m2(np.multiply(point, signs), HALF)
    assert there == pytest.approx(box_potential_m2(np.array(point), HALF), rel=1e-12)


@pytest.mark.parametrize("place", [(1, 0, 0), (1, 1, 0), (1, 1, 1), (0, 0, 1), (-1, 1, -1)])
def test_finite_and_continuous_on_faces_edges_and_corners(place):
    point = np.array(place) * HALF
    with np.errstate(all="raise", under="ignore"):
        there = box_potential_m2(point, HALF)
    beside = box_potential_m2(point + np.array([1e-9, -1e-9, 1e-9]), HALF)
    assert there == pytest.approx(beside, rel=1e-8)  # its slope is about one
