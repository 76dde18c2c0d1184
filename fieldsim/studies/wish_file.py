"""A wish from its YAML file, checked against the machine that it starts from."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from fieldsim.errors import FileTroubleError, together
from fieldsim.machine.load.circuit_parts import Led, leaves
from fieldsim.machine.machine import Machine
from fieldsim.machine.paths import Path_
from fieldsim.machine.units import parse_quantity
from fieldsim.machine_file.file_kinds import refuse_a_geometry
from fieldsim.machine_file.reader import read
from fieldsim.machine_file.starting import shipped_file
from fieldsim.machine_file.yaml_nodes import load_document
from fieldsim.studies.vary import CRANK_SPEED
from fieldsim.studies.wish import (
    IN_NINE_OF_TEN,
    LIGHT,
    MAGNETS_IN_STOCK,
    SPEED,
    WANTS,
    WIRE,
    WIRE_IN_STOCK,
    Choice,
    Condition,
    Wish,
)
from fieldsim.studies.wish_stock import read_stock
from fieldsim.studies.wish_values import WishValues
from fieldsim.studies.wish_variation import Variation

__all__ = ["MUSTS", "WISH_KEYS", "read_wish"]

WISH_KEYS = ("machine", "crank_speed", "may_vary", "stock", "must", "want", "seed", "tries")
"""The keys of a wish."""

MUSTS = {
    "lamps_lit": "yes",
    "lamps_within_ratings": "yes",
    "clearance_at_least": "length",
    "crank_force_at_most": "force",
    "glue_margin_at_least": "",
    "wire_length_at_most": "length",
    "size_at_most": "three lengths",
    IN_NINE_OF_TEN: "yes",
}
"""What must hold, and the kind of its limit: "yes" where it has none, empty for a plain number."""

_DEFAULT_SPEED = "120 rpm"
_MOST_SPEEDS, _MOST_TRIES = 10, 100_000


def read_wish(path: str | os.PathLike[str]) -> Wish:
    """Read and check a wish.

    Parameters
    ----------
    path
        A YAML file with the keys that ``fieldsim keys wish`` lists.

    Raises
    ------
    FileTroubleError
        If it cannot be opened, or holds a geometry.
    GeometryError
        If a value is wrong, or two contradict each other; with file, line and key. So too if the
        machine's file is wrong.

    Examples
    --------
    >>> wish = read_wish("geometries/wishes/six_lamps.yaml")
    >>> wish.wants, [each.path for each in wish.varying][:2]
    (('light', 'least wire'), ['coils.pickup.wire.gauge', 'coils.pickup.build'])
    """
    document = load_document(Path(path), os.fspath(path), "machine, may_vary and want")
    refuse_a_geometry(document)
    if document.troubles:
        raise together(document.troubles)
    return _Reading(WishValues(document)).wish()


@dataclass(frozen=True)
class _Reading:
    """A file on its way to a wish."""

    values: WishValues

    def wish(self) -> Wish:
        """Return the wish."""
        values, content = self.values, self.values.document.content
        for key in content:
            values.known((key,), WISH_KEYS)
        for key in ("machine", "may_vary", "want"):
            if key not in content:
                raise values.error((key,), f"is missing; a wish needs {key}")
        machine = self._machine(content["machine"])
        stock = read_stock(values)
        varying = Variation(values, machine, stock).read()
        kinds = [each.path for each in varying if isinstance(each, Choice) and each.parts]
        musts = self._musts(content.get("must", {}))
        musts += (Condition(WIRE_IN_STOCK),) if stock.wire else ()
        musts += (Condition(MAGNETS_IN_STOCK),) if kinds else ()
        wish = Wish(
            machine,
            varying,
            musts,
            self._wants(content["want"]),
            self._speeds(content.get("crank_speed"), any(v.path == CRANK_SPEED for v in varying)),
            stock.wire,
            tuple((path, stock.counts) for path in kinds),
            values.whole(content.get("seed", 1), 0, 2**31, ("seed",)),
            values.whole(content.get("tries", 1000), 2, _MOST_TRIES, ("tries",)),
        )
        self._check(wish)
        return wish

    def _machine(self, value: Any) -> Machine:
        where: Path_ = ("machine",)
        if not isinstance(value, str) or not value.strip():
            raise self.values.error(where, "must be the name of a geometry file")
        path = Path(self.values.document.file).parent / value
        try:
            return read(path if path.exists() else shipped_file(value) or path)
        except FileTroubleError as error:
            raise self.values.error(where, error.in_one_line) from None

    def _musts(self, value: Any) -> tuple[Condition, ...]:
        if not isinstance(value, dict):
            problem = f"must hold conditions; allowed: {', '.join(MUSTS)}"
            raise self.values.error(("must",), problem)
        return tuple(self._must(key, each, ("must", key)) for key, each in value.items())

    def _must(self, key: str, value: Any, where: Path_) -> Condition:
        self.values.known(where, tuple(MUSTS))
        kind = MUSTS[key]
        if kind == "yes":
            if value is not True:
                raise self.values.error(where, "must be true, or be left out")
            return Condition(key)
        if kind != "three lengths":
            return Condition(key, (self.values.above_zero(kind, value, where),))
        if not isinstance(value, list) or len(value) != 3:
            problem = "needs three lengths, along x, y and z: [100 mm, 100 mm, 40 mm]"
            raise self.values.error(where, problem)
        edges = (
            self.values.above_zero("length", each, (*where, i)) for i, each in enumerate(value)
        )
        return Condition(key, tuple(edges))

    def _wants(self, value: Any) -> tuple[str, ...]:
        wants = value if isinstance(value, list) else [value]
        if not 1 <= len(wants) <= 2 or any(each not in WANTS for each in wants):
            raise self.values.error(("want",), f"must be one or two of: {', '.join(WANTS)}")
        if len(set(wants)) < len(wants):
            raise self.values.error(("want",), f'"{wants[0]}" is wanted twice')
        return tuple(wants)

    def _speeds(self, value: Any, varies: bool) -> tuple[float, ...]:
        where: Path_ = (CRANK_SPEED,)
        if varies:
            if value is not None:
                problem = "stands under may_vary too; give one of the two"
                raise self.values.error(where, problem)
            return ()
        texts = value if isinstance(value, list) else [_DEFAULT_SPEED if value is None else value]
        if not 1 <= len(texts) <= _MOST_SPEEDS:
            problem = f"has {len(texts)} speeds; from 1 to {_MOST_SPEEDS} are allowed"
            raise self.values.error(where, problem)
        found = tuple(self.values.quantity("rotation speed", each, where) for each in texts)
        if 0.0 in found:
            raise self.values.error(where, "must not be zero")
        return found

    def _check(self, wish: Wish) -> None:
        """Refuse what contradicts itself, or asks for what the machine does not describe."""
        for must in wish.musts:
            problem = _what_contradicts(wish, must)
            if problem:
                raise self.values.error(("must", must.name), problem)
        for want in wish.wants:
            problem = _what_is_missing(wish, want)
            if problem:
                raise self.values.error(("want",), f'"{want}" {problem}')


def _has_lamps(machine: Machine) -> bool:
    return any(isinstance(part, Led) for part, _ in leaves(machine.load.tree))


def _what_contradicts(wish: Wish, must: Condition) -> str:
    machine = wish.machine
    needs: dict[str, tuple[Callable[[], bool], str]] = {
        "lamps_lit": (lambda: _has_lamps(machine), "the machine has no lamps"),
        "lamps_within_ratings": (lambda: _has_lamps(machine), "the machine has no lamps"),
        "crank_force_at_most": (
            lambda: bool(machine.crank),
            "the machine has no crank with an arm",
        ),
        "glue_margin_at_least": (lambda: bool(machine.adhesive), "the machine has no adhesive"),
        "wire_length_at_most": (lambda: bool(machine.windings), "the machine has no wire"),
        IN_NINE_OF_TEN: (lambda: len(wish.musts) > 1, "there is no other must"),
    }
    if must.name in needs and not needs[must.name][0]():
        return f"{needs[must.name][1]} to hold it against"
    if must.name == "clearance_at_least":
        for each in wish.varying:
            if each.path == "clearance":
                ends = (each.text(each.count - 1),)
                texts = each.names if isinstance(each, Choice) else ends
                widest = max(texts, key=lambda text: parse_quantity(text, "length"))
                if parse_quantity(widest, "length") < must.limits[0]:
                    return f"contradicts may_vary.clearance, of which {widest} is the most"
    return ""


def _what_is_missing(wish: Wish, want: str) -> str:
    if want == LIGHT and not wish.machine.load:
        return "needs a load, which the machine has not"
    if want == SPEED and wish.crank_speeds_rad_per_s:
        return "needs crank_speed under may_vary, as {from: 40 rpm, to: 120 rpm}"
    if want == SPEED and "lamps_lit" not in {must.name for must in wish.musts}:
        return "needs lamps_lit under must, or the lowest speed is always the best"
    if want == WIRE and not wish.machine.windings:
        return "needs wire, which the machine has not"
    return ""
