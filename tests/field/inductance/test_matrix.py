"""Self and mutual inductance of coils: symmetries, limits, the matrix, wrong input."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from filament_loops import polygon_mutual_H, rectangle_corners
from hypothesis import given, settings
from hypothesis import strategies as st
from machines import si_coil

from fieldsim.errors import ImpossibleError
from fieldsim.field.inductance.matrix import (
    inductance_matrix,
    mutual_inductance,
    self_inductance,
)

LENGTH = st.floats(1e-3, 20e-3).map(lambda x: round(x, 5))
OPENING = st.floats(5e-3, 40e-3).map(lambda x: round(x, 5))
SHIFT = st.floats(-0.06, 0.06).map(lambda x: round(x, 5))
ORIGIN = st.just((0.0, 0.0, 0.0))
DIRECTION = st.tuples(*[st.floats(-1, 1).map(lambda x: round(x, 3))] * 3)


def rotation(vector):
    """Return the matrix of the turn by |vector| about it."""
    x, y, z = vector
    angle = math.sqrt(x * x + y * y + z * z)
    if angle == 0:
        return np.eye(3)
    k = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]]) / angle
    return np.eye(3) + math.sin(angle) * k + (1 - math.cos(angle)) * k @ k


@st.composite
def coils(draw, centre=ORIGIN, turn=ORIGIN):
    matrix = rotation(draw(turn))
    return si_coil(
        "c",
        draw(centre),
        tuple(matrix[:, 2]),
        tuple(matrix[:, 0]),
        (draw(OPENING), draw(OPENING)),
        draw(LENGTH),
        draw(LENGTH),
        draw(st.integers(1, 3000)),
    )


# Above the first coil by more than both half lengths and the reach of a tilted one.
APART = st.tuples(SHIFT, SHIFT, st.floats(0.07, 0.2).map(lambda x: round(x, 5)))
TILTED = coils(centre=APART, turn=DIRECTION)


def scale_H(first, second):
    return math.sqrt(self_inductance(first).value_H * self_inductance(second).value_H)


@settings(max_examples=12, deadline=None)
@given(coils(), TILTED)
def test_mutual_is_the_same_both_ways_and_turns_over_with_either_coil(first, second):
    there, back = mutual_inductance(first, second), mutual_inductance(second, first)
    allowed = 2 * (there.error_H + back.error_H)
    assert abs(there.value_H - back.value_H) <= allowed
    # An axis reversed with the same side direction: the same winding, run the other way round.
    turned = replace(second, axis=tuple(-x for x in second.axis))
    assert abs(mutual_inductance(first, turned).value_H + there.value_H) <= allowed
    assert allowed <= 1e-7 * scale_H(first, second)


@settings(max_examples=12, deadline=None)
@given(coils(), TILTED, DIRECTION, st.tuples(SHIFT, SHIFT, SHIFT))
def test_moving_both_coils_together_changes_nothing(first, second, turn, shift):
    matrix = rotation(turn)

    def moved(coil):
        return si_coil(
            "m",
            tuple(matrix @ np.array(coil.centre) + np.array(shift)),
            tuple(matrix @ np.array(coil.axis)),
            tuple(matrix @ np.array(coil.side)),
            coil.opening,
            coil.length,
            coil.build,
            coil.turns,
        )

    here = mutual_inductance(first, second)
    there = mutual_inductance(moved(first), moved(second))
    # The orders may differ, since the same distance is rounded otherwise; both errors count.
    allowed = 2 * (here.error_H + there.error_H) + 1e-12 * scale_H(first, second)
    assert abs(here.value_H - there.value_H) <= allowed


@settings(max_examples=12, deadline=None)
@given(coils(), TILTED, st.floats(0.1, 10.0))
def test_inductance_scales_with_length_and_with_turns_squared(first, second, factor):
    def scaled(coil):
        return replace(
            coil,
            centre=tuple(factor * x for x in coil.centre),
            opening=tuple(factor * x for x in coil.opening),
            length=factor * coil.length,
            build=factor * coil.build,
            turns=2 * coil.turns,
        )

    own, mutual = self_inductance(first), mutual_inductance(first, second)
    big = self_inductance(scaled(first))
    assert big.value_H == pytest.approx(4 * factor * own.value_H, rel=1e-8)  # quadrature's error
    much = mutual_inductance(scaled(first), scaled(second))
    allowed = 4 * factor * 2 * mutual.error_H + 2 * much.error_H
    assert abs(much.value_H - 4 * factor * mutual.value_H) <= allowed


@settings(max_examples=15, deadline=None)
@given(coils(), coils(centre=st.tuples(SHIFT, SHIFT, st.floats(0.021, 0.06))))
def test_stacked_coils_store_energy_whatever_their_currents(first, second):
    matrix, error = inductance_matrix([first, second])
    assert np.linalg.eigvalsh(matrix).min() > 0
    assert matrix[0, 1] ** 2 < matrix[0, 0] * matrix[1, 1]
    assert error < 1e-7


def test_coils_beside_each_other_oppose_and_stacked_ones_help():
    coil = si_coil("c", (0, 0, 0), (0, 0, 1), (1, 0, 0), (0.02, 0.02), 0.01, 0.005, 100)
    assert mutual_inductance(coil, replace(coil, centre=(0.05, 0, 0))).value_H < 0
    assert mutual_inductance(coil, replace(coil, centre=(0, 0, 0.02))).value_H > 0
    # Turned by a right angle over the middle, no flux passes.
    upright = si_coil("u", (0, 0, 0.05), (1, 0, 0), (0, 1, 0), (0.02, 0.02), 0.01, 0.005, 100)
    assert abs(mutual_inductance(coil, upright).value_H) < 1e-12 * self_inductance(coil).value_H


def test_thin_windings_become_filaments():
    thin = si_coil("t", (0, 0, 0), (0, 0, 1), (1, 0, 0), (0.04, 0.02), 1e-5, 1e-5, 1)
    tilted = si_coil("u", (0.01, 0, 0.02), (1, 0, 2), (0, 1, 0), (0.03, 0.05), 1e-5, 1e-5, 1)
    size = [(a + 1e-5, b + 1e-5) for a, b in (thin.opening, tilted.opening)]
    expected = polygon_mutual_H(
        rectangle_corners(thin.centre, thin.axis, thin.side, size[0]),
        rectangle_corners(tilted.centre, tilted.axis, tilted.side, size[1]),
    )
    # The section's size over the distance, squared: (1e-5/1e-2)**2.
    assert mutual_inductance(thin, tilted).value_H == pytest.approx(float(expected), rel=1e-6)


def test_two_halves_of_a_winding_make_the_whole():
    """Self-inductance of a winding cut across its axis, or into an inner and an outer winding."""
    whole = si_coil("w", (0, 0, 0), (0, 0, 1), (1, 0, 0), (0.03, 0.02), 0.012, 0.008, 600)
    lower = replace(whole, name="l", centre=(0, 0, -0.003), length=0.006, turns=300)
    upper = replace(lower, name="u", centre=(0, 0, 0.003))
    inner = replace(whole, name="i", build=0.004, turns=300)
    outer = replace(inner, name="o", opening=(0.038, 0.028))
    expected = self_inductance(whole).value_H
    for halves in ([lower, upper], [inner, outer]):
        matrix, _ = inductance_matrix(halves)
        assert matrix.sum() == pytest.approx(expected, rel=1e-8)  # both routes' quadrature


def test_three_coils_in_any_position():
    base = si_coil("a", (0, 0, 0), (0, 0, 1), (1, 0, 0), (0.03, 0.02), 0.01, 0.008, 500)
    others = [
        si_coil("b", (0, 0, 0.03), (0.2, 0, 1), (0, 1, 0), (0.02, 0.02), 0.01, 0.008, 900),
        si_coil("c", (0.08, 0, 0), (1, 1, 0), (0, 0, 1), (0.01, 0.02), 0.01, 0.008, 200),
    ]
    matrix, error = inductance_matrix([base, *others])
    assert matrix.tolist() == matrix.T.tolist()
    assert np.linalg.eigvalsh(matrix).min() > 0
    assert 0 < error < 1e-7
    own = np.diag(matrix)
    factors = matrix / np.sqrt(np.outer(own, own))
    assert np.diag(factors).tolist() == pytest.approx([1, 1, 1])
    assert np.abs(factors - np.eye(3)).max() < 1
    assert inductance_matrix([])[0].shape == (0, 0)


def test_coils_that_fill_the_same_place_are_impossible():
    coil = si_coil("here", (0, 0, 0), (0, 0, 1), (1, 0, 0), (0.03, 0.02), 0.01, 0.008, 500)
    with pytest.raises(ImpossibleError, match='"here" and "there" fill the same place'):
        inductance_matrix([coil, replace(coil, name="there")])


@pytest.mark.parametrize(
    "change",
    [{"length": 0.0}, {"build": -1.0}, {"turns": 0}, {"opening": (0.0, 1.0)}, {"build": math.nan}],
)
def test_windings_that_cannot_be_are_refused(change):
    coil = si_coil("c", (0, 0, 0), (0, 0, 1), (1, 0, 0), (0.03, 0.02), 0.01, 0.008, 500)
    with pytest.raises(ImpossibleError, match=f'coil "c": {next(iter(change))} .* above zero'):
        self_inductance(replace(coil, **change))
