"""Speeds that repeat soon: what a periodic solution needs where the gears' own period is long."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

from fieldsim.errors import ImpossibleError
from fieldsim.waveform.emf import Speed
from fieldsim.waveform.period import common_period

__all__ = ["RepeatingSpeed", "repeating_speed"]

LONGEST_TURNS = 100
"""Turns of the fastest rotor in a period that are followed."""

_LARGEST_SHIFT = 0.02


@dataclass(frozen=True)
class RepeatingSpeed:
    """A speed whose rotors come back together, and how it differs from the one asked for.

    Parameters
    ----------
    speed
        Of the rotors, with a short common period.
    turns
        Base turns (of the crank, or of a rotor of ratio one) in that period.
    shift
        Largest relative change of a rotor's speed; zero where the period is the machine's own.
    """

    speed: Speed
    turns: Fraction
    shift: float

    @property
    def exact(self) -> bool:
        """Whether no rotor's speed was changed."""
        return self.shift == 0.0


def repeating_speed(speed: Speed, longest_turns: int = LONGEST_TURNS) -> RepeatingSpeed:
    """Return the speed itself, or the nearest one that repeats within some rotor turns.

    Parameters
    ----------
    speed
        As asked for.
    longest_turns
        Turns of the fastest rotor that a period may take.

    Raises
    ------
    ImpossibleError
        If no speed within 2 % repeats so soon.

    Notes
    -----
    Of all windows in which the fastest rotor makes k whole turns, k up to ``longest_turns``, it is
    the one in which the other rotors come nearest to whole turns; theirs are then rounded.

    Examples
    --------
    A pair of gears with many odd teeth returns after 143 turns; 90 turns of the faster rotor are
    nearly whole turns of the other:

    >>> asked = Speed(10.0, (Fraction(59, 11), Fraction(-61, 13)), "crank")
    >>> found = repeating_speed(asked)
    >>> [int(r * found.turns) for r in found.speed.ratios], found.shift < 1e-3
    ([8, -7], True)
    """
    fastest = max(abs(r) for r in speed.ratios)
    period = common_period(speed.ratios)
    if period.exact and period.turns * fastest <= longest_turns:
        return RepeatingSpeed(speed, period.turns, 0.0)
    best: tuple[float, Fraction, tuple[Fraction, ...]] | None = None
    for k in range(1, longest_turns + 1):
        turns = k / fastest
        whole = [round(r * turns) for r in speed.ratios]
        if not all(whole):
            continue
        ratios = tuple(n / turns for n in whole)
        pairs = zip(ratios, speed.ratios, strict=True)
        shift = max(abs(float(new / old) - 1.0) for new, old in pairs)
        if best is None or shift < best[0]:
            best = shift, turns, ratios
    if best is None or best[0] > _LARGEST_SHIFT:
        raise ImpossibleError(
            "the rotors come back together late or never, and nearly so not within "
            f"{longest_turns} turns of the fastest; give them ratios of smaller whole numbers"
        )
    shift, turns, ratios = best
    return RepeatingSpeed(replace(speed, ratios=ratios), turns, shift)
