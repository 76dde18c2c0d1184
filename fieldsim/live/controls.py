"""Which of a machine's parameters a builder moves, in what words, range, step and unit."""

from __future__ import annotations

import math
import re
from bisect import bisect_left
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

from fieldsim.errors import FieldsimError
from fieldsim.live.axes import round_up
from fieldsim.machine.coil_wire import CoilWire
from fieldsim.machine.coils import Coil
from fieldsim.machine.gauge import GaugeKind
from fieldsim.machine.machine import Machine
from fieldsim.machine.parameters import Parameter, parameters
from fieldsim.machine.part import replaced
from fieldsim.machine.units import KINDS, parse_quantity

__all__ = ["Control", "Offer", "controls", "offers"]

_THICKEST, _THINNEST = 24, 41  # gauges that hands wind: common practice, no published source
_POSITIONS = 100  # of a slider, about
_NUMBER = re.compile(r"[+-]?[\d.]+(?:[eE][+-]?\d+)?")
_RATIO = re.compile(r"[+-]?\d+/\d+")
_KIND_OF_UNIT = {kind.unit: name for name, kind in KINDS.items() if kind.unit}


@dataclass(frozen=True)
class Control:
    """A slider or a choice: one parameter, or several that have one value together.

    Parameters
    ----------
    paths
        Of the parameters that it sets.
    group
        The heading that it stands under.
    label
        What it is called.
    words
        What it is.
    value
        In ``unit``, or a word.
    unit
        As it is written behind the number.
    least, most, step
        Of the slider, in ``unit``; NaN where there is no slider.
    choices
        The words to choose from; empty for numbers.
    usual
        Whether builders change it often.
    whole
        Whether only whole numbers are allowed.
    """

    paths: tuple[str, ...]
    group: str
    label: str
    words: str
    value: float | str
    unit: str
    least: float
    most: float
    step: float
    choices: tuple[str, ...]
    usual: bool
    whole: bool = False


@dataclass(frozen=True)
class Offer:
    """A part that may be added to a machine or left out.

    Parameters
    ----------
    path
        Of the part.
    words
        What the button says.
    value
        What the path is set to; None takes the part away.
    """

    path: str
    words: str
    value: Any


# Group, path, label, whether builders change it often; the first that fits counts.
_LABELS: tuple[tuple[str, str, str, bool], ...] = (
    ("Magnets", r"magnets\.([^.]+)\.size\[0\]", "{0}: length along the arm", True),
    ("Magnets", r"magnets\.([^.]+)\.size\[1\]", "{0}: width across the arm", True),
    ("Magnets", r"magnets\.([^.]+)\.size\[2\]", "{0}: thickness along the shaft", True),
    ("Magnets", r"magnets\.([^.]+)\.diameter", "{0}: diameter", True),
    ("Magnets", r"magnets\.([^.]+)\.thickness", "{0}: thickness", True),
    ("Magnets", r"magnets\.([^.]+)\.remanence", "{0}: strength (remanence)", True),
    ("Rotors", r"clearance", "clearance, magnets to winding", True),
    ("Rotors", r"rotors\.([^.]+)\.magnets\[0\]\.count", "{0}: number of magnets", True),
    ("Rotors", r"rotors\.([^.]+)\.magnets\[0\]\.radius", "{0}: radius of the arms", True),
    ("Rotors", r"rotors\.([^.]+)\.magnets\[0\]\.poles", "{0}: poles of neighbours", True),
    ("Rotors", r"rotors\.([^.]+)\.magnets\[0\]\.north", "{0}: where north points", False),
    ("Rotors", r"rotors\.([^.]+)\.gear_ratio", "{0}: turns per crank turn", True),
    ("Rotors", r"rotors\.([^.]+)\.start", "{0}: start angle", False),
    ("Coil", r"coils\.([^.]+)\.turns", "{0}: turns", True),
    ("Coil", r"coils\.([^.]+)\.wire\.gauge", "{0}: wire gauge", True),
    ("Coil", r"coils\.([^.]+)\.opening\[0\]", "{0}: opening along its side", True),
    ("Coil", r"coils\.([^.]+)\.opening\[1\]", "{0}: opening across", True),
    ("Coil", r"coils\.([^.]+)\.length", "{0}: length of the winding", True),
    ("Coil", r"coils\.([^.]+)\.build", "{0}: build (thickness of the winding)", True),
    ("Coil", r"coils\.([^.]+)\.core\.(diameter|length|outer|inner)", "{0}: core, {1}", True),
    ("Coil", r"coils\.([^.]+)\.(?:distance)", "{0}: distance", True),
    ("Coil", r"coils\.([^.]+)\.wire\.packing", "{0}: how the wire lies", False),
    ("Gears", r"gears\.wheels\.([^.]+)\.teeth", "{0}: teeth", True),
    ("Gears", r"gears\.mesh_efficiency", "efficiency of a mesh", False),
    ("Crank", r"crank\.arm", "length of the crank arm", True),
    ("Lamps", r"load\.lamps\.colour", "colour", True),
    ("Lamps", r"load\.lamps\.parallel", "lamps side by side", True),
    ("Lamps", r"load\.lamps\.series", "lamps in each string", True),
    ("Lamps", r"load\.lamps\.resistor", "resistor with each string", True),
    ("Lamps", r"load\.rectifier", "rectifier", True),
    ("Lamps", r"load\.capacitor\.value", "capacitor", True),
    ("Lamps", r"load\.lamps\.polarity", "which way round", False),
)
_REST = "All else"


