"""A wish: what of a machine may vary, what must hold, and what is wanted most."""

from __future__ import annotations

import math
import os
from collections.abc import Callable
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from fieldsim.errors import FieldsimError, together
from fieldsim.machine.load.circuit_parts import Led, leaves
from fieldsim.machine.machine import Machine
from fieldsim.machine.parameters import Parameter, parameter
from fieldsim.machine.paths import Path_
from fieldsim.machine.units import KINDS, near_text, parse_quantity
from fieldsim.machine_file.reader import read
from fieldsim.machine_file.yaml_nodes import Document, load_document
from fieldsim.studies.vary import CRANK_SPEED, varied_speed

__all__ = ["LIGHT", "SPEED", "WANTS", "Condition", "Varying", "Wish", "read_wish"]

LIGHT, SPEED = "light", "lowest crank speed"
WANTS = (LIGHT, SPEED, "least wire", "least effort")
"""What can be wanted most."""

# What must hold: the kind of its limit (none for yes or no), and whether less is too little.
_MUSTS: dict[str, tuple[str | None, bool]] = {
    "lamps_lit": (None, True),
    "lamps_within_ratings": (None, False),
    "clearance_at_least": ("length", True),
    "crank_force_at_most": ("force", False),
    "glue_margin_at_least": ("", True),
    "wire_length_at_most": ("length", False),
}
_KEYS = ("machine", "crank_speed", "may_vary", "must", "want", "seed", "tries")
_DEFAULT_SPEED = "120 rpm"
_MOST_PATHS, _MOST_VALUES, _MOST_SPEEDS, _MOST_TRIES = 12, 200, 10, 100_000


@dataclass(frozen=True)
class Varying:
    """One thing that may vary: between two ends, or over some values.

    Parameters
    ----------
    item
        The parameter, with its value in the machine to start from.
    low, high
        Ends [SI units, or the plain number]; 0 for a list.
    values
        Of a list, as `Machine.changed` takes them; empty between two ends.
    """

    item: Parameter
    low: float = 0.0
    high: float = 0.0
    values: tuple[str, ...] = ()

    @property
    def path(self) -> str:
        """Where it stands."""
        return self.item.path

    @property
    def is_whole(self) -> bool:
        """Whether it runs over whole numbers."""
        return not self.values and isinstance(self.item.value, int)

    @property
    def count(self) -> int | None:
        """How many values there are; None between two ends that are not whole numbers."""
        if self.values:
            return len(self.values)
        return int(self.high - self.low) + 1 if self.is_whole else None

    def at(self, share: float) -> str:
        """Return the value at a share of the way, as `Machine.changed` takes it.

        Parameters
        ----------
        share
            From 0 to 1; of a list, each value has an equal part of that.

        Examples
        --------
        >>> speed = Varying(varied_speed(1.0), math.tau, 2 * math.tau)
        >>> speed.at(0.0), speed.at(0.5)
        ('60 rpm', '90 rpm')
        """
        if self.count is not None:
            place = min(int(share * self.count), self.count - 1)
            return self.values[place] if self.values else str(int(self.low) + place)
        value = self.low + share * (self.high - self.low)
        # To four digits, so that a file of it can be read, but never beyond an end.
        if not self.item.unit:
            rounded = f"{value:.4g}"
            return rounded if self.low <= float(rounded) <= self.high else f"{value:.12g}"
        kind = _kind(self.item)
        rounded = near_text(value, kind, 4)
        inside = self.low <= parse_quantity(rounded, kind) <= self.high
        return rounded if inside else near_text(value, kind)


@dataclass(frozen=True)
class Condition:
    """What must hold.

    Parameters
    ----------
    name
        The key in the file.
    limit
        In SI units; 0 where it is yes or no.
    at_least
        Whether less than the limit is too little, or more too much.
    """

    name: str
    limit: float
    at_least: bool


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
    seed: int = 1
    tries: int = 500


def read_wish(path: str | os.PathLike[str]) -> Wish:
    """Read and check a wish.

    Parameters
    ----------
    path
        A YAML file with the keys ``machine`` (a geometry file, beside this one), ``may_vary``,
        ``must``, ``want``, ``crank_speed``, ``seed`` and ``tries``.

    Raises
    ------
    FileTroubleError
        If it, or the machine's file, cannot be opened.
    GeometryError
        If a value is wrong, or two contradict each other; with file, line and key.

    Examples
    --------
    >>> wish = read_wish("geometries/wishes/six_lamps.yaml")
    >>> wish.wants, [each.path for each in wish.varying][:2]
    (('light', 'least wire'), ['clearance', 'coils.pickup.wire.gauge'])
    """
    name = os.fspath(path)
    document = load_document(Path(path), name)
    if document.troubles:
        raise together(document.troubles)
    return _Reading(document).wish()


