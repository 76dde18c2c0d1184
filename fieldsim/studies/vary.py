"""One or two parameters against all that a machine gives."""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from fieldsim.circuit.results import CircuitResult
from fieldsim.errors import ImpossibleError
from fieldsim.machine.gauge import gauge_from, gauges_of
from fieldsim.machine.parameters import Parameter, parameter
from fieldsim.machine.units import KINDS, near_text, parse_quantity
from fieldsim.operation.company import in_company
from fieldsim.operation.effort import Effort
from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.studies.blocked_rows import all_or_why
from fieldsim.studies.light_limit import LightLimit, light_limit
from fieldsim.waveform.figures import EmfFigures
from fieldsim.waveform.machine_size import refuse_many

__all__ = ["CRANK_SPEED", "VaryRow", "VaryStudy", "values_of", "varied", "varied_speed", "vary"]

CRANK_SPEED = "crank_speed"
"""The path of the crank's speed, which is no part of the machine."""

_MOST_VALUES = 1000
_RANGE = re.compile(r"(.+?)\s*\.\.\s*(.+)")

Value = float | int | str


@dataclass(frozen=True, eq=False)
class VaryRow:
    """One set of values and what the machine gives with them.

    Parameters
    ----------
    values
        By path: a number in SI units, a gauge's number, or a word.
    point
        The changed machine at its speed.
    """

    values: dict[str, Value]
    point: OperatingPoint

    @property
    def coils(self) -> dict[str, EmfFigures]:
        """Figures of the open coils, by coil."""
        return self.point.figures

    @property
    def connections(self) -> dict[str, EmfFigures | None]:
        """Figures of open connections; None where coils in parallel lack wire."""
        return self.point.connection_figures

    @cached_property
    def circuit(self) -> CircuitResult | None:
        """Lamps, currents and powers; None where a connected coil has no wire."""
        try:
            return self.point.circuit_result
        except ImpossibleError:
            return None

    @property
    def brightest_lamp_A(self) -> float | None:
        """Average current of the brightest lamp [A]; None without lamps."""
        lamps = self.circuit.lamps if self.circuit is not None else ()
        return max((lamp.average_current_A for lamp in lamps), default=None)

    @property
    def useful_power_W(self) -> float | None:
        """Average power that the load makes use of [W]; None without a load."""
        loaded = self.circuit is not None and bool(self.point.machine.load)
        return self.circuit.useful_power_W if loaded and self.circuit is not None else None

    @property
    def coil_heat_W(self) -> float | None:
        """Average loss in all coils [W]; None without a load."""
        if self.useful_power_W is None or self.circuit is None:
            return None
        return sum(coil.heat_W for coil in self.circuit.coils.values())

    @property
    def average_torque_Nm(self) -> float | None:
        """Average torque at the crank [N m]; None where the effort cannot be told."""
        return None if self.effort is None else self.effort.crank.average_torque_Nm

    @cached_property
    def effort(self) -> Effort | None:
        """What the hand feels; None where that cannot be told."""
        try:
            return self.point.effort
        except ImpossibleError:
            return None


@dataclass(frozen=True, eq=False)
class VaryStudy:
    """Rows over one or two parameters; of two, the second runs fastest.

    Parameters
    ----------
    title
        Of the machine.
    parameters
        What was varied, as it is in the machine itself.
    rows
        In the order of the values.
    light_limit
        Of one parameter that is a number, where the lamps begin or cease to light; None where they
        do not, or more than once.
    """

    title: str
    parameters: tuple[Parameter, ...]
    rows: tuple[VaryRow, ...]
    light_limit: LightLimit | None = None

    @property
    def paths(self) -> tuple[str, ...]:
        """What was varied."""
        return tuple(each.path for each in self.parameters)


def varied(point: OperatingPoint, path: str) -> Parameter:
    """Return the parameter at a path; the crank's speed counts as one.

    Raises
    ------
    ImpossibleError
        If there is none, with the nearest one.
    """
    if path != CRANK_SPEED:
        return parameter(point.machine, path)
    return varied_speed(point.speed.base_rad_per_s)


def varied_speed(speed_rad_per_s: float) -> Parameter:
    """Return the crank's speed as something that varies.

    Examples
    --------
    >>> varied_speed(4 * math.pi).text
    '120 rpm'
    """
    rpm = math.tau / 60
    text = near_text(speed_rad_per_s, "rotation speed")
    words = "how fast the crank is turned"
    return Parameter(
        CRANK_SPEED, speed_rad_per_s, "rad/s", text, -math.inf, math.inf, 10 * rpm, words
    )


def values_of(item: Parameter, text: str) -> list[str]:
    """Return the values that a text lists, each as `Machine.changed` takes it.

    Parameters
    ----------
    item
        The parameter that is to be varied.
    text
        ``"1 mm, 2 mm"``, or ``"24..40"``: every wire size or whole count between, otherwise steps
        of the parameter's own.

    Raises
    ------
    ImpossibleError
        If a range runs backwards, has no step, or there are too many values.

    Examples
    --------
    >>> clearance = Parameter("clearance", 0.002, "m", "2 mm", 0, 1, 0.001, "smallest distance")
    >>> values_of(clearance, "1 mm .. 3 mm")
    ['1 mm', '2 mm', '3 mm']
    >>> values_of(clearance, "1 mm, 0.1 in")
    ['1 mm', '0.1 in']
    """
    if item.path.endswith(".wire.gauge"):
        own = None if item.value == "none" else gauge_from(item.text)
        return [str(gauge) for gauge in gauges_of(text, own)]
    found: list[str] = []
    for piece in (piece.strip() for piece in text.split(",")):
        span = _RANGE.fullmatch(piece)
        if span is not None:
            found += _between(item, span[1], span[2])
        else:
            found.append(piece)
    found = list(dict.fromkeys(found))
    if not any(found):
        raise ImpossibleError("there are no values; give at least one")
    if len(found) > _MOST_VALUES:
        raise ImpossibleError(f"{len(found)} values; at most {_MOST_VALUES} are allowed")
    return found


