"""Cells fill the iron, are no more than asked for, and lie where it lies."""

from __future__ import annotations

import math

import numpy as np
import pytest
from iron_bodies import placed

from fieldsim.field.iron.iron_cells import FEWEST_OF_A_PIECE, iron_cells
from fieldsim.machine.iron import Ball, Block, Disc, Rod, Tube

MM = 1e-3
SHAPES = {
    "rod": (Rod(8 * MM, 50 * MM), math.pi * 16 * 50),
    "thin rod": (Rod(1 * MM, 80 * MM), math.pi * 0.25 * 80),
    "tube": (Tube(10 * MM, 6 * MM, 30 * MM), math.pi * 16 * 30),
    "disc": (Disc(60 * MM, 3 * MM), math.pi * 900 * 3),
    "block": (Block((12 * MM, 8 * MM, 40 * MM)), 12 * 8 * 40),
    "ball": (Ball(10 * MM), math.pi / 6 * 1000),
}


@pytest.mark.parametrize("name", SHAPES)
@pytest.mark.parametrize("most", [FEWEST_OF_A_PIECE, 200, 600])
def test_they_fill_it_and_are_no_more_than_asked_for(name, most):
    shape, volume_mm3 = SHAPES[name]
    cells = iron_cells([placed(shape)], most)
    assert cells.volume_m3.sum() * 1e9 == pytest.approx(volume_mm3, rel=1e-12)
    assert most / 4 < len(cells) <= most
    assert cells.share.sum(axis=1) == pytest.approx(1.0)
    # what lies about the middle evenly has its centre of mass there
    assert cells.volume_m3 @ cells.middle == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize("name", SHAPES)
def test_their_second_moments_are_those_of_the_shape(name):
    """Which no gap nor overlap leaves as they are."""
    shape, _ = SHAPES[name]
    cells = iron_cells([placed(shape)], 600)
    squares = np.einsum("c,cp,cpi->i", cells.volume_m3, cells.share, cells.points**2)
    x, y, z = shape.size
    if isinstance(shape, Block):
        expected = [x * x / 12, y * y / 12, z * z / 12]
    elif isinstance(shape, Ball):
        expected = [x * x / 20] * 3
    else:
        inner = shape.inner if isinstance(shape, Tube) else 0.0
        expected = [(x * x + inner**2) / 16] * 2 + [z * z / 12]
    # Gauss points are exact along straight edges, and to some per cent round an arc; the outermost
    # slices of a ball fill its ends evenly
    allowed = 0.035 if isinstance(shape, Ball) else 0.02
    assert squares / cells.volume_m3.sum() == pytest.approx(expected, rel=allowed)


def test_cells_are_about_as_long_as_wide():
    for shape, _ in SHAPES.values():
        cells = iron_cells([placed(shape)], 600)
        spread = np.ptp(np.einsum("cji,cpj->cpi", cells.frame, cells.points), axis=1)
        # of a thin rod's wedges and a plate's one layer, up to some times
        assert np.median(spread.max(axis=1) / spread.min(axis=1)) < 3.0


def test_pieces_share_the_cells_and_keep_their_places():
    rod = placed(Rod(8 * MM, 50 * MM), centre=(0.1, 0, 0), axis=(0, 1, 0))
    bar = placed(Block((4 * MM, 8 * MM, 40 * MM)), centre=(0, 0.2, 0), axis=(1, 0, 0))
    cells = iron_cells([rod, bar], 400)
    for i, piece in enumerate((rod, bar)):
        of = cells.piece == i
        assert 100 < of.sum() <= 200
        local = (cells.points[of] - piece.centre) @ piece.frame
        assert (np.abs(local) < np.array(piece.shape.size) / 2).all()
        assert cells.points[of].mean(axis=(0, 1)) == pytest.approx(piece.centre, abs=1e-6)


def test_what_they_are_made_of():
    piece = placed(Rod(8 * MM, 50 * MM), permeability=200, saturation=None)
    cells = iron_cells([piece, placed(Ball(5 * MM))], 100)
    assert set(cells.susceptibility) == {199.0, 499.0}
    assert set(cells.saturation_T) == {math.inf, 2.0}
