"""What eddy currents take from magnets: closed forms, and how it is shared."""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from iron_bodies import rod, round_body
from machines import shipped

from fieldsim.field.iron.eddy_loss import eddy_loss
from fieldsim.field.iron.iron_eddies import IronEddies
from fieldsim.field.iron.screened_bodies import screened_body
from fieldsim.machine.iron import Block, IronPiece, Rod
from fieldsim.machine.materials import Material
from fieldsim.machine.placed import PlacedIron
from fieldsim.waveform.flux_table import coil_iron

MU0 = 4e-7 * math.pi
BOLTED = shipped("bolt_beside_magnets")
SIX = Fraction(6)


def eddies(machine=BOLTED):
    return IronEddies(coil_iron(machine))


@pytest.fixture(scope="module")
def bolted():
    return eddies()


def lost(found, ratios=(SIX,), rotors=None, base=10.0):
    return eddy_loss(found, rotors or found.iron.rotors, ratios, base)


@pytest.mark.parametrize(("hertz", "rel"), [(1.0, 0.02), (300.0, 0.02), (5e5, 0.03)])
def test_a_long_rod_in_an_even_field_loses_what_its_section_does(hertz, rel):
    """Per volume (omega/2) mu0 |H|^2 times the lag of the effective permeability.

    Slow: (omega B a)^2 sigma / 16. The ends of a rod sixty times as long as thick do the rest.
    """
    of, radius, omega = Material(3, None, 0.15e-6), 0.004, 2 * math.pi * hertz
    body = round_body(rod(0.8, 48.0, 2.0), panels=6)
    bar = PlacedIron("bar", Rod(2 * radius, 0.48), (0, 0, 0), (0, 0, 1), (1, 0, 0), of)
    late = screened_body(body, [bar], omega)
    charge = late.charges(body.normals[:, 2:])[:, 0]  # of 1 A/m along it
    volume = math.pi * 0.4**2 * 48.0
    per_volume = omega / 2 * MU0 * -(charge @ body.points[:, 2]).imag / volume
    mu = late.along[0] + 1
    assert per_volume == pytest.approx(omega / 2 * MU0 * -mu.imag, rel=rel)
    if hertz < 2:
        density_T = MU0 * 3
        slow = (omega * density_T * radius) ** 2 / 0.15e-6 / 16
        assert per_volume == pytest.approx(slow, rel=rel)


def test_slow_loss_grows_as_the_square_of_the_speed_and_fast_loss_slower(bolted):
    slow, slower = (lost(bolted, base=b).drawn_W[0] for b in (2e-3, 1e-3))
    assert slow / slower == pytest.approx(4.0, rel=1e-3)
    fast, faster = (lost(bolted, base=b).drawn_W[0] for b in (1e4, 2e4))
    assert 1.2 < faster / fast < 2.0
    assert slower > 0


def test_what_rotors_give_pieces_lose(bolted):
    found = lost(bolted)
    assert found.pieces == ("core of pickup",)
    assert found.lost_W == pytest.approx(found.drawn_W, rel=1e-9)


def test_turning_back_costs_as_much(bolted):
    assert lost(bolted, base=-10.0).drawn_W == pytest.approx(lost(bolted).drawn_W, rel=1e-9)


def test_rotors_of_one_frequency_count_together(bolted):
    (rotor,) = bolted.iron.rotors
    one = lost(bolted).drawn_W[0]
    twice = lost(bolted, (SIX, SIX), (rotor, rotor)).drawn_W
    assert twice == pytest.approx([2 * one, 2 * one])
    # north where south was: nothing is left
    against = replace(rotor, start=math.pi / 2)
    assert np.abs(lost(bolted, (SIX, SIX), (rotor, against)).drawn_W).max() < 1e-6 * one
    apart = lost(bolted, (SIX, Fraction(601, 100)), (rotor, rotor)).drawn_W
    assert apart == pytest.approx([one, one], rel=0.01)


def test_only_what_conducts_takes_power():
    beside = IronPiece("bar", Block((0.01, 0.01, 0.06)), (0, 0.055, -0.01), (0, 0, 1), (1, 0, 0))
    still = replace(beside, material="laminated steel")
    found = lost(eddies(replace(BOLTED, iron=(still,))))
    assert found.pieces == ("core of pickup",)
    assert found.lost_W == pytest.approx(found.drawn_W)
    both = lost(eddies(replace(BOLTED, iron=(beside,))))
    power = dict(zip(both.pieces, both.lost_W, strict=True))
    assert power["bar"] > 0.02 * power["core of pickup"]
    assert power["core of pickup"] == pytest.approx(found.lost_W[0], rel=0.1)
    assert both.lost_W.sum() == pytest.approx(both.drawn_W.sum())


def test_nothing_is_lost_without_eddy_currents():
    ferrite = BOLTED.changed({"coils.pickup.core.material": "ferrite rod"})
    assert not lost(eddies(ferrite)).drawn_W.any()