def _between(item: Parameter, first: str, last: str) -> list[str]:
    if item.choices:
        raise ImpossibleError(f"{item.path} is a word and has no range; list the words")
    if not item.unit:
        return _whole_between(first, last)
    kind = next(name for name, kind in KINDS.items() if kind.unit == item.unit)
    if re.fullmatch(r"[+-]?[\d.]+", first.strip()):
        first = f"{first.strip()} {last.strip().lstrip('+-.0123456789')}"
    try:
        low, high = parse_quantity(first, kind), parse_quantity(last, kind)
    except ValueError as error:
        raise ImpossibleError(str(error)) from None
    step = item.step
    if not step > 0:
        raise ImpossibleError(f"{item.path} has no step of its own; list the values")
    if high < low:
        raise ImpossibleError(f"{first}..{last} runs backwards; write {last}..{first}")
    count = math.floor((high - low) / step * (1 + 1e-9)) + 1
    if count > _MOST_VALUES:
        raise ImpossibleError(f"{count} values; at most {_MOST_VALUES} are allowed")
    values = [low + i * step for i in range(count)]
    return [near_text(value, kind) for value in values]


def _whole_between(first: str, last: str) -> list[str]:
    try:
        low, high = int(first), int(last)
    except ValueError:
        raise ImpossibleError(
            f'"{first}..{last}" is no range of whole numbers; write 4..8'
        ) from None
    if high < low:
        raise ImpossibleError(f"{low}..{high} runs backwards; write {high}..{low}")
    if high - low >= _MOST_VALUES:
        raise ImpossibleError(f"{high - low + 1} values; at most {_MOST_VALUES} are allowed")
    return [f"{each}" for each in range(low, high + 1)]


def vary(
    point: OperatingPoint,
    values: Mapping[str, Sequence[Any]],
    progress: Callable[[int, int], None] | None = None,
) -> VaryStudy:
    """Return what a machine gives with other values of one or two parameters.

    Parameters
    ----------
    point
        The machine at its speed.
    values
        By path, text as in a file or numbers in SI units; ``crank_speed`` is a path too. Of two
        paths every pair of values is taken.
    progress
        Called with (rows done, rows in all).

    Raises
    ------
    ImpossibleError
        If a path or a value is not allowed, or parts collide: a line for each row that cannot be
        names its values.

    Examples
    --------
    >>> from fieldsim.machine_file.reader import read
    >>> point = OperatingPoint(read("geometries/one_rotor.yaml"), "60 rpm", tolerance=1e-4)
    >>> study = vary(point, {"clearance": ["2 mm", "4 mm"]})
    >>> [round(row.coils["pickup"].rms_V, 2) for row in study.rows]
    [1.76, 1.33]
    """
    if not 1 <= len(values) <= 2:
        raise ImpossibleError(f"{len(values)} parameters; one or two can be varied")
    items = tuple(varied(point, path) for path in values)
    sets = [dict(zip(values, each, strict=True)) for each in itertools.product(*values.values())]
    if len(sets) > _MOST_VALUES:
        raise ImpossibleError(f"{len(sets)} rows; at most {_MOST_VALUES} are allowed")
    refuse_many(point.machine, point.tolerance, len(sets))
    points = all_or_why(lambda changes: _at(point, changes), sets)
    rows = []
    for at in in_company(points):
        now = {item.path: varied(at, item.path).value for item in items}
        row = VaryRow(now, at)
        _ = row.coils, row.connections, row.circuit, row.effort
        rows.append(row)
        if progress is not None:
            progress(len(rows), len(points))
    return VaryStudy(point.machine.title, items, tuple(rows), _limit(point, items, rows))


def _limit(
    point: OperatingPoint, items: Sequence[Parameter], rows: Sequence[VaryRow]
) -> LightLimit | None:
    path = items[0].path
    values = [row.values[path] for row in rows]
    if len(items) > 1 or not all(isinstance(value, float) for value in values):
        return None

    def at(value: float) -> CircuitResult | None:
        return VaryRow({}, _at(point, {path: value})).circuit

    numbers = [float(value) for value in values]
    return light_limit(path, numbers, [row.circuit for row in rows], at)


def _at(point: OperatingPoint, changes: Mapping[str, Any]) -> OperatingPoint:
    """Return the point with some values, or say with which it cannot be."""
    own = {path: value for path, value in changes.items() if path != CRANK_SPEED}
    factor = 1.0
    if CRANK_SPEED in changes:
        factor = _speed(changes[CRANK_SPEED]) / point.speed.base_rad_per_s
    try:
        return point.changed(own, factor)
    except ImpossibleError as error:
        where = ", ".join(f"{path} = {value}" for path, value in changes.items())
        text = error.lines[0].removeprefix(f"{point.machine.file}: ")
        paths = [path for path in changes if text.startswith(f"{path}: ")]
        raise ImpossibleError(text if paths else f"with {where}: {text}") from None


def _speed(value: Any) -> float:
    if not isinstance(value, str):
        return float(value)
    try:
        return parse_quantity(value, "rotation speed")
    except ValueError as error:
        raise ImpossibleError(f"{CRANK_SPEED}: {error}") from None
