"""Cells of iron in applied fields: the least energy, the law, and both ends of it."""

from __future__ import annotations

import math
from functools import cache

import numpy as np
import pytest
from iron_bodies import placed

from fieldsim.errors import ImpossibleError
from fieldsim.field.iron import magnetised_cells
from fieldsim.field.iron.cell_field import demagnetising_matrix
from fieldsim.field.iron.iron_cells import iron_cells
from fieldsim.field.iron.magnetised_cells import MagnetisedCells
from fieldsim.machine.iron import Ball, Block, Rod

MM = 1e-3
ROD, BALL = Rod(8 * MM, 40 * MM), Ball(10 * MM)


@cache
def system(shape, permeability=500.0, saturation=2.0, most=150):
    return MagnetisedCells.of(iron_cells([placed(shape, permeability, saturation)], most))


def applied(cells, *fields_T):
    """Return even fields, (cells, 3, fields)."""
    return np.broadcast_to(np.array(fields_T).T, (len(cells.cells), 3, len(fields_T)))


def saturated(cells, field_T, share=0.0):
    """Return the polarisation, begun at a share of the saturation along the field."""
    size = np.maximum(np.linalg.norm(field_T, axis=1, keepdims=True), 1e-12)
    most = cells.cells.saturation_T[:, None, None]
    return cells.saturated_T(field_T, share * most * field_T / size if share else 0.0 * field_T)


def mean(cells, polarization_T):
    volume = cells.cells.volume_m3
    return np.einsum("c,cia->ia", volume, polarization_T) / volume.sum()


def test_without_a_saturation_both_are_the_same():
    cells = system(ROD, saturation=None)
    field = applied(cells, (0.1, 0, 0), (0, 0.02, 0.3))
    assert saturated(cells, field) == pytest.approx(cells.linear_T(field), abs=1e-5)


def test_weak_fields_are_linear():
    cells = system(ROD)
    field = applied(cells, (0, 0, 1e-7))
    assert saturated(cells, field) == pytest.approx(cells.linear_T(field), rel=1e-3, abs=1e-10)


@pytest.mark.parametrize("field_T", [0.05, 1.0, 3.0])
@pytest.mark.parametrize("axis", [0, 2])
def test_a_ball_in_an_even_field(field_T, axis):
    """Evenly magnetised, with a factor of a third: one equation of one unknown.

    In slices, whose corners matter the less the less permeable the iron is.
    """
    cells = system(BALL, 5.0)
    direction = np.eye(3)[axis]
    found = mean(cells, saturated(cells, applied(cells, field_T * direction)))[:, 0]
    assert found @ direction == pytest.approx(of_even_ball(field_T), rel=0.03)
    assert np.abs(np.delete(found, axis)).max() < 1e-3


def of_even_ball(field_T, chi=4.0, most=2.0):
    """Return M of M (1/(chi (1 - M/Ms)) + 1/3) = H0."""
    b = -(most / chi + most / 3 + field_T)
    return (-b - math.sqrt(b * b - 4 / 3 * field_T * most)) / (2 / 3)


@pytest.mark.parametrize("shape", [ROD, BALL, Block((4 * MM, 8 * MM, 20 * MM))])
def test_the_field_inside_is_what_the_law_asks_for(shape):
    cells = system(shape)
    rng = np.random.default_rng(3)
    field = applied(cells, *rng.normal(scale=0.5, size=(3, 3)))
    found = saturated(cells, field)
    size = np.linalg.norm(found, axis=1, keepdims=True)
    assert size.max() < 2.0
    asked = found / (499.0 * (1 - size / 2.0))
    root = np.repeat(np.sqrt(cells.cells.volume_m3), 3)[:, None]
    own = demagnetising_matrix(cells.cells) @ (root * found.reshape(len(root), -1)) / root
    left = asked.reshape(own.shape) + own - field.reshape(own.shape)
    assert np.abs(left).max() < 1e-3 * np.abs(field).max()


def test_in_a_very_strong_field_nothing_is_left_to_magnetise():
    cells = system(ROD)
    found = saturated(cells, applied(cells, (0, 0, 100.0), (0, -100.0, 0)))
    assert found[:, 2, 0] == pytest.approx(2.0, rel=1e-3)
    assert found[:, 1, 1] == pytest.approx(-2.0, rel=1e-3)
    assert found.max() < 2.0


def test_it_does_not_matter_where_it_begins():
    cells = system(ROD)
    field = applied(cells, (0.2, 0, 0.4))
    assert saturated(cells, field, 0.99) == pytest.approx(saturated(cells, field), abs=2e-4)


def test_angles_side_by_side_are_those_one_by_one():
    cells = system(ROD)
    fields = [(0, 0, 0.2), (0.3, 0, 0), (0, 0, 0.0)]
    together = saturated(cells, applied(cells, *fields))
    for i, field in enumerate(fields):
        alone = saturated(cells, applied(cells, field))
        assert together[:, :, i] == pytest.approx(alone[:, :, 0], abs=1e-4)
    assert np.all(together[:, :, 2] == 0.0)


@pytest.mark.parametrize("permeability", [1.001, 1e6])
def test_hardly_permeable_and_very_permeable_iron(permeability):
    cells = system(ROD, permeability)
    found = saturated(cells, applied(cells, (0.1, 0, 0.2)))
    if permeability < 2:
        assert np.abs(found).max() < 3e-4
    else:
        assert 1.0 < np.abs(found).max() < 2.0


@pytest.mark.parametrize("kind", ["linear", "saturated"])
def test_growth_is_what_a_little_less_of_the_own_field_brings(kind):
    cells = system(ROD)
    part = 1e-3
    less = MagnetisedCells(
        cells.cells, (1 - part) * cells.own,
        np.linalg.inv((1 - part) * cells.own + np.eye(len(cells.own)) / 499.0),
    )  # fmt: skip
    field = applied(cells, (0.1, 0, 0.15))
    if kind == "linear":
        growth = cells.linear_growth_T(cells.linear_T(field))
        change = less.linear_T(field) - cells.linear_T(field)
    else:
        growth = cells.saturated_growth_T(saturated(cells, field))
        change = saturated(less, field) - saturated(cells, field)
    assert growth == pytest.approx(change / part, abs=0.03 * np.abs(growth).max())


def test_what_is_not_found_is_refused_in_words(monkeypatch):
    monkeypatch.setattr(magnetised_cells, "_STEPS", 1)
    cells = system(ROD)
    with pytest.raises(ImpossibleError, match="how far the iron saturates was not found"):
        saturated(cells, applied(cells, (0, 0, 1.0)))
