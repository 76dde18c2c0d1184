"""A wish: what of a machine may vary, what must hold, and what is wanted most."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from fieldsim.machine.gauge import Gauge
from fieldsim.machine.machine import Machine
from fieldsim.machine.units import near_text
from fieldsim.studies.vary import CRANK_SPEED

__all__ = [
    "EFFORT",
    "IN_NINE_OF_TEN",
    "LIGHT",
    "MAGNETS_IN_STOCK",
    "SPEED",
    "WANTS",
    "WIRE",
    "WIRE_IN_STOCK",
    "Choice",
    "Condition",
    "Span",
    "Varying",
    "Wish",
]

LIGHT, SPEED, WIRE, EFFORT = "light", "lowest crank speed", "least wire", "least effort"
WANTS = (LIGHT, SPEED, WIRE, EFFORT)
"""What can be wanted most."""

IN_NINE_OF_TEN = "in_nine_of_ten"
"""The must that the others hold in nine of ten machines built."""

WIRE_IN_STOCK, MAGNETS_IN_STOCK = "wire_in_stock", "magnets_in_stock"
"""The musts that stock brings with it."""

_SAME = 1e-9  # of a step


@dataclass(frozen=True)
class Span:
    """A number that may be anywhere between two ends, in equal steps.

    Parameters
    ----------
    path
        Where it stands.
    low, high
        The ends, both allowed [SI units, or the plain number].
    step
        All other values are whole multiples of it.
    kind
        Of its unit, one of `fieldsim.machine.units.KINDS`; empty for a plain number.

    Examples
    --------
    >>> span = Span("clearance", 0.0014, 0.0026, 0.0005, "length")
    >>> [span.text(place) for place in range(span.count)]
    ['1.4 mm', '1.5 mm', '2 mm', '2.5 mm', '2.6 mm']
    """

    path: str
    low: float
    high: float
    step: float
    kind: str = ""

    in_order = True

    @property
    def _first(self) -> int:
        """The first multiple of the step above the lower end."""
        return math.floor(self.low / self.step + _SAME) + 1

    @cached_property
    def count(self) -> int:
        """How many values there are."""
        last = math.ceil(self.high / self.step - _SAME) - 1
        return max(last - self._first + 1, 0) + 2

    def value(self, place: int) -> float:
        """Return the value at a place, counted from 0 [SI units, or the plain number]."""
        if place == 0:
            return self.low
        return self.high if place == self.count - 1 else (self._first + place - 1) * self.step

    def text(self, place: int) -> str:
        """Return the value at a place as a file has it."""
        value = self.value(place)
        return near_text(value, self.kind) if self.kind else f"{value:.12g}"

    def changes(self, place: int) -> Mapping[str, Any]:
        """Return what `Machine.changed` takes for the value at a place."""
        return {self.path: self.text(place)}


@dataclass(frozen=True)
class Choice:
    """One of some values, or of some parts in stock.

    Parameters
    ----------
    path
        Where it stands.
    names
        Of the values: themselves, as text, or what a part in stock is called.
    parts
        Of parts, for each what `Machine.changed` takes, as pairs of path and value.
    """

    path: str
    names: tuple[str, ...]
    parts: tuple[tuple[tuple[str, Any], ...], ...] = ()

    in_order = False

    @property
    def count(self) -> int:
        """How many values there are."""
        return len(self.names)

    def text(self, place: int) -> str:
        """Return what the value at a place, counted from 0, is called."""
        return self.names[place]

    def changes(self, place: int) -> Mapping[str, Any]:
        """Return what `Machine.changed` takes for the value at a place."""
        return dict(self.parts[place]) if self.parts else {self.path: self.names[place]}


Varying = Span | Choice


@dataclass(frozen=True)
class Condition:
    """What must hold.

    Parameters
    ----------
    name
        The key in the file.
    limits
        In SI units; empty where it is yes or no.
    """

    name: str
    limits: tuple[float, ...] = ()


@dataclass(frozen=True)
class Wish:
    """What a search is for.

    Parameters
    ----------
    machine
        To start from.
    varying
        What may vary, in the order of the file.
    musts
        What must hold, at every crank speed.
    wants
        One or two of `WANTS`; the worst crank speed counts.
    crank_speeds_rad_per_s
        At which it is looked at; empty where the crank speed varies.
    wire_m
        Wire in stock by its size [m].
    magnets
        Of magnets in stock, by path of the kind in the machine, how many of each there are, in the
        order of that choice; infinite where it is not said.
    seed
        Of the random numbers.
    tries
        How many machines are looked at, at most.
    """

    machine: Machine
    varying: tuple[Varying, ...]
    musts: tuple[Condition, ...]
    wants: tuple[str, ...]
    crank_speeds_rad_per_s: tuple[float, ...]
    wire_m: tuple[tuple[Gauge, float], ...] = ()
    magnets: tuple[tuple[str, tuple[float, ...]], ...] = ()
    seed: int = 1
    tries: int = 1000
    counts: tuple[int, ...] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "counts", tuple(each.count for each in self.varying))

    @property
    def machines(self) -> int:
        """How many machines there are to choose from."""
        return math.prod(self.counts)

    def texts(self, places: Sequence[int]) -> dict[str, str]:
        """Return the values of a machine by path, as a screen shows them.

        Parameters
        ----------
        places
            Of what varies, each counted from 0.
        """
        found = zip(self.varying, places, strict=True)
        return {each.path: each.text(place) for each, place in found}

    def changes(self, places: Sequence[int]) -> dict[str, Any]:
        """Return what `Machine.changed` takes for a machine; the crank's speed is left out."""
        found: dict[str, Any] = {}
        for each, place in zip(self.varying, places, strict=True):
            if each.path != CRANK_SPEED:
                found |= each.changes(place)
        return found

    def made(self, places: Sequence[int]) -> Machine:
        """Return a machine.

        Raises
        ------
        ImpossibleError
            If it cannot be.
        """
        changes = self.changes(places)
        return self.machine.changed(changes) if changes else self.machine
