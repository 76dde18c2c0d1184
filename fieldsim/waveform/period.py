"""When a sum of rotors at different ratios repeats."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

__all__ = ["Period", "common_period"]

_LONGEST = 500  # crank turns (or turns at the common speed) that a period may take
_WINDOW = 100


@dataclass(frozen=True)
class Period:
    """The repetition of a machine.

    Parameters
    ----------
    turns
        Turns of the crank (or of a rotor of ratio one) in the period, or in the window taken.
    exact
        Whether the waveform repeats exactly after ``turns``.
    """

    turns: Fraction
    exact: bool


def common_period(ratios: Sequence[Fraction]) -> Period:
    """Return the smallest number of turns after which every rotor has made whole turns.

    For ratios p_i / q_i in lowest terms it is lcm(q_i) / gcd(p_i). If that exceeds 500 turns, a
    window of 100 turns stands in for it, marked as not exact.

    Examples
    --------
    >>> common_period([Fraction(9)])
    Period(turns=Fraction(1, 9), exact=True)
    >>> common_period([Fraction(3), Fraction(-9), Fraction(15, 2)]).turns
    Fraction(2, 3)
    """
    turns = Fraction(
        math.lcm(*(r.denominator for r in ratios)), math.gcd(*(r.numerator for r in ratios))
    )
    if turns > _LONGEST:
        return Period(Fraction(_WINDOW), exact=False)
    return Period(turns, exact=True)
