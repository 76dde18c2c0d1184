"""Speeds and periods in words."""

from __future__ import annotations

import math

from fieldsim.waveform.emf import EmfWaveform, Speed
from fieldsim.words.numbers import plain_number, plain_rpm

__all__ = ["period_words", "speed_words", "turned_by"]


def speed_words(speed: Speed) -> str:
    """Return a speed in words."""
    what = "crank" if speed.given_as == "crank" else "every rotor"
    return f"{what} at {plain_rpm(speed.base_rad_per_s, 6)}"


def turned_by(speed: Speed) -> str:
    """Return what a speed is of, in words."""
    return "the crank" if speed.given_as == "crank" else "the rotors"


def period_words(waveform: EmfWaveform, subject: str = "the waveform repeats") -> str:
    """Return the period in words; subject and verb may be others."""
    what = "crank" if waveform.speed.given_as == "crank" else "rotor"
    turns, length_s = waveform.period.turns, waveform.period_s
    if waveform.period.exact:
        # Coils may repeat sooner than the rotors do, with alternating poles for one.
        often = math.gcd(*(round(f * length_s) for f in waveform.frequency_Hz)) or 1
        turns, length_s = turns / often, length_s / often
    shown = f"{turns}" if turns.denominator <= 1000 else plain_number(float(turns), 6)
    unit = f"{what} turn" if turns <= 1 else f"{what} turns"
    if waveform.period.exact:
        return f"{subject} every {shown} {unit}, {plain_number(length_s, 4)} s"
    return (
        f"{subject} after a long time or never; the figures are of {shown} {unit}, "
        f"{plain_number(length_s, 4)} s"
    )