def controls(machine: Machine) -> tuple[Control, ...]:
    """Return the controls of a machine: the usual ones in groups, then every other parameter.

    Parameters
    ----------
    machine
        Any, colliding parts included.

    Notes
    -----
    What has one value in all of several rotors, magnets or coils is one control of them together.

    Examples
    --------
    >>> from fieldsim.machine_file.reader import read
    >>> found = {c.label: c for c in controls(read("geometries/lamp_ring.yaml"))}
    >>> found["each rotor: number of magnets"].paths
    ('rotors.upper.magnets[0].count', 'rotors.lower.magnets[0].count')
    >>> found["pickup: wire gauge"].value, found["pickup: wire gauge"].unit
    (32.0, 'AWG')
    """
    made = [_control(parameter, machine) for parameter in _offered(machine)]
    order = {label: place for place, (_, _, label, _) in enumerate(_LABELS)}
    known = [(pattern, c) for pattern, c in made if pattern]
    known.sort(key=lambda pair: order[pair[0]])
    rest = [c for pattern, c in made if not pattern]
    return (*_joined(known), *rest)


def _offered(machine: Machine) -> Iterator[Parameter]:
    """Yield all parameters, and the turns of a coil whose wire decides them."""
    stated = {p.path: p for p in parameters(machine)}
    for path, parameter in stated.items():
        yield parameter
        found = re.fullmatch(r"coils\.([^.]+)\.build", path)
        if found and f"coils.{found[1]}.turns" not in stated:
            turns = machine.coil(found[1]).placed.turns
            yield Parameter(
                f"coils.{found[1]}.turns", float(turns), "", f"{turns:g}", 1.0, 1e6,
                max(1.0, round(0.1 * turns)), "number of turns; now as many as the section holds",
            )  # fmt: skip


def _control(parameter: Parameter, machine: Machine) -> tuple[str, Control]:
    """Return the label's pattern, empty for what builders hardly change, and the control."""
    pattern, group, shown, usual = _labelled(parameter.path)
    return pattern, _made(parameter, group, shown, usual, machine)


@lru_cache(4096)
def _labelled(parameter: str) -> tuple[str, str, str, bool]:
    """Return a path's pattern of a label, its group, its label and whether it is usual."""
    for group, path, label, usual in _LABELS:
        found = re.fullmatch(path, parameter)
        if found:
            return label, group, label.format(*found.groups()), usual
    return "", _REST, parameter, False


def _made(p: Parameter, group: str, label: str, usual: bool, machine: Machine) -> Control:
    nan = math.nan
    if p.choices or isinstance(p.value, str):
        chosen = str(p.value)
        choices = p.choices if chosen in p.choices else (chosen, *p.choices)
        return Control(
            (p.path,), group, label, p.words, chosen, "", nan, nan, nan, choices, usual
        )  # fmt: skip
    shown, unit = _number_and_unit(p)
    scale, offset = _scale(p.unit, unit)
    if offset or math.isnan(p.step):  # a temperature; what has no practical step
        return Control((p.path,), group, label, p.words, shown, unit, nan, nan, nan, (), usual)
    least, most = p.least / scale, p.most / scale
    low, high, step = _range(shown, least, most, p.step / scale, whole=_is_whole(p))
    if p.path.endswith(".count") and shown > 1 and _alternates(machine, p.path):
        step, low = 2.0, max(low, 2.0)
    if p.unit == "AWG":
        low, high, step = max(least, 16.0), min(most, 46.0), 1.0
        low, high = min(low, shown), max(high, shown)
    whole = _is_whole(p)
    return Control((p.path,), group, label, p.words, shown, unit, low, high, step, (), usual, whole)


def _is_whole(p: Parameter) -> bool:
    return not p.unit and isinstance(p.value, int)


def _alternates(machine: Machine, path: str) -> bool:
    found = re.fullmatch(r"rotors\.([^.]+)\.magnets\[(\d+)\]\.count", path)
    if not found:
        return False
    rotor = next(r for r in machine.rotors if r.name == found[1])
    return rotor.magnets[int(found[2])].poles == "alternating"


