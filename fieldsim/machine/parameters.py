"""What can be changed about a machine, each by the path that a file and messages have for it."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from functools import partial
from typing import Any

from pydantic import ValidationError

from fieldsim.errors import ImpossibleError
from fieldsim.machine.clearance.clearance_change import clearance_m, with_clearance
from fieldsim.machine.clearance.coil_distance import (
    coil_distance_m,
    way_of_coil,
    with_coil_distance,
)
from fieldsim.machine.coil_wire import PackingKind
from fieldsim.machine.gauge import Gauge, GaugeKind
from fieldsim.machine.gearing import Teeth
from fieldsim.machine.kinds import (
    Choice,
    Direction,
    Flag,
    Kind,
    Member,
    Number,
    Quantity,
    Ratio,
    Vector,
    Whole,
)
from fieldsim.machine.machine import Machine
from fieldsim.machine.materials import Material, MaterialKind
from fieldsim.machine.part import Key, PartError, made_from, problems_of, tree_of, walk_values
from fieldsim.machine.paths import Path_, dotted, parsed_path
from fieldsim.machine.tree_changes import key_at, set_in_tree
from fieldsim.machine.units import KINDS, parse_quantity
from fieldsim.wire.sizes import SWG_LEAST, SWG_MOST

__all__ = ["Parameter", "changed", "parameter", "parameters"]

Value = float | int | str

_FIRST = re.compile(r"[.\[]")  # what ends the first steps of a path
_DISTANCE = Quantity("length", "0.001 mm", "1 m")


@dataclass(frozen=True)
class Parameter:
    """One thing that can be changed.

    Parameters
    ----------
    path
        As a file's errors name it, for instance ``coils.pickup.wire.gauge``.
    value
        In the machine: a number in SI units, a gauge's number, or a word.
    unit
        Of the value, ``"AWG"`` or ``"SWG"`` for a gauge; empty for counts, ratios and words.
    text
        The value as a file has it.
    least, most
        What is allowed, in ``unit``; NaN for words.
    step
        A practical change, in ``unit``; NaN for words and where none is usual.
    words
        What it is.
    choices
        The allowed words, where it is one of them.
    """

    path: str
    value: Value
    unit: str
    text: str
    least: float = field(compare=False)  # these follow from the path; NaN equals nothing
    most: float = field(compare=False)
    step: float = field(compare=False)
    words: str
    choices: tuple[str, ...] = ()


def parameters(machine: Machine) -> tuple[Parameter, ...]:
    """Return everything that can be changed about a machine, in the order of a file.

    Parameters
    ----------
    machine
        Any, colliding parts included.

    Examples
    --------
    >>> from fieldsim.machine_file.reader import read
    >>> machine = read("geometries/one_rotor.yaml")
    >>> found = {p.path: p.text for p in parameters(machine)}
    >>> found["magnets.bar.remanence"], found["coils.pickup.opening[1]"], found["clearance"]
    ('1.2 T', '16 mm', '3 mm')
    """
    return tuple(_all(machine))


def _all(machine: Machine) -> Iterator[Parameter]:
    for path, key, value in walk_values(machine):
        if value is not None and key.kind is not None:
            yield from _of_key(path, key, value)
    for each in _distances(machine):
        try:
            distance_m = each.value_m(machine)
        except ImpossibleError:
            continue
        shown = f"{1e3 * distance_m:.9g} mm"
        bounds = _DISTANCE.bounds
        yield Parameter(each.path, distance_m, "m", shown, *bounds, 1e-3, each.words)


@dataclass(frozen=True)
class _Distance:
    """A distance that follows from where parts stand: its value, and how to have another."""

    path: str
    words: str
    value_m: Callable[[Machine], float]
    with_value: Callable[[Machine, float], Machine]


def _distances(machine: Machine) -> Iterator[_Distance]:
    whose = [
        ("clearance", ()),
        *((f"rotors.{r.name}.clearance", (r.name,)) for r in machine.rotors),
    ]
    for path, names in whose:
        what = "the rotor's" if names else "all"
        yield _Distance(
            path,
            f"smallest distance of {what} magnets to the windings, moved along the shafts",
            partial(clearance_m, rotors=names),
            partial(with_clearance, rotors=names),
        )
    for coil in machine.coils:
        yield _Distance(
            f"coils.{coil.name}.distance",
            "smallest distance of the magnets to the coil and its core, moved straight away",
            partial(_movable_m, coil=coil.name),
            partial(with_coil_distance, coil=coil.name),
        )


def _movable_m(machine: Machine, coil: str) -> float:
    way_of_coil(machine, coil)
    return coil_distance_m(machine, coil)


def _of_key(path: Path_, key: Key, value: Any) -> Iterator[Parameter]:
    kind, words = key.kind, key.said.words
    if isinstance(kind, Vector):
        for i, each in enumerate(value):
            yield _quantity((*path, i), kind.item, each, key)
    elif isinstance(kind, Direction):
        for i, each in enumerate(value):
            yield Parameter(dotted((*path, i)), each, "", f"{each:.6g}", -1.0, 1.0, 0.1, words)
    elif isinstance(kind, Quantity):
        yield _quantity(path, kind, value, key)
    elif isinstance(kind, Number):
        number, step = float(value), _step(key, float(value))
        yield Parameter(
            dotted(path), number, "", f"{number:.9g}", kind.least, kind.most, step, words
        )
    elif isinstance(value, Material):
        for inner, each, found in walk_values(value, path):
            if found is not None:
                yield from _of_key(inner, each, found)
    elif isinstance(kind, Whole | Teeth):
        step = max(_step(key, float(value)), 1.0)
        least, most = float(kind.least), float(kind.most)
        yield Parameter(dotted(path), value, "", str(value), least, most, step, words)
    elif isinstance(kind, Ratio):
        ratio = float(value)
        step = _step(key, ratio)
        yield Parameter(dotted(path), ratio, "", str(value), -1000.0, 1000.0, step, words)
    elif isinstance(kind, GaugeKind):
        yield _gauge(path, value, words)
    elif isinstance(kind, Choice | Member | Flag | PackingKind | MaterialKind):
        yield _word(path, kind, value, words)


def _quantity(path: Path_, kind: Quantity, value: float, key: Key) -> Parameter:
    unit, text = KINDS[kind.kind].unit, kind.written(value)
    step = _step(key, value, kind.kind)
    return Parameter(dotted(path), value, unit, text, *kind.bounds, step, key.said.words)


def _gauge(path: Path_, value: Gauge, words: str) -> Parameter:
    if value.awg is not None:
        return Parameter(dotted(path), value.awg, "AWG", str(value), 10.0, 46.0, 1.0, words)
    if value.swg is not None:
        least, most = float(SWG_LEAST), float(SWG_MOST)
        return Parameter(dotted(path), value.swg, "SWG", str(value), least, most, 1.0, words)
    diameter_m, least, most = value.bare_diameter_m, 0.039e-3, 2.6e-3
    return Parameter(
        dotted(path), diameter_m, "m", str(value), least, most, 0.1 * diameter_m, words
    )


def _word(path: Path_, kind: Kind, value: Any, words: str) -> Parameter:
    written = kind.written(value)
    options = ("true", "false") if isinstance(kind, Flag) else kind.options  # type: ignore[attr-defined]
    if isinstance(written, dict):
        written = "{" + ", ".join(f"{k}: {v}" for k, v in written.items()) + "}"
    text = str(written).lower() if isinstance(written, bool) else str(written)
    nan = math.nan
    return Parameter(dotted(path), text, "", text, nan, nan, nan, words, options)


def _step(key: Key, value: float, kind: str | None = None) -> float:
    """Return the practical step of a key in SI units; NaN where none is usual."""
    said = key.said.step
    if not said:
        return math.nan
    if said.endswith("%") and kind != "fraction":
        return abs(value) * float(said.removesuffix("%")) / 100
    if kind is None:
        return float(said)
    # A step of temperature is a difference, which has no zero.
    return float(said.split()[0]) if kind == "temperature" else parse_quantity(said, kind)


def parameter(machine: Machine, path: str) -> Parameter:
    """Return the parameter at a path; one that the machine leaves out has the value ``"none"``.

    Raises
    ------
    ImpossibleError
        If there is none, with the nearest one, or gears decide it.
    """
    there = []
    for each in _all(machine):  # distances, which take time, come last
        if each.path == path:
            return each
        there.append(each.path)
    try:
        steps = parsed_path(path)
        _refuse_geared(machine, steps)
        key = key_at(tree_of(machine), steps)
    except (PartError, ValueError) as error:
        close = get_close_matches(path, there, n=1, cutoff=0.7)
        hint = f'did you mean "{close[0]}"?' if close else str(error)
        if isinstance(error, PartError) and "gears" in error.problem:
            raise
        raise ImpossibleError(f'"{path[:80]}" is no parameter of this machine; {hint}') from None
    least, most, step, unit = math.nan, math.nan, math.nan, ""
    if isinstance(key.kind, Quantity):
        (least, most), unit = key.kind.bounds, key.kind.unit
        step = _step(key, 0.0, key.kind.kind)
    elif isinstance(key.kind, GaugeKind):
        unit = "AWG"
    return Parameter(path, "none", unit, "none", least, most, step, key.said.words)


def changed(machine: Machine, changes: Mapping[str, Any]) -> Machine:
    """Return the machine with other values at some paths.

    Parameters
    ----------
    machine
        Any, colliding parts included.
    changes
        By path, text as in a file, or a number in SI units; ``None`` or ``"none"`` removes what may
        be left out. A value that decides the same as others (turns, fill, wire length and spools)
        replaces them. Clearances and distances are changed last.

    Raises
    ------
    ImpossibleError
        If there is no such path, a value is not allowed, or no such machine can be; in one line.

    Examples
    --------
    >>> from fieldsim.machine_file.reader import read
    >>> machine = read("geometries/lamp_ring.yaml")
    >>> thin = changed(machine, {"coils.pickup.wire.gauge": "AWG 36", "clearance": "3 mm"})
    >>> thin.coil("pickup").winding.turns > machine.coil("pickup").winding.turns
    True
    """
    derived = {each.path: each for each in _distances(machine)}
    own = {path: value for path, value in changes.items() if path not in derived}
    if own:
        machine = _with_values(machine, own)
    for path, each in derived.items():
        if path in changes:
            machine = each.with_value(machine, _checked(path, changes[path]))
    return machine


def _checked(path: str, value: Any) -> float:
    from pydantic_core import PydanticCustomError

    try:
        return _DISTANCE.read(value, in_file=False)
    except PydanticCustomError as error:
        raise PartError(parsed_path(path), error.message()) from None


def _with_values(machine: Machine, changes: Mapping[str, Any]) -> Machine:
    tree = tree_of(machine, opened={step for text in changes for step in _FIRST.split(text)[:2]})
    for text, value in changes.items():
        try:
            path = parsed_path(text)
        except ValueError as error:
            raise ImpossibleError(str(error)) from None
        _refuse_geared(machine, path)
        set_in_tree(tree, path, value)
    try:
        return made_from(Machine, {**tree, "file": machine.file}, in_file=False)
    except ValidationError as error:
        first = problems_of(Machine, error)[0]
        raise PartError(first.path, first.text) from None


def _refuse_geared(machine: Machine, path: Path_) -> None:
    """Refuse another ratio for a rotor whose ratio wheels make."""
    if len(path) != 3 or path[0] != "rotors" or path[2] != "gear_ratio":
        return
    by_name = {wheel.name: wheel for wheel in machine.gears.wheels}
    on = next((wheel for wheel in by_name.values() if path[1] in wheel.rotors), None)
    chain = []
    while on is not None:
        chain.append(f"gears.wheels.{on.name}.teeth")
        on = by_name.get(on.on or on.driven_by or "")
    if chain:
        raise PartError(path, f"the gears make it; change {' or '.join(chain)} instead")
