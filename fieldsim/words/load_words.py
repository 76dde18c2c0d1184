"""What hangs on the coils, in plain words."""

from __future__ import annotations

from collections.abc import Iterable

from fieldsim.machine.load.led_colours import GENERIC_VOLTAGES_V, USUAL_A
from fieldsim.machine.load.load import DiodeSheet, Lamps, Load, LoadCapacitor, LoadPart
from fieldsim.words.numbers import plain_number, quantity

__all__ = ["load_lines"]


def load_lines(load: Load) -> list[str]:
    """Return what hangs across the terminals, and each named group, in a line each.

    Examples
    --------
    >>> ring = Load("pickup", rectifier="bridge", capacitor={"value": "470 uF"},
    ...             lamps={"colour": "white", "parallel": 6})
    >>> print(*load_lines(ring))
    a bridge of four silicon diodes, and behind it side by side: 6 white LEDs side by side \
(3.2 V at 20 mA each); a capacitor of 470 uF
    """
    if load.terminals == "short":
        return ["the ends joined: a short circuit"]
    found = [_lamps(load.lamps)] if load.lamps else []
    if load.resistor is not None:
        found.append(f"a resistor of {_ohm(load.resistor)}")
    if load.capacitor:
        found.append(_capacitor(load.capacitor))
    found += map(_part, load.parts)
    inner = _side_by_side(found) if found else "nothing"
    diode = _diode("silicon" if load.diode is None else load.diode)
    words = {
        "bridge": f"a bridge of four {diode}s, and behind it {inner}",
        "single": f"one {diode}, and behind it {inner}",
        "none": inner,
    }[load.rectifier]
    return [words, *(f"group {each.called}: {_part(each)}" for each in load.groups)]


def _side_by_side(parts: Iterable[str]) -> str:
    found = list(parts)
    return found[0] if len(found) == 1 else f"side by side: {'; '.join(found)}"


def _part(part: LoadPart) -> str:
    name = f"{part.name}: " if part.name else ""
    if part.count == 1:
        return f"{name}{_single(part)}"
    how = "one after the other" if part.series else "side by side"
    return f"{name}{part.count} times {how}: {_single(part)}"


def _single(part: LoadPart) -> str:
    if part.resistor is not None:
        rated = "" if part.rated is None else f", rated {quantity(part.rated, 'W')}"
        return f"a resistor of {_ohm(part.resistor)}{rated}"
    if part.capacitor:
        return _capacitor(part.capacitor)
    if part.lamps:
        return _lamps(part.lamps)
    if part.use is not None:
        return f"group {part.use}"
    if part.diode is not None:
        return f"a {_diode(part.diode)}{', turned round' if part.reverse else ''}"
    if part.bridge:
        inner = _side_by_side(map(_part, part.bridge))
        return f"a bridge of four silicon diodes, and behind it ({inner})"
    if part.series:
        return f"one after the other: ({'; '.join(map(_part, part.series))})"
    return f"side by side: ({'; '.join(map(_part, part.parallel))})"


def _diode(stated: str | DiodeSheet) -> str:
    if isinstance(stated, DiodeSheet):
        return f"diode of {plain_number(stated.forward)} V at {_ampere(stated.at)}"
    return f"{'Schottky' if stated == 'schottky' else stated} diode"


def _lamps(lamps: Lamps) -> str:
    colour = f"{lamps.colour} " if lamps.colour else ""
    if lamps.forward is not None and lamps.at is not None:
        volts, at = lamps.forward, lamps.at
    else:
        volts, at = GENERIC_VOLTAGES_V[lamps.colour or ""][1], USUAL_A
    each = f"({plain_number(volts)} V at {_ampere(at)} each)"
    in_series = f"{lamps.series} {colour}LEDs in series"
    if lamps.series == 1:
        single = f"{lamps.parallel} {colour}LEDs side by side"
        words = f"a {colour}LED" if lamps.parallel == 1 else single
    else:
        words = in_series if lamps.parallel == 1 else f"{lamps.parallel} strings of {in_series}"
    words = f"{words} {each}"
    if lamps.resistor:
        words += f", {_ohm(lamps.resistor)} in series with each{_string(lamps)}"
    if lamps.polarity == "both":
        words += f"; each{_string(lamps)} with a twin the other way round"
    return f"{words}, turned round" if lamps.polarity == "reverse" else words


def _string(lamps: Lamps) -> str:
    return " string" if lamps.series > 1 else ""


def _capacitor(capacitor: LoadCapacitor) -> str:
    words = f"a capacitor of {_farad(capacitor.value)}"
    if capacitor.esr:
        words += f", ESR {_ohm(capacitor.esr)}"
    if capacitor.rated is not None:
        words += f", rated {plain_number(capacitor.rated)} V"
    if capacitor.initial:
        words += f", charged to {plain_number(capacitor.initial)} V"
    return f"{words}, polarised" if capacitor.polarised else words


def _ohm(value: float) -> str:
    factor, prefix = (1e6, "M") if value >= 1e6 else (1e3, "k") if value >= 1e3 else (1.0, "")
    return f"{plain_number(value / factor)} {prefix}ohm"


def _ampere(value: float) -> str:
    return f"{plain_number(value)} A" if value >= 1.0 else f"{plain_number(1e3 * value)} mA"


def _farad(value: float) -> str:
    return f"{plain_number(value)} F" if value >= 0.1 else f"{plain_number(1e6 * value)} uF"
