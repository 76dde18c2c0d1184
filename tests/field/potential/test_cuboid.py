"""The cuboid's vector potential: symmetries, superposition, places where terms degenerate."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from vector_potential import vector_potential_Wb_per_m

SIZE = (0.02, 0.01, 0.005)
UP = (0.0, 0.0, 1.2)
SCALE = 1.2 * 0.005  # remanence times an edge: what A is of the order of, beside the magnet

coordinate = st.floats(-0.05, 0.05)
edge = st.floats(0.001, 0.03)
tesla = st.floats(-1.5, 1.5)


def outside_points(count: int, size=SIZE, seed: int = 1):
    """Points round the magnet, none of them inside."""
    points = np.random.default_rng(seed).uniform(-0.04, 0.04, (4 * count, 3))
    return points[(np.abs(points) > 0.55 * np.array(size)).any(axis=1)][:count]


@pytest.mark.parametrize("axis", range(3))
def test_potential_runs_round_the_magnetisation(axis):
    """Right-handed about it, by the solenoid that the magnet amounts to."""
    polarization = np.eye(3)[axis]
    first, second = np.eye(3)[(axis + 1) % 3], np.eye(3)[(axis + 2) % 3]
    a = vector_potential_Wb_per_m(0.03 * first, SIZE, tuple(polarization))
    assert a @ second > 1e-6
    assert a @ polarization == 0.0
    assert abs(a @ first) < 1e-16 * SCALE / 0.005  # zero by symmetry, up to rounding


def test_potential_has_no_part_along_the_magnetisation():
    assert not vector_potential_Wb_per_m(outside_points(50), SIZE, UP)[:, 2].any()


def test_no_magnetisation_no_potential():
    assert not vector_potential_Wb_per_m(outside_points(5), SIZE, (0.0, 0.0, 0.0)).any()


def test_single_point_equals_array():
    points = outside_points(24).reshape(2, 3, 4, 3)
    together = vector_potential_Wb_per_m(points, SIZE, (0.3, -0.5, 1.1))
    assert together.shape == (2, 3, 4, 3)
    for index in np.ndindex(2, 3, 4):
        alone = vector_potential_Wb_per_m(points[index], SIZE, (0.3, -0.5, 1.1))
        # Vector and remainder loops of the processor may round the last digit differently.
        assert together[index] == pytest.approx(alone, rel=1e-13, abs=1e-15 * SCALE)


def test_more_points_than_one_block_holds():
    """The points are worked off in blocks; the seams must not show."""
    few = outside_points(700)
    many = np.tile(few, (40, 1))
    first = vector_potential_Wb_per_m(few, SIZE, UP)
    all_of_them = vector_potential_Wb_per_m(many, SIZE, UP).reshape(40, 700, 3)
    # As above: only the last digit may differ.
    assert np.abs(all_of_them - first).max() < 1e-15 * SCALE


def test_points_are_left_alone():
    points = outside_points(10)
    before = points.copy()
    vector_potential_Wb_per_m(points, SIZE, (0.3, 0.4, 0.5))
    assert np.array_equal(points, before)


@settings(max_examples=40, deadline=None)
@given(st.tuples(coordinate, coordinate, coordinate), st.tuples(edge, edge, edge), st.data())
def test_mirror_in_each_plane(point, size, data):
    """A mirror keeps an axial vector's part along its normal and turns the rest: A is polar."""
    normal = data.draw(st.integers(0, 2))
    j = np.array(data.draw(st.tuples(tesla, tesla, tesla)))
    mirror = np.ones(3)
    mirror[normal] = -1.0
    a = vector_potential_Wb_per_m(np.array(point), size, tuple(j))
    b = vector_potential_Wb_per_m(np.array(point) * mirror, size, tuple(-j * mirror))
    # Corners swap places in sums and products: some roundings of terms of size Br times distance.
    assert b == pytest.approx(a * mirror, abs=1e-14 * 1.5 * 0.1)


@settings(max_examples=40, deadline=None)
@given(st.tuples(coordinate, coordinate, coordinate), st.tuples(edge, edge, edge))
@example((0.0, 0.0005, 0.0005), (0.015625, 0.001, 0.001))  # on an edge
@example((0.0078125, 0.0005, 0.0005), (0.015625, 0.001, 0.001))  # on a corner
def test_turning_the_axes_round(point, size):
    """Renaming x, y, z cyclically renames the components of A."""
    j = (0.3, -0.7, 1.1)
    a = vector_potential_Wb_per_m(np.array(point), size, j)
    b = vector_potential_Wb_per_m(np.roll(point, 1), tuple(np.roll(size, 1)), tuple(np.roll(j, 1)))
    assert b == pytest.approx(np.roll(a, 1), abs=1e-15 * SCALE)  # the same operations


