"""When a sum of rotors at different ratios repeats."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

__all__ = ["Period", "common_period"]

_LONGEST = 500  # turns of the crank (or at the common speed), or of the fastest rotor, in a period
_WINDOW = 100
_TURNS_OF_SLOWEST = 10  # in a window at least: of less of a turn no figure could be taken


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

    For ratios p_i / q_i in lowest terms it is lcm(q_i) / gcd(p_i). If that exceeds 500 turns, of
    the crank and of the fastest rotor too, a window of 100 crank turns stands in for it, or of ten
    turns of the slowest rotor if these take longer, marked as not exact.

    Examples
    --------
    >>> common_period([Fraction(9)])
    Period(turns=Fraction(1, 9), exact=True)
    >>> common_period([Fraction(3), Fraction(-9), Fraction(15, 2)]).turns
    Fraction(2, 3)
    >>> common_period([Fraction(1, 1000)])
    Period(turns=Fraction(1000, 1), exact=True)
    """
    turns = Fraction(
        math.lcm(*(r.denominator for r in ratios)), math.gcd(*(r.numerator for r in ratios))
    )
    sizes = [abs(r) for r in ratios]
    if turns > _LONGEST and turns * max(sizes) > _LONGEST:
        window = max(_WINDOW, math.ceil(_TURNS_OF_SLOWEST / min(sizes)))
        if turns > window:
            return Period(Fraction(window), exact=False)
    return Period(turns, exact=True)
