"""The field of cells in each other, against demagnetising factors that are known otherwise."""

from __future__ import annotations

import math
from functools import cache

import numpy as np
import pytest
from iron_bodies import placed

from fieldsim.field.force.charge_field import Body, outside_field_T
from fieldsim.field.iron.cell_field import demagnetising_matrix
from fieldsim.field.iron.iron_cells import iron_cells
from fieldsim.machine.iron import Ball, Block, Rod, Tube
from fieldsim.machine.magnets import Cylinder

MM = 1e-3
CUBE = Block((10 * MM, 10 * MM, 10 * MM))


def even(cells, axis):
    """Return even magnetisation along an axis, of one over the whole, as the matrix takes it."""
    weight = np.sqrt(cells.volume_m3 / cells.volume_m3.sum())
    return np.outer(weight, np.eye(3)[axis]).ravel()


@cache
def own_field(shape, most=300):
    """Return cells of a shape and their matrix."""
    cells = iron_cells([placed(shape)], most)
    return cells, demagnetising_matrix(cells)


def factor(shape, susceptibility, axis=2, most=300):
    """Return H0/M less 1/chi, M being the mean over the piece: its magnetometric factor."""
    cells, own = own_field(shape, most)
    matrix = own + np.eye(3 * len(cells)) / susceptibility
    applied = even(cells, axis)
    return 1 / (applied @ np.linalg.solve(matrix, applied)) - 1 / susceptibility


@pytest.mark.parametrize(
    ("shape", "along"),
    [
        (CUBE, 1 / 3),
        (Block((10 * MM, 10 * MM, 20 * MM)), 0.198316152789),  # A. Aharoni 1998, closed form
        (Rod(10 * MM, 10 * MM), 0.311577392680),  # 1 less Nagaoka's factor, exact
        (Rod(10 * MM, 50 * MM), 0.079907329172),
    ],
)
def test_even_magnetisation_has_the_exact_factors(shape, along):
    cells, matrix = own_field(shape)
    found = [even(cells, axis) @ matrix @ even(cells, axis) for axis in range(3)]
    # Gauss points beside the edges of faces; charge of inner faces cancels point by point
    assert found[2] == pytest.approx(along, rel=0.015)
    assert found[:2] == pytest.approx([(1 - along) / 2] * 2, rel=0.015)
    assert sum(found) == pytest.approx(1.0, abs=1e-3)


@pytest.mark.parametrize("ratio", [1, 2, 5])
@pytest.mark.parametrize("chi", [9, 99, 999])
def test_rods_have_the_factors_of_boundary_elements(ratio, chi):
    """Worked out apart by axisymmetric charge on the surface, graded to the edge, to some 1e-4."""
    known = {
        1: {9: 0.26877, 99: 0.26006, 999: 0.25908},
        2: {9: 0.14799, 99: 0.14168, 999: 0.14099},
        5: {9: 0.05692, 99: 0.05136, 999: 0.05068},
    }[ratio][chi]
    found = factor(Rod(10 * MM, ratio * 10 * MM), chi)
    # Cells magnetise less than they could, as whatever is restricted in a minimum: from above.
    assert 0.995 * known < found < 1.06 * known


def test_a_cube_that_is_infinitely_permeable():
    """M/H0 = 3.644305 (J. Helsing, K.-M. Perfekt, 2013): 500 even cells are 2 % off."""
    found = 1 / factor(CUBE, 1e9, most=520)
    assert 0.97 * 3.644305 < found < 3.644305


def test_a_ball_has_nearly_the_same_factor_each_way():
    for axis in range(3):
        assert factor(Ball(10 * MM), 99, axis, most=200) == pytest.approx(1 / 3, rel=0.07)


def test_more_cells_come_nearer():
    found = [factor(Rod(10 * MM, 50 * MM), 999, most=most) for most in (40, 150, 300)]
    assert np.all(np.diff(np.abs(np.array(found) - 0.05068)) < 0)


def test_two_pieces_do_to_each_other_what_bodies_do():
    """The field of a rod that is evenly magnetised in a ball, near and far."""
    for height in (9 * MM, 40 * MM):
        rod, ball = placed(Rod(8 * MM, 10 * MM)), placed(Ball(4 * MM), centre=(2 * MM, 0, height))
        cells = iron_cells([rod, ball], 150)
        matrix = demagnetising_matrix(cells).reshape(len(cells), 3, len(cells), 3)
        root = np.sqrt(cells.volume_m3)
        inside = cells.piece == 0
        seen = np.einsum("tis,s->ti", matrix[~inside][:, :, inside, 2], root[inside])
        mean = -(root[~inside] @ seen) / cells.volume_m3[~inside].sum()
        body = Body(Cylinder(8 * MM, 10 * MM), (0.0, 0.0, 1.0))
        centre = np.array([ball.centre])
        # the mean of a field without sources over a ball is that in its middle
        assert mean == pytest.approx(outside_field_T(body, centre)[0], rel=0.015, abs=1e-5)


def test_nothing_depends_on_where_the_iron_stands():
    here = iron_cells([placed(Tube(10 * MM, 6 * MM, 30 * MM))], 90)
    there = iron_cells(
        [placed(Tube(10 * MM, 6 * MM, 30 * MM), centre=(0.3, -0.2, 0.1), axis=(0.6, 0, 0.8))], 90
    )
    turn = there.frame @ here.frame.transpose(0, 2, 1)
    first = demagnetising_matrix(here).reshape(len(here), 3, len(here), 3)
    second = demagnetising_matrix(there).reshape(first.shape)
    turned = np.einsum("sij,sjtk,tlk->sitl", turn, first, turn)
    assert second == pytest.approx(turned, abs=1e-9)


def test_it_is_symmetric_and_of_the_sizes_of_a_demagnetising_factor():
    _, matrix = own_field(Rod(10 * MM, 50 * MM))
    assert np.array_equal(matrix, matrix.T)
    values = np.linalg.eigvalsh(matrix)
    # The eight points of a cell leave a thousandth.
    assert values[0] > -2e-3
    assert values[-1] < 1.002
    assert math.isclose(np.trace(matrix), len(matrix) / 3, rel_tol=1e-6)  # each cell's trace is one
