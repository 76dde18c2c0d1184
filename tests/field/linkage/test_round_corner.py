"""Points over the corners of a winding."""

import math

import numpy as np
import pytest

from fieldsim.field.linkage.round_corner import bend_points, mitre_points, points_for_products


@pytest.mark.parametrize("of_corner", [bend_points, mitre_points])
def test_points_lie_in_the_corner(of_corner):
    along, depth, weight = of_corner(2e-3, (5, 7))
    assert len(along) == len(depth) == len(weight) == 35
    assert (weight > 0).all()
    assert (along > 0).all()
    assert (depth > 0).all()
    if of_corner is bend_points:
        assert (np.hypot(along, depth) < 2e-3).all()
    else:
        assert (along < depth).all()
        assert (depth < 2e-3).all()


@pytest.mark.parametrize("of_corner", [bend_points, mitre_points])
def test_the_turns_pass_through_the_corner_once(of_corner):
    """Over the build, what runs along a side adds up to the way to the corner: the depth."""
    _, _, weight = of_corner(3e-3, (2, 10))
    assert weight.sum() == pytest.approx(3e-3**2 / 2, rel=1e-12)


@pytest.mark.parametrize(("m", "n"), [(0, 0), (1, 0), (0, 1), (2, 3), (6, 1), (5, 8)])
def test_products_of_powers_are_exact(m, n):
    """t^m u^n u/r over the quarter disc: a beta function of the angle over m + n + 2."""
    along, depth, weight = points_for_products(1.0, m + n)
    beta = math.gamma((m + 1) / 2) * math.gamma((n + 2) / 2) / math.gamma((m + n + 3) / 2) / 2
    assert weight @ (along**m * depth**n) == pytest.approx(beta / (m + n + 2), rel=1e-13)
