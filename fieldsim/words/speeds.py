"""Speeds and periods in words."""

from __future__ import annotations

from fieldsim.waveform.emf import EmfWaveform, Speed
from fieldsim.words.numbers import plain_number, plain_rpm

__all__ = ["period_words", "speed_words", "title_at", "turned_by"]


def speed_words(speed: Speed) -> str:
    """Return a speed in words."""
    what = "crank" if speed.given_as == "crank" else "every rotor"
    return f"{what} at {plain_rpm(speed.base_rad_per_s, 6)}"


def title_at(title: str, speed: Speed) -> str:
    r"""Return the title of a picture at a speed, with the speed on a line below.

    Examples
    --------
    >>> title_at("Mill", Speed(6.283185307, (1,), "crank"))
    'Mill\ncrank at 60 rpm'
    """
    return f"{' '.join(title.split())}\n{speed_words(speed)}"


def turned_by(speed: Speed) -> str:
    """Return what a speed is of, in words."""
    return "the crank" if speed.given_as == "crank" else "the rotors"


def period_words(waveform: EmfWaveform, subject: str = "the waveform repeats") -> str:
    """Return in words how often the coils repeat, which may be sooner than the rotors do.

    Subject and verb may be others.
    """
    what = "crank" if waveform.speed.given_as == "crank" else "rotor"
    turns = waveform.period.turns / waveform.repeats
    shown = f"{turns}" if turns.denominator <= 1000 else plain_number(float(turns), 6)
    unit = f"{what} turn" if turns <= 1 else f"{what} turns"
    length = f"{shown} {unit}, {plain_number(waveform.period_s / waveform.repeats, 4)} s"
    if waveform.period.exact:
        return f"{subject} every {length}"
    return f"{subject} after a long time or never; the figures are of {length}"
