"""Several pieces together: what they do to each other, however they are solved for."""

from __future__ import annotations

import numpy as np
import pytest

from fieldsim.field.iron.fineness import FINENESSES
from fieldsim.field.iron.iron_system import IronSystem, iron_system
from fieldsim.field.iron.reach import from_iron
from fieldsim.field.iron.round_body import RoundBody
from fieldsim.machine.iron import Ball, Block, Disc, Rod
from fieldsim.machine.materials import Material
from fieldsim.machine.placed import PlacedIron

STEEL = Material(200)
FINE = FINENESSES[1]


def piece(shape, centre=(0, 0, 0), axis=(0, 0, 1), side=(1, 0, 0), material=STEEL):
    return PlacedIron("piece", shape, centre, axis, side, material)


def far(points):
    return np.full(len(points), 0.05)


def system(*pieces, fine=FINE) -> IronSystem:
    return iron_system(pieces, [far], [far], fine)


def moment(made: IronSystem, field) -> np.ndarray:
    applied = np.broadcast_to(np.asarray(field, float)[:, None], (len(made.points), 3, 1))
    return made.charges(applied)[:, 0] @ made.points


TWO = (piece(Rod(0.01, 0.03)), piece(Rod(0.01, 0.02), (0, 0, 0.03)))


def test_round_pieces_of_one_axis_are_one_body():
    ball = piece(Ball(0.01), (0, 0, -0.05), axis=(1, 0, 0), side=(0, 1, 0))
    made = system(*TWO, ball, piece(Rod(0.01, 0.02), (0.02, 0, 0)), piece(Block((0.01,) * 3)))
    kinds = [type(body).__name__ for body in made.bodies]
    assert sorted(kinds) == ["BlockBody", "RoundBody", "RoundBody"]
    assert [len(b.profiles) for b in made.bodies if isinstance(b, RoundBody)] == [3, 1]


@pytest.mark.parametrize("field", [(0, 0, 1), (1, 0, 0)])
def test_bodies_coupled_at_a_few_points_are_as_good_as_one_body(field):
    """The same two rods, once solved for as one body and once as two that meet."""
    together = system(*TWO, fine=FINENESSES[3])
    apart = [system(each, fine=FINENESSES[3]) for each in TWO]
    coupled = IronSystem(
        tuple(s.bodies[0] for s in apart),
        (from_iron(TWO[1]), from_iron(TWO[0])),
        20.0,
        tuple(s.pieces[0] for s in apart),
    )
    alone = sum(moment(s, field) for s in apart)
    expected = moment(together, field)
    assert moment(coupled, field) == pytest.approx(expected, rel=1e-4, abs=1e-12)
    assert np.abs(alone - expected).max() > 0.01 * np.abs(expected).max()


def test_what_is_not_magnetic_is_left_out():
    air = piece(Rod(0.01, 0.03), material=Material(1))
    assert system(air).bodies == ()
    assert system(TWO[0], air).bodies[0].profiles == system(TWO[0]).bodies[0].profiles


def test_one_answer_whatever_the_order():
    pieces = (
        TWO[0],
        piece(Disc(0.03, 0.002), (0.01, 0, 0.025)),
        piece(Block((0.01,) * 3), (0, 0.02, 0)),
    )
    found = [moment(system(*order), (0, 0, 1)) for order in (pieces, pieces[::-1])]
    assert found[0] == pytest.approx(found[1], rel=1e-4, abs=1e-5 * np.abs(found[0]).max())


def test_a_field_is_felt_alike_by_one_and_by_the_other():
    """What a unit of charge beside the iron feels from another is what that one feels from it."""
    made = system(TWO[0], piece(Block((0.01, 0.02, 0.01)), (0.02, 0.0, 0.01)))
    places = np.array([[0.03, 0.02, 0.03], [-0.02, 0.03, -0.02]])
    gap = made.points[:, :, None] - places.T
    distance = np.linalg.norm(gap, axis=1)
    charge = made.charges(gap / (4 * np.pi * distance[:, None] ** 3))
    felt = charge.T @ (1 / distance)
    assert felt[0, 1] == pytest.approx(felt[1, 0], rel=1e-4)
    assert felt[0, 0] < 0  # drawn to it: the other sign is nearer
