"""Cautions and notes as data: what can hurt a person or a part, and what makes a number doubtful.

The rooms that compute find them; `fieldsim.words.cautions` says each in a sentence.
"""

from __future__ import annotations

import enum
from collections.abc import Mapping
from dataclasses import dataclass, field

__all__ = ["Caution", "Doubt", "Fact", "Hazard", "Note"]

Fact = float | str


class Hazard(enum.StrEnum):
    """What a caution is about; the texts are those of the JSON."""

    LED_CURRENT = "LED over-current"
    LED_PEAK = "LED peak current"
    LED_PULSES = "LED pulses"
    UNEVEN_LAMPS = "uneven lamps"
    FLASHING = "flashing light"
    LED_REVERSE = "LED reverse voltage"
    CAPACITOR_VOLTAGE = "capacitor voltage"
    CAPACITOR_POLARITY = "capacitor polarity"
    RESISTOR_POWER = "resistor power"
    OPEN_VOLTAGE = "open-circuit voltage"
    COIL_CURRENT = "coil current"
    COIL_HEAT = "coil heat"
    OPPOSED_COILS = "opposed coils"
    CIRCULATING = "circulating current"
    FULL_SECTION = "full section"
    SHAFT_IN_WINDING = "shaft in winding"
    STRONG_MAGNETS = "strong magnets"
    FAST_MAGNETS = "fast magnets"
    FLYING_MAGNETS = "flying magnets"
    LOOSE_MAGNETS = "loose magnets"
    PINCH = "pinch"
    BALANCE = "out of balance"
    HAND_FORCE = "hand force"
    UNEVEN_SPEED = "uneven speed"
    CRANK_SPEED = "crank speed"
    IMPROBABLE_SIZE = "improbable size"
    SATURATED_IRON = "saturated iron"
    SOLID_IRON = "solid iron"


@dataclass(frozen=True)
class Caution:
    """Something to heed.

    Parameters
    ----------
    kind
        What it is about.
    where
        Name of the part, coil, outlet or rotor; empty for the machine as a whole.
    value
        The number behind it, in SI units.
    limit
        From which value on it is due, in the same unit; None where it always is.
    facts
        Further numbers and names for its sentence, in SI units, the unit in each name.
    """

    kind: Hazard
    where: str
    value: float
    limit: float | None
    facts: Mapping[str, Fact] = field(default_factory=dict, hash=False)


class Doubt(enum.StrEnum):
    """What a note is about."""

    SHIFTED_SPEEDS = "shifted speeds"
    NOT_CONVERGED = "not converged"
    COARSE_STEPS = "coarse steps"
    CHARGE_BALANCE = "charge balance"
    ENERGY_BALANCE = "energy balance"
    WARM_WIRE = "warm wire"
    NEAR_MAGNETS = "near magnets"
    LEFT_OUT = "losses left out"
    NEAR_IRON = "near iron"
    STILL_IRON = "eddy currents left out"
    HYSTERESIS = "hysteresis left out"


@dataclass(frozen=True)
class Note:
    """Why a number may be doubtful.

    Parameters
    ----------
    kind
        What it is about.
    value
        The number behind it: a share, or in SI units.
    limit
        From which value on it is due, in the same unit; None where it always is.
    facts
        Further numbers and names for its sentence.
    """

    kind: Doubt
    value: float
    limit: float | None = None
    facts: Mapping[str, Fact] = field(default_factory=dict, hash=False)
