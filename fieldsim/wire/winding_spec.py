"""What a builder states about a coil's winding: wire, section, turns, wire at hand."""

from __future__ import annotations

import math
from dataclasses import dataclass

from fieldsim.errors import ImpossibleError
from fieldsim.wire.corners import Corners
from fieldsim.wire.packing import Packing
from fieldsim.wire.round_wire import Wire
from fieldsim.wire.stacks import MOST_TURNS, Former

__all__ = ["Spool", "WindingSpec", "shown"]


@dataclass(frozen=True)
class Spool:
    """Wire at hand: one spool or several alike.

    Parameters
    ----------
    mass_kg
        Of the wire on the full spool, enamel included and reel not [kg]; or None.
    length_m
        Of the wire on the full spool [m]; or None. Exactly one of the two is given.
    left
        Share of it that is left, 0 to 1.
    count
        Number of such spools.

    Examples
    --------
    >>> Spool(mass_kg=0.25, left=0.6).wire_m(3e-4)
    500.0
    """

    mass_kg: float | None = None
    length_m: float | None = None
    left: float = 1.0
    count: int = 1

    def __post_init__(self) -> None:
        stated = [v for v in (self.mass_kg, self.length_m) if v is not None]
        if len(stated) != 1:
            raise ImpossibleError("a spool needs either its mass or its length of wire")
        if not 0 < stated[0] < math.inf:
            raise ImpossibleError(f"a spool holds {stated[0]:g}; it must be above zero")
        if not 0 < self.left <= 1:
            raise ImpossibleError(
                f"{self.left * 100:.4g} % of a spool left; allowed: above 0 % to 100 %"
            )
        if self.count < 1:
            raise ImpossibleError(f"{self.count} spools; at least one is needed")

    def wire_m(self, mass_kg_m: float) -> float:
        """Return the wire left [m], for wire of this mass per metre, enamel included."""
        full_m = (self.length_m or 0.0) + (self.mass_kg or 0.0) / mass_kg_m  # one is stated
        return self.count * self.left * full_m


@dataclass(frozen=True)
class WindingSpec:
    """What is stated about a coil's winding; `resolve_winding` works out the rest.

    Parameters
    ----------
    wire
        The wire.
    opening_m
        Two sides of the inside of the winding [m].
    length_m
        Of the winding along its axis [m].
    packing
        How the wire lies. None: spread evenly if both ``turns`` and ``build_m`` are stated, else
        square layers.
    build_m
        With ``packing``: the most thickness there is room for [m]; without it and with ``turns``:
        the thickness as wound. None: whatever the turns take.
    turns
        Number of turns, or None.
    fill
        Whether to fill the section: as many turns as ``build_m`` holds.
    wire_length_m
        Wire at hand [m], or None.
    spools
        Wire at hand on spools; stated instead of ``wire_length_m``.
    corners
        Of the turns.
    """

    wire: Wire
    opening_m: tuple[float, float]
    length_m: float
    packing: Packing | None = None
    build_m: float | None = None
    turns: int | None = None
    fill: bool = False
    wire_length_m: float | None = None
    spools: tuple[Spool, ...] = ()
    corners: Corners = Corners.SHARP

    def __post_init__(self) -> None:
        for name, value in (
            ("opening", self.opening_m[0]),
            ("opening", self.opening_m[1]),
            ("length", self.length_m),
            ("build", self.build_m),
            ("wire length", self.wire_length_m),
        ):
            if value is not None and not 0 < value < math.inf:
                raise ImpossibleError(f"the {name} must be above zero; given {value:g} m")
        if self.turns is not None and not 1 <= self.turns <= MOST_TURNS:
            raise ImpossibleError(f"{self.turns} turns; allowed: 1 to {MOST_TURNS}")

    @property
    def former(self) -> Former:
        """What the turns go round."""
        return Former(2 * (self.opening_m[0] + self.opening_m[1]), self.corners)

    @property
    def supply_m(self) -> float | None:
        """Wire at hand [m], or None if nothing is stated about it.

        Raises
        ------
        ImpossibleError
            If both a length and spools are stated.
        """
        if self.wire_length_m is not None and self.spools:
            raise ImpossibleError(
                f"state either a wire length ({shown(self.wire_length_m)} m is stated) or spools "
                f"({shown(_spools_m(self))} m are stated), not both"
            )
        return _spools_m(self) if self.spools else self.wire_length_m


def _spools_m(spec: WindingSpec) -> float:
    return sum(spool.wire_m(spec.wire.mass_kg_m) for spool in spec.spools)


def shown(value: float, digits: int = 4) -> str:
    """Return a positive number with so many digits, without an exponent."""
    return f"{value:.{max(0, digits - 1 - math.floor(math.log10(value)))}f}"
