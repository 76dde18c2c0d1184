"""Coils wound otherwise: resistance, length and section go with the change."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from fieldsim.errors import ImpossibleError
from fieldsim.machine_file.reader import read
from fieldsim.studies.rewinding import with_gauge, with_opening, with_turns
from fieldsim.wire.round_wire import awg_diameter_m

GEOMETRIES = Path(__file__).parents[2] / "geometries"


@pytest.fixture(scope="module")
def ring():
    return read(GEOMETRIES / "lamp_ring.yaml").coils[0]


@pytest.fixture(scope="module")
def bare():
    return read(GEOMETRIES / "one_rotor.yaml").coils[0]


def winding(coil):
    return coil.winding


def test_turns_at_fixed_section(ring):
    more = with_turns(ring, 1.1)
    old, new = winding(ring), winding(more)
    assert new.turns == round(1.1 * old.turns) == more.turns
    assert new.build_m == pytest.approx(old.build_m, rel=1e-9)  # rounding of a quotient of areas
    # Same section, so resistance goes with the square of the turns; layers are spread evenly in
    # the changed coil, which shifts its mean turn a little.
    ratio = more.resistance_ohm(293.15) / ring.resistance_ohm(293.15)
    assert ratio == pytest.approx((new.turns / old.turns) ** 2, rel=0.01)


def test_one_gauge(ring):
    thinner = with_gauge(ring, 1)
    assert winding(thinner).wire.bare_diameter_m == pytest.approx(float(awg_diameter_m(33)))
    thicker = with_gauge(ring, -1)
    assert winding(thicker).wire.bare_diameter_m == pytest.approx(float(awg_diameter_m(31)))
    turns = [winding(g).turns for g in (thicker, ring, thinner)]
    # 26 % more copper area a gauge: the classic ten gauges to a factor of ten; whole layers of
    # whole turns take some of it.
    assert np.allclose(np.divide(turns[1:], turns[:-1]), 1.26, atol=0.06)
    assert winding(thinner).build_m <= ring.build
    assert thinner.placed.turns == turns[2]


def test_wider_opening_takes_more_wire(ring):
    wider = with_opening(ring, 0, 1e-3)
    assert wider.opening == pytest.approx((15e-3, 20e-3))
    longer = winding(wider).wire_length_m - winding(ring).wire_length_m
    # each turn is two millimetres longer, exactly
    assert longer == pytest.approx(2e-3 * winding(ring).turns, rel=1e-9)
    assert winding(wider).build_m == pytest.approx(winding(ring).build_m)


def test_coils_without_wire(bare):
    assert with_turns(bare, 1.1).turns == pytest.approx(1980.0)
    assert with_gauge(bare, 1) == bare
    assert with_opening(bare, 1, -1e-3).opening == pytest.approx((24e-3, 15e-3))


def test_an_opening_cannot_vanish(bare):
    narrow = replace(bare, opening=(24e-3, 1e-3))
    with pytest.raises(ImpossibleError, match='nothing would be left of the opening of coil "pick'):
        with_opening(narrow, 1, -1e-3)
