"""Bodies with eddy currents: along themselves complex, across as in a field that stands still."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from iron_bodies import block_body, moment, rod, round_body

from fieldsim.field.iron.screened_bodies import (
    ScreenedBlock,
    ScreenedRound,
    has_eddies,
    screened_body,
)
from fieldsim.field.iron.skin_effect import (
    plate_permeability,
    rectangle_permeability,
    rod_permeability,
)
from fieldsim.machine.iron import Ball, Block, Disc, Rod, Tube
from fieldsim.machine.materials import MATERIALS, Material
from fieldsim.machine.placed import PlacedIron

STEEL = Material(500, None, 0.15e-6)
BOLT, BAR, PLATE = Rod(0.008, 0.05), Block((0.012, 0.008, 0.04)), Block((0.02, 0.003, 0.09))
ALONG, ACROSS = (0.0, 0.0, 1.0), (1.0, 0.0, 0.0)
SLOW, OFTEN, FAST = 1e-6, 2 * math.pi * 50, 1e18


def iron(shape, material=STEEL):
    return PlacedIron("piece", shape, (0, 0, 0), (0, 0, 1), (1, 0, 0), material)


def bolt(susceptibility=499.0):
    return round_body(rod(0.8, 5.0, susceptibility))  # its size does not count, the piece's does


def bar(shape, susceptibility=499.0):
    return block_body(tuple(edge / 2 for edge in shape.size), susceptibility)


def test_along_a_rod_it_is_that_of_a_round_bar():
    found = screened_body(bolt(), [iron(BOLT)], OFTEN)
    assert isinstance(found, ScreenedRound)
    assert found.along[0] + 1 == pytest.approx(complex(rod_permeability(STEEL, 0.004, OFTEN)))
    # a body of no matter what real permeability makes the same of it
    weak = screened_body(bolt(3.0), [iron(BOLT)], OFTEN)
    assert moment(found, ALONG) == pytest.approx(moment(weak, ALONG), rel=1e-9)


@pytest.mark.parametrize(
    ("still", "shape", "field"),
    [(bolt(), BOLT, ALONG), (bar(BAR), BAR, ALONG), (bar(PLATE), PLATE, ALONG),
     (bar(PLATE), PLATE, ACROSS)],
    ids=["rod", "bar", "plate, long way", "plate, short way"],
)  # fmt: skip
def test_slow_fields_find_iron_and_fast_ones_what_lets_no_flux_in(still, shape, field):
    which = int(np.argmax(field))
    slow, often, fast = (
        moment(screened_body(still, [iron(shape)], omega), field)[which]
        for omega in (SLOW, OFTEN, FAST)
    )
    assert slow == pytest.approx(moment(still, field)[which], rel=1e-5)
    none = replace(still, susceptibility=-1.0) if isinstance(shape, Block) else bolt(-1.0)
    assert fast == pytest.approx(moment(none, field)[which], rel=1e-5)
    assert fast.real < 0 < often.real < slow.real
    assert often.imag < 0


@pytest.mark.parametrize(("still", "shape"), [(bolt(), BOLT), (bar(BAR), BAR)], ids=["rod", "bar"])
def test_a_field_across_finds_iron_that_stands_still(still, shape):
    found = moment(screened_body(still, [iron(shape)], OFTEN), ACROSS)
    assert found == pytest.approx(moment(still, ACROSS), rel=1e-12, abs=1e-12)


def test_only_what_goes_along_a_block_is_screened():
    bar_found, plate_found = (
        screened_body(bar(shape), [iron(shape)], OFTEN).along for shape in (BAR, PLATE)
    )
    assert set(bar_found) == {(0, 0, 0), (0, 0, 1)}
    assert set(plate_found) == {(0, 0, 0), (0, 0, 1), (1, 0, 0), (1, 0, 1)}
    ways = {(0, 0, 1): (0.02, 0.003), (1, 0, 0): (0.003, 0.09)}
    for kind, section in ways.items():
        expected = complex(rectangle_permeability(STEEL, section, OFTEN))
        assert plate_found[kind] + 1 == pytest.approx(expected)


def test_complex_fields_are_two_real_ones():
    for body in (screened_body(bolt(), [iron(BOLT)], OFTEN),
                 screened_body(bar(PLATE), [iron(PLATE)], OFTEN)):  # fmt: skip
        first, second = np.random.default_rng(3).normal(size=(2, len(body.points), 2))
        found = body.charges(first + 1j * second)
        expected = body.charges(first) + 1j * body.charges(second)
        assert found == pytest.approx(expected, rel=1e-9, abs=1e-12)


def test_a_slit_tube_is_a_plate_as_thick_as_its_wall():
    tube = Tube(0.01, 0.006, 0.06, True)
    found = screened_body(bolt(), [iron(tube)], OFTEN)
    assert found.along[0] + 1 == pytest.approx(complex(plate_permeability(STEEL, 0.002, OFTEN)))


@pytest.mark.parametrize(
    ("shape", "treated"),
    [(BOLT, True), (BAR, True), (PLATE, True), (Tube(0.01, 0.006, 0.06, True), True),
     (Tube(0.01, 0.006, 0.06), False), (Ball(0.01), False), (Disc(0.05, 0.003), False),
     (Block((0.01, 0.01, 0.01)), False)],
)  # fmt: skip
def test_which_pieces_have_eddy_currents(shape, treated):
    assert has_eddies(iron(shape)) is treated
    for name in ("ferrite rod", "laminated steel"):
        assert not has_eddies(iron(shape, MATERIALS[name]))
    assert not has_eddies(iron(shape, Material(1, None, 0.15e-6)))


def test_what_has_no_eddy_currents_stays_as_it_is():
    still = bolt()
    assert screened_body(still, [iron(Ball(0.01))], OFTEN) is still
    assert isinstance(screened_body(bar(BAR), [iron(BAR)], OFTEN), ScreenedBlock)
