"""What a builder has at hand, from the section ``stock`` of a wish's file."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from pydantic import ValidationError

from fieldsim.errors import FieldsimError
from fieldsim.machine.gauge import Gauge, gauge_from
from fieldsim.machine.magnets import Magnet
from fieldsim.machine.part import made_from, problems_of
from fieldsim.machine.paths import Path_
from fieldsim.studies.wish import Choice
from fieldsim.studies.wish_values import WishValues

__all__ = ["STOCK", "Stock", "read_stock"]

STOCK = "stock"
"""The key, and the word under ``may_vary`` that takes something from it."""

_WIRE, _MAGNET = "{AWG 32: 150 m}", "{size: ..., remanence: ..., count: 8}"
_MAGNETS = f"{{short bar: {_MAGNET}}}"
_MOST = 100


@dataclass(frozen=True)
class Stock:
    """Wire and magnets at hand.

    Parameters
    ----------
    wire
        Sizes with lengths [m].
    magnets
        By name how many there are, infinite where that is not said, and their keys.
    """

    wire: tuple[tuple[Gauge, float], ...] = ()
    magnets: tuple[tuple[str, float, Mapping[str, Any]], ...] = ()

    def gauges(self, path: str) -> Choice:
        """Return the sizes of wire as what a path may be."""
        return Choice(path, tuple(str(gauge) for gauge, _ in self.wire))

    def kinds(self, path: str) -> Choice:
        """Return the magnets as what the kind at a path may be."""
        parts = tuple(_changes(path, keys) for _, _, keys in self.magnets)
        return Choice(path, tuple(name for name, _, _ in self.magnets), parts)

    @property
    def counts(self) -> tuple[float, ...]:
        """How many there are of each magnet."""
        return tuple(count for _, count, _ in self.magnets)


def _changes(path: str, keys: Mapping[str, Any]) -> tuple[tuple[str, Any], ...]:
    """Return what makes a kind of magnet another; what is not said of that is as usual."""
    # The shape first, for it decides which keys there are.
    usual = {"shape": "block", "recoil_permeability": None}
    tuples = {key: tuple(v) if isinstance(v, list) else v for key, v in keys.items()}
    return tuple((f"{path}.{key}", value) for key, value in (usual | tuples).items())


def read_stock(values: WishValues) -> Stock:
    """Return what a file says is at hand.

    Raises
    ------
    GeometryError
        If it says so wrongly, or the section or a part of it is empty.
    """
    if STOCK not in values.document.content:
        return Stock()
    like = f"wire: {_WIRE}, or magnets: {_MAGNETS}"
    parts = values.mapping((STOCK,), values.document.content[STOCK], like, 2)
    for key in parts:
        values.known((STOCK, key), ("wire", "magnets"))
    wire: dict[Gauge, float] = {}
    if "wire" in parts:
        where: Path_ = (STOCK, "wire")
        for name, length in values.mapping(where, parts["wire"], _WIRE, _MOST).items():
            gauge = _gauge(values, name, (*where, name))
            if gauge in wire:
                raise values.error((*where, name), "is listed twice")
            wire[gauge] = values.above_zero("length", length, (*where, name))
    magnets = []
    if "magnets" in parts:
        where = (STOCK, "magnets")
        for name, keys in values.mapping(where, parts["magnets"], _MAGNETS, _MOST).items():
            magnets.append((name, *_magnet(values, (*where, name), keys)))
    return Stock(tuple(wire.items()), tuple(magnets))


def _gauge(values: WishValues, name: str, where: Path_) -> Gauge:
    try:
        return gauge_from(name)
    except (FieldsimError, ValueError) as error:
        raise values.error(where, str(error)) from None


def _magnet(values: WishValues, where: Path_, value: Any) -> tuple[float, dict[str, Any]]:
    """Return how many of a magnet there are, and its keys."""
    keys = dict(values.mapping(where, value, _MAGNET, _MOST))
    count = math.inf
    if "count" in keys:
        count = values.whole(keys.pop("count"), 1, 1_000_000, (*where, "count"))
    try:
        made_from(Magnet, {"name": "any", **keys}, in_file=True)
    except ValidationError as error:
        first = problems_of(Magnet, error)[0]
        raise values.error((*where, *first.path), first.text) from None
    return count, keys
