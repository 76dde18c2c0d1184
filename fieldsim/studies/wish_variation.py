"""What may vary, from the section ``may_vary`` of a wish's file."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from fieldsim.errors import FieldsimError
from fieldsim.machine.machine import Machine
from fieldsim.machine.parameters import Parameter, parameter
from fieldsim.machine.paths import Path_
from fieldsim.machine.units import KINDS, near_text, parse_quantity
from fieldsim.studies.vary import CRANK_SPEED, varied_speed
from fieldsim.studies.wish import Choice, Span, Varying
from fieldsim.studies.wish_stock import STOCK, Stock
from fieldsim.studies.wish_values import WishValues

__all__ = ["Variation"]

_MOST_PATHS, _MOST_VALUES = 12, 200
_LEAST_STEPS, _MOST_STEPS = 200, 1_000_000  # of a range
_RANGE = "{from: ..., to: ...}"
_LIKE = "paths with values, like clearance: {from: 1 mm, to: 4 mm}"
_WHERE = "may_vary"


def fine_step(low: float, high: float) -> float:
    """Return a round step, 1, 2 or 5 of some decimal, of which a range has two hundred or more.

    Examples
    --------
    >>> fine_step(1.0, 4.0), fine_step(20.0, 120.0)
    (0.01, 0.5)
    """
    most = (high - low) / _LEAST_STEPS * (1 + 1e-9)
    decimal = math.floor(math.log10(most))
    return max(step for step in (float(f"{n}e{decimal}") for n in (1, 2, 5)) if step <= most)


@dataclass(frozen=True)
class Variation:
    """What reads the section.

    Parameters
    ----------
    values
        Of the file.
    machine
        To start from.
    stock
        What is at hand.
    """

    values: WishValues
    machine: Machine
    stock: Stock

    def read(self) -> tuple[Varying, ...]:
        """Return what may vary.

        Raises
        ------
        GeometryError
            If it is no parameter, has no such values, or contradicts what else varies.
        """
        content = self.values.document.content[_WHERE]
        found: list[Varying] = []
        for path, each in self.values.mapping((_WHERE,), content, _LIKE, _MOST_PATHS).items():
            for other in found:
                if path.startswith(f"{other.path}.") or other.path.startswith(f"{path}."):
                    raise self.values.error((_WHERE, path), f"contradicts {other.path}")
            found.append(self._from_stock(path) if each == STOCK else self._one(path, each))
        self._check_stock_is_used(content)
        self._check_all_count(found)
        return tuple(found)

    def _from_stock(self, path: str) -> Choice:
        where: Path_ = (_WHERE, path)
        kinds = [f"magnets.{kind.name}" for kind in self.machine.magnets]
        gauges = [f"coils.{coil.name}.wire.gauge" for coil in self.machine.coils]
        if path not in (*kinds, *gauges):
            known = ", ".join((*kinds, *gauges))
            raise self.values.error(where, f"cannot be taken from stock; these can: {known}")
        what = "magnets" if path in kinds else "wire"
        if not getattr(self.stock, what):
            raise self.values.error(where, f"there is no stock.{what} to take it from")
        return self.stock.kinds(path) if path in kinds else self.stock.gauges(path)

    def _check_stock_is_used(self, content: dict[str, Any]) -> None:
        taken = [path for path, value in content.items() if value == STOCK]
        for what, there, ending, like in (
            ("wire", self.stock.wire, ".wire.gauge", "coils.NAME.wire.gauge"),
            ("magnets", self.stock.magnets, "", "magnets.NAME"),
        ):
            of_wire = [path.endswith(".wire.gauge") for path in taken]
            if there and not (any(of_wire) if ending else not all(of_wire)):
                problem = f"nothing takes it; write {like}: {STOCK} under {_WHERE}"
                raise self.values.error((STOCK, what), problem)

    def _check_all_count(self, found: list[Varying]) -> None:
        """Refuse what another thing that varies decides, like turns beside the wire's length."""
        changes: dict[str, Any] = {}
        for each in found:
            if each.path == CRANK_SPEED:
                continue
            changes |= each.changes(0)
            try:
                machine = self.machine.changed(changes)
            except FieldsimError:
                return  # the first values of all need not go together
            for path in changes:
                if changes[path] not in (None, "none") and self._is_gone(machine, path):
                    raise self.values.error((_WHERE, each.path), f"decides the same as {path}")

    def _is_gone(self, machine: Machine, path: str) -> bool:
        if path.startswith("magnets."):
            return False
        return parameter(machine, path).text == "none"

    def _parameter(self, path: str) -> Parameter:
        try:
            return varied_speed(1.0) if path == CRANK_SPEED else parameter(self.machine, path)
        except FieldsimError as error:
            raise self.values.error((_WHERE, path), error.in_one_line) from None

    def _one(self, path: str, value: Any) -> Varying:
        where: Path_ = (_WHERE, path)
        item = self._parameter(path)
        if isinstance(value, dict):
            return self._span(item, value, where)
        if not isinstance(value, list):
            raise self.values.error(where, f"needs {_RANGE}, or a list of values")
        if not value:
            raise self.values.error(where, f"the list is empty; give values, or {_RANGE}")
        if path == CRANK_SPEED:
            raise self.values.error(where, f"needs {_RANGE}, not a list")
        if len(value) > _MOST_VALUES:
            problem = f"has {len(value)} values; at most {_MOST_VALUES} are allowed"
            raise self.values.error(where, problem)
        texts: list[str] = []
        for i, each in enumerate(value):
            if isinstance(each, list | dict) or each is None:
                raise self.values.error((*where, i), "must be one value, as text or number")
            shown = str(each).lower() if isinstance(each, bool) else str(each)
            texts.append(f"{each:.12g}" if isinstance(each, float) else shown)
            if texts.index(texts[-1]) < i:
                raise self.values.error((*where, i), f'"{texts[-1][:40]}" is listed twice')
            self._check_can_be(path, texts[-1], (*where, i))
        return Choice(path, tuple(texts))

    def _check_can_be(self, path: str, text: str, where: Path_) -> None:
        """Refuse a value that no machine can have; one that does not fit this one is let pass."""
        try:
            self.machine.changed({path: text})
        except FieldsimError as error:
            _, own, problem = error.in_one_line.partition(f"{path}: ")
            if own:
                raise self.values.error(where, problem) from None

    def _span(self, item: Parameter, value: dict[str, Any], where: Path_) -> Span:
        for key in value:
            self.values.known((*where, key), ("from", "to", "step"))
        for key in ("from", "to"):
            if key not in value:
                raise self.values.error(where, f'"{key}" is missing; write {_RANGE}')
        if math.isnan(item.least) or item.path.endswith(".gauge"):
            raise self.values.error(where, "has no range of numbers; list the values")
        kind = next((n for n, k in KINDS.items() if k.unit == item.unit), "") if item.unit else ""
        low, high = (self._end(item, kind, value[key], (*where, key)) for key in ("from", "to"))
        if not low < high:
            shown = f"from {value['from']} to {value['to']}"
            raise self.values.error(where, f"{shown} leaves nothing; from must be below to")
        if "step" in value:
            step = self._step(item, kind, value["step"], (*where, "step"))
            if not step <= high - low <= _MOST_STEPS * step:
                problem = (
                    f"must be at most the whole range, and make at most {_MOST_STEPS:,} values"
                )
                raise self.values.error((*where, "step"), problem)
        elif isinstance(item.value, int):
            step = 1.0
        else:
            one = _one_in_si(kind)  # round in the unit that it is written in
            step = fine_step(low / one, high / one) * one
        return Span(item.path, low, high, step, kind)

    def _step(self, item: Parameter, kind: str, value: Any, where: Path_) -> float:
        step = self.values.above_zero(kind, value, where)
        if isinstance(item.value, int) and step != int(step):
            raise self.values.error(where, f"{step:g} is not a whole number")
        return step

    def _end(self, item: Parameter, kind: str, value: Any, where: Path_) -> float:
        number = self.values.quantity(kind, value, where)
        if isinstance(item.value, int) and number != int(number):
            raise self.values.error(where, f"{number:g} is not a whole number")
        if item.path == CRANK_SPEED and number <= 0:
            raise self.values.error(where, "must be above zero")
        if not item.least <= number <= item.most:
            ends = (item.least, item.most)
            shown = (near_text(end, kind, 4) if kind else f"{end:g}" for end in ends)
            raise self.values.error(where, f"{value} is not between {' and '.join(shown)}")
        return number


def _one_in_si(kind: str) -> float:
    if not kind or kind == "temperature":  # whose zero lies elsewhere
        return 1.0
    return parse_quantity(f"1 {KINDS[kind].written_in.split()[0]}", kind)