def _number_and_unit(p: Parameter) -> tuple[float, str]:
    """Return the value as a file writes it, and the unit behind it."""
    if p.unit == "AWG":
        return float(p.value), "AWG"
    found = _NUMBER.match(p.text)
    if _RATIO.fullmatch(p.text):
        return float(p.value), ""
    if found is None:  # a word that stands for a number, such as a magnet's grade
        return float(p.value), p.unit
    return float(found[0]), p.text[found.end() :].strip()


@lru_cache(256)
def _scale(own: str, unit: str) -> tuple[float, float]:
    """Return factor and offset from the unit shown to the parameter's own."""
    if not unit or unit == "AWG":
        return 1.0, 0.0
    kind = "fraction" if unit == "%" else _KIND_OF_UNIT[own]
    zero = parse_quantity(f"0 {unit}", kind)
    return parse_quantity(f"1 {unit}", kind) - zero, zero


def _range(
    value: float, least: float, most: float, step: float, whole: bool
) -> tuple[float, float, float]:
    """Return a slider's range and step around a value; near values have the same ones."""
    reach = round_up(max(2.0 * abs(value), 10.0 * step, 1e-12))
    high = min(most, reach)
    low = max(least, -reach)
    fine = round_up(0.999 * (high - low) / _POSITIONS)
    step = min(fine, step) if not whole else max(1.0, round(min(fine, step)))
    low = max(low, step) if least > 0 else low
    return min(low, value), max(high, value), step


def _joined(found: Iterable[tuple[str, Control]]) -> Iterator[Control]:
    """Yield controls, those of one label and value as one."""
    groups: dict[str, list[Control]] = {}
    for pattern, control in found:
        groups.setdefault(pattern, []).append(control)
    for pattern, alike in groups.items():
        first = alike[0]
        one = all((c.value, c.unit) == (first.value, first.unit) for c in alike)
        if len(alike) == 1 or not one:
            yield from alike
            continue
        kind = "rotor" if first.group == "Rotors" else first.group.lower().removesuffix("s")
        label = pattern.format(*[f"each {kind}"] * 2)
        paths = tuple(path for c in alike for path in c.paths)
        yield replace(first, paths=paths, label=label)


def offers(machine: Machine) -> tuple[Offer, ...]:
    """Return the parts that can be added or taken away by one button.

    Examples
    --------
    >>> from fieldsim.machine_file.reader import read
    >>> [offer.words for offer in offers(read("geometries/lamp_ring.yaml"))]
    ['Take the capacitor away', 'Take the lamps away', 'Put a bolt of 11 mm into pickup', \
'Add a crank arm of 100 mm']
    """
    found = [_wire(coil) for coil in machine.coils if not coil.wire]
    across = machine.load.across or machine.wiring.outermost[0]
    if not machine.load:
        lamps = {"across": across, "rectifier": "bridge", "diode": "schottky",
                 "lamps": {"colour": "white", "parallel": 4}}  # fmt: skip
        found.append(Offer("load", "Add lamps behind a bridge", lamps))
    else:
        if machine.load.capacitor:
            found.append(Offer("load.capacitor", "Take the capacitor away", None))
        elif machine.load.lamps:
            made = {"value": "470 uF", "esr": "0.2 ohm", "rated": "25 V", "polarised": "true"}
            found.append(Offer("load.capacitor", "Add a capacitor of 470 uF", made))
        found.append(Offer("load", "Take the lamps away", None))
    found += [_core(coil) for coil in machine.coils]
    if not machine.crank:
        found.append(Offer("crank", "Add a crank arm of 100 mm", {"arm": "100 mm"}))
    return tuple(found)


def _core(coil: Coil) -> Offer:
    """Return a bolt to be put into a coil, or the core to be taken away."""
    path = f"coils.{coil.name}.core"
    if coil.core:
        return Offer(path, f"Take the core out of {coil.name}", None)
    across_mm = max(1, math.floor(800 * min(coil.opening)))
    along_mm = math.ceil(1000 * coil.length)
    bolt = {"shape": "rod", "diameter": f"{across_mm} mm", "length": f"{along_mm} mm"}
    return Offer(path, f"Put a bolt of {across_mm} mm into {coil.name}", bolt)


def _wire(coil: Coil) -> Offer:
    """Return the thickest ordinary wire of which the coil's turns fit into its section."""
    path = f"coils.{coil.name}.wire"

    def fits(gauge: int) -> bool:
        try:
            replaced(coil, wire=CoilWire(GaugeKind().read(f"AWG {gauge}", in_file=False)))
        except FieldsimError:
            return False
        return True

    gauge = _THICKEST + bisect_left(range(_THICKEST, _THINNEST), True, key=fits)
    if gauge < _THINNEST:
        return Offer(path, f"Wind {coil.name} with AWG {gauge}", {"gauge": f"AWG {gauge}"})
    filled = {"gauge": "AWG 32", "fill": "section"}
    return Offer(path, f"Fill {coil.name} with AWG 32", filled)