@dataclass(frozen=True)
class _Reading:
    """A file on its way to a wish."""

    document: Document

    def wish(self) -> Wish:
        """Return the wish."""
        content = self.document.content
        for key in content:
            if key not in _KEYS:
                self._unknown((key,), key, _KEYS)
        for key in ("machine", "may_vary", "want"):
            if key not in content:
                raise self.document.error((key,), f"is missing; a wish needs {key}")
        machine = self._machine(content["machine"])
        varying = self._varying(machine, content["may_vary"])
        wish = Wish(
            machine,
            varying,
            self._musts(content.get("must", {})),
            self._wants(content["want"]),
            self._speeds(content.get("crank_speed"), any(v.path == CRANK_SPEED for v in varying)),
            self._whole("seed", content.get("seed", 1), 0, 2**31),
            self._whole("tries", content.get("tries", 500), 2, _MOST_TRIES),
        )
        self._check(wish)
        return wish

    def _unknown(self, where: Path_, key: str, allowed: tuple[str, ...]) -> None:
        close = get_close_matches(key, allowed, n=1)
        hint = f'did you mean "{close[0]}"?' if close else f"allowed: {', '.join(allowed)}"
        raise self.document.error(where, f"unknown key; {hint}")

    def _machine(self, value: Any) -> Machine:
        if not isinstance(value, str) or not value.strip():
            raise self.document.error(("machine",), "must be the name of a geometry file")
        return read(Path(self.document.file).parent / value)

    def _varying(self, machine: Machine, value: Any) -> tuple[Varying, ...]:
        where: Path_ = ("may_vary",)
        if not isinstance(value, dict) or not value:
            problem = "must hold paths with values, like clearance: {from: 1 mm, to: 4 mm}"
            raise self.document.error(where, problem)
        if len(value) > _MOST_PATHS:
            problem = f"has {len(value)} paths; at most {_MOST_PATHS} are allowed"
            raise self.document.error(where, problem)
        return tuple(self._one(machine, path, each) for path, each in value.items())

    def _one(self, machine: Machine, path: str, value: Any) -> Varying:
        where: Path_ = ("may_vary", path)
        is_speed = path == CRANK_SPEED
        try:
            item = varied_speed(1.0) if is_speed else parameter(machine, path)
        except FieldsimError as error:
            raise self.document.error(where, error.in_one_line) from None
        if isinstance(value, dict):
            return self._range(item, value, where)
        if not isinstance(value, list) or not value:
            problem = "needs {from: ..., to: ...}, or a list of at least one value"
            raise self.document.error(where, problem)
        if is_speed:
            raise self.document.error(where, "needs {from: ..., to: ...}; a list has no order")
        if len(value) > _MOST_VALUES:
            problem = f"has {len(value)} values; at most {_MOST_VALUES} are allowed"
            raise self.document.error(where, problem)
        texts: list[str] = []
        for i, each in enumerate(value):
            if isinstance(each, list | dict | bool) or each is None:
                raise self.document.error((*where, i), "must be one value, as text or number")
            texts.append(f"{each:g}" if isinstance(each, float) else str(each))
            if texts.index(texts[-1]) < i:
                raise self.document.error((*where, i), f'"{texts[-1][:40]}" is listed twice')
            self._readable(machine, path, texts[-1], (*where, i))
        return Varying(item, values=tuple(texts))

    def _readable(self, machine: Machine, path: str, text: str, where: Path_) -> None:
        """Refuse a value that no machine can have; one that does not fit this one is let pass."""
        try:
            machine.changed({path: text})
        except FieldsimError as error:
            own = f"{path}: "
            if own in error.in_one_line:
                problem = error.in_one_line.partition(own)[2]
                raise self.document.error(where, problem) from None

    def _range(self, item: Parameter, value: dict[str, Any], where: Path_) -> Varying:
        for key in value:
            if key not in ("from", "to"):
                self._unknown((*where, key), key, ("from", "to"))
        for key in ("from", "to"):
            if key not in value:
                raise self.document.error(
                    where, f'"{key}" is missing; write {{from: ..., to: ...}}'
                )
        if math.isnan(item.least) or item.unit in ("AWG", "SWG") or item.path.endswith(".gauge"):
            raise self.document.error(where, "has no range of numbers; list the values")
        low, high = (self._end(item, value[key], (*where, key)) for key in ("from", "to"))
        if not low < high:
            shown = f"from {value['from']} to {value['to']}"
            raise self.document.error(where, f"{shown} leaves nothing; from must be below to")
        return Varying(item, low, high)

    def _end(self, item: Parameter, value: Any, where: Path_) -> float:
        if item.unit:
            number = self._quantity(_kind(item), value, where)
        elif isinstance(value, bool) or not isinstance(value, int | float):
            raise self.document.error(where, f'"{str(value)[:40]}" is not a plain number')
        elif isinstance(item.value, int) and value != int(value):
            raise self.document.error(where, f"{value:g} is not a whole number")
        else:
            number = float(value)
        if item.path == CRANK_SPEED and number <= 0:
            raise self.document.error(where, "must be above zero")
        if not item.least <= number <= item.most:
            shown = (f"{end:g} {item.unit}".strip() for end in (item.least, item.most))
            raise self.document.error(where, f"{value} is not between {' and '.join(shown)}")
        return number

    def _quantity(self, kind: str, value: Any, where: Path_) -> float:
        try:
            return parse_quantity(value, kind)
        except ValueError as error:
            raise self.document.error(where, str(error)) from None

    def _musts(self, value: Any) -> tuple[Condition, ...]:
        if not isinstance(value, dict):
            problem = f"must hold conditions; allowed: {', '.join(_MUSTS)}"
            raise self.document.error(("must",), problem)
        found = []
        for key, each in value.items():
            where: Path_ = ("must", key)
            if key not in _MUSTS:
                self._unknown(where, key, tuple(_MUSTS))
            kind, at_least = _MUSTS[key]
            if kind is None:
                if each is not True:
                    raise self.document.error(where, "must be true, or be left out")
                limit = 0.0
            elif kind:
                limit = self._quantity(kind, each, where)
            elif isinstance(each, bool) or not isinstance(each, int | float):
                raise self.document.error(where, "must be a plain number, like 2")
            else:
                limit = float(each)
            if kind is not None and not 0 < limit < math.inf:
                raise self.document.error(where, f"{each} must be above zero")
            found.append(Condition(key, limit, at_least))
        return tuple(found)

    def _wants(self, value: Any) -> tuple[str, ...]:
        wants = value if isinstance(value, list) else [value]
        if not 1 <= len(wants) <= 2 or any(each not in WANTS for each in wants):
            raise self.document.error(("want",), f"must be one or two of: {', '.join(WANTS)}")
        if len(set(wants)) < len(wants):
            raise self.document.error(("want",), f'"{wants[0]}" is wanted twice')
        return tuple(wants)

    def _speeds(self, value: Any, varies: bool) -> tuple[float, ...]:
        where: Path_ = (CRANK_SPEED,)
        if varies:
            if value is not None:
                problem = "stands under may_vary too; give one of the two"
                raise self.document.error(where, problem)
            return ()
        texts = value if isinstance(value, list) else [_DEFAULT_SPEED if value is None else value]
        if not 1 <= len(texts) <= _MOST_SPEEDS:
            problem = f"has {len(texts)} speeds; from 1 to {_MOST_SPEEDS} are allowed"
            raise self.document.error(where, problem)
        found = tuple(self._quantity("rotation speed", each, where) for each in texts)
        if 0.0 in found:
            raise self.document.error(where, "must not be zero")
        return found

    def _whole(self, key: str, value: Any, least: int, most: int) -> int:
        if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= most:
            problem = f"must be a whole number from {least} to {most}"
            raise self.document.error((key,), problem)
        return value

    def _check(self, wish: Wish) -> None:
        """Refuse what contradicts itself, or asks for what the machine does not describe."""
        for must in wish.musts:
            problem = _what_contradicts(wish, must)
            if problem:
                raise self.document.error(("must", must.name), problem)
        for want in wish.wants:
            problem = _what_is_missing(wish, want)
            if problem:
                raise self.document.error(("want",), f'"{want}" {problem}')


def _kind(item: Parameter) -> str:
    return next(name for name, kind in KINDS.items() if kind.unit == item.unit)


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
    }
    if must.name in needs and not needs[must.name][0]():
        return f"{needs[must.name][1]} to hold it against"
    for each in wish.varying:
        if (
            must.name == "clearance_at_least"
            and each.path == "clearance"
            and each.high < must.limit
        ):
            return f"contradicts may_vary.clearance, which ends at {each.high * 1e3:g} mm"
    return ""


def _what_is_missing(wish: Wish, want: str) -> str:
    if want == LIGHT and not wish.machine.load:
        return "needs a load, which the machine has not"
    if want == SPEED and wish.crank_speeds_rad_per_s:
        return "needs crank_speed under may_vary, as {from: 40 rpm, to: 120 rpm}"
    if want == SPEED and "lamps_lit" not in {must.name for must in wish.musts}:
        return "needs lamps_lit under must, or the lowest speed is always the best"
    if want == "least wire" and not wish.machine.windings:
        return "needs wire, which the machine has not"
    return ""
