"""The charged rectangle: its potential, its field, and the lines where terms degenerate."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldsim.field.potential.charged_rectangle import rectangle_field, rectangle_potential

A, B = 0.7, 1.1


@pytest.mark.parametrize("place", [(1.5, 0.3, 0.9), (0.0, 0.0, -0.4), (-2.0, 1.5, 0.2)])
def test_both_are_integrals_over_the_rectangle(place):
    x, w = np.polynomial.legendre.leggauss(120)
    u, v = np.meshgrid(A * x, B * x, indexing="ij")
    weight = np.outer(w, w) * A * B / (4 * math.pi)
    gap = np.stack([place[0] - u, place[1] - v, np.full_like(u, place[2])])
    distance = np.sqrt((gap**2).sum(axis=0))
    point = np.array(place)[:, None]
    # Gauss at 120 points a side leaves 1e-9 at the nearest of these.
    assert rectangle_potential(*point, A, B)[0] == pytest.approx(
        (weight / distance).sum(), rel=1e-9
    )
    field = (weight * gap / distance**3).sum(axis=(1, 2))
    found = [part[0] for part in rectangle_field(*point, A, B)]
    assert found == pytest.approx(field, rel=1e-8, abs=1e-9)


@settings(max_examples=60, deadline=None)
@given(*[st.floats(-2, 2)] * 3)
def test_the_field_is_minus_the_slope_of_the_potential(x, y, z):
    if min(abs(abs(x) - A), abs(abs(y) - B)) < 1e-2 or abs(z) < 1e-2:
        return
    point, h = np.array([[x], [y], [z]]), 1e-5
    for axis, found in enumerate(rectangle_field(*point, A, B)):
        step = np.zeros((3, 1))
        step[axis] = h
        rise = rectangle_potential(*(point + step), A, B) - rectangle_potential(
            *(point - step), A, B
        )
        assert found[0] == pytest.approx(-float(rise[0]) / (2 * h), abs=1e-8)


def test_across_the_charge_the_field_jumps_by_one():
    above, at, below = (
        rectangle_field(np.array([0.2]), np.array([0.3]), np.array([z]), A, B)[2][0]
        for z in (1e-12, 0.0, -1e-12)
    )
    assert above - below == pytest.approx(1.0)
    assert at == 0.0


@pytest.mark.parametrize(
    "place", [(A, 0.3, 0.0), (A, B, 0.0), (0.2, B, 0.0), (3.0, B, 0.0), (A, 5.0, 0.0)]
)
def test_on_edges_and_their_lines_the_potential_is_that_beside_them(place):
    point = np.array(place)[:, None]
    near = rectangle_potential(*(point + 1e-9), A, B)[0]
    assert rectangle_potential(*point, A, B)[0] == pytest.approx(near, rel=1e-6)


def test_half_sides_broadcast():
    point = np.array([[0.3], [0.2], [0.5]])
    both = rectangle_potential(*point, np.array([[0.5], [A]]), np.array([[0.4], [B]]))
    assert both.shape == (2, 1)
    assert both[1, 0] == rectangle_potential(*point, A, B)[0]
