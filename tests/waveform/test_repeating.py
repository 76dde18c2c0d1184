"""Speeds that repeat soon."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldsim.errors import ImpossibleError
from fieldsim.waveform.emf import Speed
from fieldsim.waveform.repeating import LONGEST_TURNS, repeating_speed

RATIOS = st.fractions(Fraction(-12), Fraction(12), max_denominator=97).filter(lambda r: abs(r) > 1)


def test_simple_gears_keep_their_own_period():
    speed = Speed(10.0, (Fraction(9), Fraction(-15, 2)), "crank")
    found = repeating_speed(speed)
    assert found.speed is speed
    assert found.turns == Fraction(2, 3)
    assert found.exact


@settings(max_examples=60, deadline=None)
@given(ratios=st.lists(RATIOS, min_size=1, max_size=2))
def test_every_rotor_makes_whole_turns_near_its_own_speed(ratios):
    found = repeating_speed(Speed(10.0, tuple(ratios), "crank"))
    whole = [r * found.turns for r in found.speed.ratios]
    assert all(n.denominator == 1 and n != 0 for n in whole)
    assert max(abs(n) for n in whole) <= LONGEST_TURNS
    for new, old in zip(found.speed.ratios, ratios, strict=True):
        assert abs(float(new / old) - 1) <= found.shift + 1e-12  # rounding of the ratio
        assert new * old > 0
    assert found.shift <= 0.02


def test_two_incommensurate_rotors_come_near_by_chance_alone():
    found = repeating_speed(Speed(10.0, (Fraction(59, 11), Fraction(-61, 13)), "crank"))
    assert not found.exact
    # Two rotors: the nearest of 100 windows misses a whole turn by about 1/200 turn, in 50 turns.
    assert 0 < found.shift < 1e-3


def test_ratios_too_far_apart_are_refused():
    with pytest.raises(ImpossibleError, match="come back together late or never"):
        repeating_speed(Speed(10.0, (Fraction(1, 997), Fraction(1009, 7)), "crank"))
