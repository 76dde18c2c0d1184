"""Overlaps of boxes: by hand, against linear programming, and unchanged by moving both."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog
from scipy.spatial.transform import Rotation

from fieldsim.machine.clearance.box_overlap import Boxes, separations_m


def box(centre, half, turn=None):
    frame = np.eye(3) if turn is None else turn.as_matrix()
    return Boxes(np.array([centre], dtype=float), frame[None], np.array([half], dtype=float))


def share_a_point(one: Boxes, two: Boxes) -> bool:
    """Whether two boxes have a point in common, as a linear programme over that point."""
    rows, bounds = [], []
    for b in (one, two):
        across = b.frames[0].T
        rows += [across, -across]
        at = across @ b.centres[0]
        bounds += [at + b.halves[0], b.halves[0] - at]
    result = linprog(
        np.zeros(3), A_ub=np.vstack(rows), b_ub=np.concatenate(bounds), bounds=[(None, None)] * 3
    )
    return bool(result.status == 0)


@pytest.mark.parametrize(
    ("centre", "expected"),
    [((0, 0, 0), -2), ((1.5, 0, 0), -0.5), ((0, 0, 1.9), -0.1), ((2, 0, 0), 0), ((3, 0, 0), 1)],
)
def test_two_cubes_by_hand(centre, expected):
    found = separations_m(box((0, 0, 0), (1, 1, 1)), box(centre, (1, 1, 1)))
    assert found.shape == (1, 1)
    assert found[0, 0] == pytest.approx(expected, abs=1e-12)


def test_edge_to_edge_needs_the_products():
    """Two long bars across each other, turned so that edge meets edge: no face parts them."""
    one = box((0, 0, 0), (5, 1, 1), Rotation.from_euler("x", 45, degrees=True))
    two = box((0, 0, 2.9), (1, 5, 1), Rotation.from_euler("y", 45, degrees=True))
    assert separations_m(one, two)[0, 0] == pytest.approx(2.9 - 2 * np.sqrt(2), abs=1e-12)


lengths = st.floats(0.1, 2)
vectors = st.tuples(*[st.floats(-2, 2)] * 3)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(vectors, st.tuples(lengths, lengths, lengths), st.integers(0, 999), st.integers(0, 999))
def test_sign_against_linear_programming(centre, half, turn, other):
    one = box((0, 0, 0), (1, 0.5, 0.8), Rotation.random(random_state=turn))
    two = box(centre, half, Rotation.random(random_state=other))
    found = separations_m(one, two)[0, 0]
    if abs(found) > 1e-6:  # the programme's own tolerance is 1e-7
        assert share_a_point(one, two) == (found < 0)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(vectors, st.integers(0, 999), st.integers(0, 999))
def test_depth_frees_and_less_does_not(centre, turn, other):
    """Moved by 99 % of the depth, the boxes are free in no direction; by 101 %, in one of them."""
    one = box((0, 0, 0), (1, 0.5, 0.8), Rotation.random(random_state=turn))
    frame = Rotation.random(random_state=other)
    depth = -separations_m(one, box(centre, (0.7, 0.4, 0.9), frame))[0, 0]
    if depth < 1e-3:
        return

    def at(shifts):
        count = len(shifts)
        frames = np.broadcast_to(frame.as_matrix(), (count, 3, 3))
        moved = Boxes(centre + shifts, frames, np.tile((0.7, 0.4, 0.9), (count, 1)))
        return separations_m(one, moved)[0]

    ways = Rotation.random(300, random_state=3).apply([0, 0, 1])
    assert at(0.99 * depth * ways).max() < 0
    mine, its = one.frames[0].T, frame.as_matrix().T
    edges = np.array([*mine, *its, *(np.cross(a, b) for a in mine for b in its)])
    length = np.linalg.norm(edges, axis=1)
    edges = edges[length > 1e-9] / length[length > 1e-9, None]
    assert at(1.01 * depth * np.concatenate([edges, -edges])).max() > 0


def test_all_pairs_at_once():
    rng = np.random.default_rng(0)

    def some(n):
        return Boxes(
            rng.normal(size=(n, 3)),
            Rotation.random(n, random_state=n).as_matrix(),
            rng.uniform(0.2, 1, size=(n, 3)),
        )

    one, two = some(4), some(5)
    found = separations_m(one, two)
    assert found.shape == (4, 5)
    for i in range(4):
        for j in range(5):
            assert separations_m(one[i], two[j])[0, 0] == pytest.approx(found[i, j], abs=1e-14)
    assert np.allclose(separations_m(two, one).T, found, rtol=0, atol=1e-14)
