"""How well a builder usually knows what goes in: that, not the computation, limits the answers."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["CLEARANCE", "LAMP_VOLTAGE", "REMANENCE", "USUAL", "Assumption"]


@dataclass(frozen=True)
class Assumption:
    """How far an input may be off its stated value, either way.

    Parameters
    ----------
    path
        Of the parameters that it is about, ``*`` for any name.
    within
        How far: a share of the value, or in ``unit``.
    unit
        SI; empty for a share.
    words
        What it is.
    """

    path: str
    within: float
    unit: str
    words: str


REMANENCE = Assumption("magnets.*.remanence", 0.05, "", "remanence")
"""Of a magnet bought by its grade: common practice, no published source."""

CLEARANCE = Assumption("clearance", 0.5e-3, "m", "clearance")
"""Of a machine built by hand: common practice, no published source."""

LAMP_VOLTAGE = Assumption("load.lamps.forward", 0.1, "V", "lamp voltage")
"""From one LED to the next of a kind: common practice, no published source."""

USUAL = (REMANENCE, CLEARANCE, LAMP_VOLTAGE)
"""What is taken where a builder does not know better."""