def test_two_halves_make_a_whole():
    """Sawn through, the magnet has two new edges; their terms must cancel."""
    points = outside_points(200)
    whole = vector_potential_Wb_per_m(points, SIZE, (0.3, -0.5, 1.1))
    half = (SIZE[0] / 2, SIZE[1], SIZE[2])
    parts = sum(
        vector_potential_Wb_per_m(points - [s * SIZE[0] / 4, 0, 0], half, (0.3, -0.5, 1.1))
        for s in (-1, 1)
    )
    # Rounding of terms of the size of Br times the distance (0.07 m), relative to SCALE: 1e-14.
    assert np.abs(parts - whole).max() < 1e-13 * SCALE


def singular_places():
    """On lines that extend edges, planes that extend faces, and both within a hair of corners."""
    half = np.array(SIZE) / 2
    for axis in range(3):
        i, j = (axis + 1) % 3, (axis + 2) % 3
        for s, t, far in itertools.product((-1, 1), (-1, 1), (1e-6, 0.003, 0.2)):
            for end in (-1, 1):
                p = np.empty(3)
                p[axis] = end * (half[axis] + far)
                p[i], p[j] = s * half[i], t * half[j]
                yield p
        for s, out in itertools.product((-1, 1), (1e-6, 0.004)):
            p = np.empty(3)
            p[axis], p[i], p[j] = s * half[axis], half[i] + out, 0.3 * half[j]
            yield p
            p = p.copy()
            p[j] = 0.0
            yield p
        # On edges, their middles too, and on corners.
        for s, t, end in itertools.product((-1, 1), (-1, 1), (-1.0, -0.7, 0.0, 0.4)):
            p = np.empty(3)
            p[axis], p[i], p[j] = end * half[axis], s * half[i], t * half[j]
            yield p
    yield np.zeros(3)
    yield np.array([0.0, 0.0, 0.03])


PLACES = np.array(list(singular_places()))


def test_finite_where_terms_degenerate():
    with np.errstate(all="raise", under="ignore"):
        a = vector_potential_Wb_per_m(PLACES, SIZE, (0.3, -0.5, 1.1))
    assert np.isfinite(a).all()


@pytest.mark.parametrize("step", [1e-9, 1e-12, 1e-15])
def test_continuous_where_terms_degenerate(step):
    """A is continuous everywhere, so a small step makes a small change."""
    a = vector_potential_Wb_per_m(PLACES, SIZE, (0.3, -0.5, 1.1))
    for direction in itertools.product((-1, 0, 1), repeat=3):
        b = vector_potential_Wb_per_m(PLACES + step * np.array(direction), SIZE, (0.3, -0.5, 1.1))
        # |B| near a corner is Br/(2 pi) times a few logarithms of size over distance (1e-6 m):
        # below 10 T here; the second part is rounding at the 0.2 m places.
        assert np.abs(b - a).max() < 10.0 * step + 1e-13 * SCALE


@pytest.mark.parametrize("axis", range(3))
def test_no_noise_beside_an_edge(axis):
    """Near an edge A changes as distance times (p + q ln distance): two places tell p and q."""
    i, j = (axis + 1) % 3, (axis + 2) % 3
    half = np.array(SIZE) / 2
    distance = np.array([0.0, 1e-6, 1e-7, 1e-8, 1e-9, 1e-10])
    points = np.empty((len(distance), 3))
    points[:, axis], points[:, i], points[:, j] = 0.2 * half[axis], half[i] + distance, half[j]
    a = vector_potential_Wb_per_m(points, SIZE, (0.3, -0.5, 1.1))
    change, d = a[1:] - a[0], distance[1:, None]
    p_and_q = np.linalg.solve(np.hstack([d, d * np.log(d)])[:2], change[:2])
    expected = np.hstack([d, d * np.log(d)]) @ p_and_q
    # The next power of distance over size (1e-6 over 5e-3); then rounding of A itself.
    assert np.abs(change - expected).max() < 1e-16 * SCALE / 0.005 + 2e-4 * 1e-7
    assert np.abs(change[2:] - expected[2:]).max() < 3e-15 * SCALE + 2e-4 * 1e-8


def test_continuous_through_a_face():
    """A has a kink, but no jump, where the current sheet runs."""
    z = np.linspace(-0.002, 0.002, 5)
    for out in (1e-12, -1e-12):
        points = np.stack([np.full(5, SIZE[0] / 2 + out), np.full(5, 0.001), z], axis=1)
        on = points.copy()
        on[:, 0] = SIZE[0] / 2
        difference = vector_potential_Wb_per_m(points, SIZE, UP) - vector_potential_Wb_per_m(
            on, SIZE, UP
        )
        assert np.abs(difference).max() < 2.0 * 1e-12 + 1e-15 * SCALE  # |dA/dx| is below 2 T
