"""When rotors at different ratios come round together."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldsim.waveform.period import Period, common_period


@pytest.mark.parametrize(
    ("ratios", "turns"),
    [
        (["1"], "1"),
        (["9"], "1/9"),
        (["-9"], "1/9"),
        (["-2.5"], "2/5"),
        (["10/3"], "3/10"),
        (["9", "-9"], "1/9"),
        (["9", "6"], "1/3"),
        (["9", "-2.5"], "2"),
        (["9", "-2.5", "10/3"], "6"),
        (["0.5"], "2"),
        (["1/7", "1/11"], "77"),
        (["1/499"], "499"),
        (["1/500"], "500"),
    ],
)
def test_periods(ratios, turns):
    assert common_period([Fraction(r) for r in ratios]) == Period(Fraction(turns), exact=True)


@pytest.mark.parametrize("ratio", ["1/501", "0.001", "-1/70000"])
def test_a_single_slow_rotor_is_followed_for_its_own_turn(ratio):
    assert common_period([Fraction(ratio)]) == Period(1 / abs(Fraction(ratio)), exact=True)


def test_windows_hold_some_turns_of_the_slowest_rotor():
    slow = [Fraction(1, 777), Fraction("1.0001")]
    assert common_period(slow) == Period(Fraction(7770), exact=False)
    # no window is longer than the period that it stands in for
    assert common_period([Fraction(1, 1000), Fraction(9)]) == Period(Fraction(1000), exact=True)


@pytest.mark.parametrize("ratios", [["1", "3.14159"], ["2.71828", "3.14159"]])
def test_longer_periods_get_a_window(ratios):
    """3.14159 is 314159/100000: it would take 100000 turns."""
    assert common_period([Fraction(r) for r in ratios]) == Period(Fraction(100), exact=False)


numerator = st.sampled_from([n for n in range(-30, 31) if n])
ratio = st.builds(Fraction, numerator, st.integers(1, 12))


@settings(max_examples=100, deadline=None)
@given(st.lists(ratio, min_size=1, max_size=4))
def test_smallest_common_period(ratios):
    """Every rotor makes whole turns, and no smaller part of the period would do for all."""
    period = common_period(ratios)
    if not period.exact:
        return
    turns = [r * period.turns for r in ratios]
    assert all(t.denominator == 1 for t in turns)
    assert period.turns > 0
    for divisor in (2, 3, 5, 7, 11):
        assert any((t / divisor).denominator != 1 for t in turns)


@settings(max_examples=50, deadline=None)
@given(st.lists(ratio, min_size=1, max_size=3), st.permutations(range(3)))
def test_order_and_sense_do_not_matter(ratios, order):
    reordered = [-ratios[i] for i in order if i < len(ratios)]
    assert common_period(reordered) == common_period(ratios)


def test_two_slow_rotors_are_followed_through_a_long_repeat():
    """A thousand crank turns are only 11 and 13 turns of the rotors."""
    found = common_period([Fraction(11, 1000), Fraction(13, 1000)])
    assert found == Period(Fraction(1000), exact=True)
