"""Quantities as text with a unit: read into SI once, by a units library, and written back exactly.

The registry holds only units that belong in a small machine's description. Plane angle is a
dimension of its own here, so that ``"2 Hz"`` is never taken for a speed of rotation by accident.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pint

__all__ = ["COMMA_NUMBER", "KINDS", "Kind", "near_text", "parse_quantity", "quantity_text"]


@dataclass(frozen=True)
class Kind:
    """A kind of quantity: the SI unit it is kept in, examples, and units to write it in."""

    unit: str
    examples: str
    written_in: str


KINDS: dict[str, Kind] = {
    "length": Kind("m", '"8 mm" or "0.25 in"', "mm m"),
    "area": Kind("m^2", '"50 mm^2"', "mm^2 m^2"),
    "mass": Kind("kg", '"250 g" or "4 oz"', "g kg"),
    "density": Kind("kg/m^3", '"7500 kg/m^3"', "kg/m^3"),
    "time": Kind("s", '"0.5 s"', "s ms"),
    "angle": Kind("rad", '"15 deg" or "0.5 turn"', "deg turn rad"),
    "rotation speed": Kind("rad/s", '"120 rpm", "2 turn/s" or "12 rad/s"', "rpm rad/s"),
    "frequency": Kind("Hz", '"50 Hz"', "Hz"),
    "flux density": Kind("T", '"1.2 T" or "12 kG"', "T mT"),
    "voltage": Kind("V", '"2.7 V"', "V mV"),
    "current": Kind("A", '"20 mA"', "mA A uA"),
    "current density": Kind("A/m^2", '"5 A/mm^2"', "A/mm^2 A/m^2"),
    "resistance": Kind("ohm", '"100 ohm" or "4.7 kohm"', "ohm kohm mohm Mohm"),
    "resistivity": Kind("ohm*m", '"0.15 uohm*m"', "uohm*m ohm*m Mohm*m"),
    "capacitance": Kind("F", '"470 uF"', "uF F mF nF"),
    "inductance": Kind("H", '"10 mH"', "mH H"),
    "power": Kind("W", '"0.25 W"', "W mW"),
    "force": Kind("N", '"20 N"', "N"),
    "torque": Kind("N*m", '"5 mN*m"', "mN*m N*m"),
    "friction per speed": Kind("N*m*s/rad", '"1e-5 N*m*s/rad"', "N*m*s/rad"),
    "stress": Kind("Pa", '"3 MPa"', "MPa Pa"),
    "temperature": Kind("K", '"20 degC" or "293 K"', "degC K"),
    "fraction": Kind("", '"60 %"', "% pu"),
}

_DEFINITIONS = """
metre = [length] = m = meter
inch = 0.0254 * metre = in
foot = 0.3048 * metre = ft
thou = 0.001 * inch = thou = mil
gram = [mass] = g
ounce = 28.349523125 * gram = oz
pound = 453.59237 * gram = lb
second = [time] = s = sec
minute = 60 * second = min
hour = 3600 * second = h
ampere = [current] = A = amp
kelvin = [temperature]; offset: 0 = K
degree_Celsius = kelvin; offset: 273.15 = °C = degC
radian = [angle] = rad
degree = 0.017453292519943295 * radian = deg = °
turn = 6.283185307179586 * radian = turn = rev = turns
revolutions_per_minute = turn / minute = rpm = RPM
hertz = 1 / second = Hz
newton = 1000 * gram * metre / second ** 2 = N
pascal = newton / metre ** 2 = Pa
joule = newton * metre = J
watt = joule / second = W
coulomb = ampere * second = C
volt = watt / ampere = V
ohm = volt / ampere = Ω = Ohm
farad = coulomb / volt = F
weber = volt * second = Wb
henry = weber / ampere = H
tesla = weber / metre ** 2 = T
gauss = 1e-4 * tesla = G
percent = 0.01 = %
per_unit = 1 = pu
"""
_PREFIXES = """
nano- = 1e-9 = n-
micro- = 1e-6 = u- = µ- = μ-
milli- = 1e-3 = m-
centi- = 1e-2 = c-
kilo- = 1e3 = k-
mega- = 1e6 = M-
"""
_NUMBER = r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,3})?"
_QUANTITY = re.compile(rf"\s*({_NUMBER})(?:\s*/\s*(\d{{1,6}}))?\s*(\S.*?)?\s*", re.DOTALL)
_UNIT = re.compile(r"[A-Za-zµμΩ°_%]+(?:\s?\^?[23²³])?(?:\s?[*·/]\s?[A-Za-zµμΩ°_]+(?:\^?[23²³])?)*")
COMMA_NUMBER = re.compile(r"\s*[+-]?\d+(?:,\d+)+(?:\.\d+)?(?:\s.*|[^\d\s,.].*)?", re.DOTALL)
_LONGEST = 60


@cache
def _registry() -> pint.UnitRegistry[float]:
    """Return the registry, built on first use (the library is slow to import)."""
    import pint

    registry: pint.UnitRegistry[float] = pint.UnitRegistry(
        None, autoconvert_offset_to_baseunit=True
    )
    for line in (_PREFIXES + _DEFINITIONS).strip().splitlines():
        if line:
            registry.define(line)
    return registry


@cache
def _to_si(unit_text: str, si: str) -> tuple[float, float] | None:
    """Return scale and offset from ``unit_text`` to ``si``, or None if they do not match.

    Raises
    ------
    ValueError
        If the unit is not known.
    """
    import pint

    registry = _registry()
    try:
        unit = registry.parse_units(unit_text)
        target = registry.parse_units(si)
    except (pint.PintError, ValueError, TypeError, AttributeError, AssertionError) as error:
        raise ValueError("unknown unit") from error
    if unit.dimensionality != target.dimensionality:
        return None
    zero = registry.Quantity(0.0, unit).to(target).magnitude
    one = registry.Quantity(1.0, unit).to(target).magnitude
    return float(one - zero), float(zero)


def _normal(unit_text: str) -> str:
    """Return the unit in the library's spelling: ``mm²`` as ``mm**2``, no spaces."""
    text = (
        unit_text.replace("°C", "degC")
        .replace("·", "*")
        .replace(" ", "")
        .replace("²", "^2")
        .replace("³", "^3")
    )
    text = re.sub(r"(?<=[A-Za-z])(?<!\^)([23])", r"^\1", text)
    return text.replace("^", "**")


def parse_quantity(text: object, kind: str) -> float:
    """Return a quantity in SI units.

    Parameters
    ----------
    text
        A number and a unit, like ``"8 mm"``, ``"1/4 in"`` or ``"-15 deg"``.
    kind
        One of `KINDS`, for instance ``"length"``; a temperature comes back in kelvin.

    Raises
    ------
    ValueError
        If there is no unit, an unknown one, one of another kind, or the number is not finite.

    Examples
    --------
    >>> parse_quantity("0.25 in", "length")
    0.00635
    >>> parse_quantity("1.2 T", "flux density")
    1.2
    >>> parse_quantity("8 T", "length")
    Traceback (most recent call last):
    ...
    ValueError: "8 T" is not a length; write it like "8 mm" or "0.25 in"
    """
    wanted = KINDS[kind]
    article = "an" if kind[0] in "aeiou" else "a"
    like = f"write it like {wanted.examples}"
    if isinstance(text, bool) or text is None:
        shown = "an empty value" if text is None else str(text).lower()
        raise ValueError(f"{shown} is not {article} {kind}; {like}")
    if isinstance(text, int | float):
        number = "a huge number" if 1e15 <= abs(text) < math.inf else str(text)
        raise ValueError(f"{number} has no unit; {like}")
    if not isinstance(text, str):
        what = "a list" if isinstance(text, list | tuple) else "a group of keys"
        raise ValueError(f"{what} is not {article} {kind}; {like}")
    one_line = " ".join(text.split())
    shown = f'"{one_line}"' if len(one_line) <= _LONGEST else f'"{one_line[:_LONGEST]}..."'
    match = _QUANTITY.fullmatch(text) if len(text) <= 4 * _LONGEST else None
    if match is None or (match[3] or "").startswith(","):
        if COMMA_NUMBER.fullmatch(text[: 4 * _LONGEST]):
            plain = text.count(",") == 1 and "." not in text
            better = f", like {shown.replace(',', '.')}" if plain else ""
            raise ValueError(f"{shown} has a comma in its number; write a decimal point{better}")
        raise ValueError(f"{shown} is not a number with a unit; {like}")
    number_text, divisor, unit_text = match.groups()
    if unit_text is None:
        raise ValueError(f"{shown} has no unit; {like}")
    if len(unit_text) > _LONGEST or _UNIT.fullmatch(unit_text) is None:
        raise ValueError(f"{shown} is not a number with a unit; {like}")
    try:
        conversion = _to_si(_normal(unit_text), wanted.unit.replace("^", "**") or "dimensionless")
    except ValueError:
        raise ValueError(f'{shown} has the unknown unit "{unit_text}"; {like}') from None
    if conversion is None:
        raise ValueError(f"{shown} is not {article} {kind}; {like}")
    value = float(number_text)
    if divisor is not None:
        if int(divisor) == 0:
            raise ValueError(f"{shown} divides by zero; {like}")
        value /= int(divisor)
    scale, offset = conversion
    value = value * scale + offset
    if not math.isfinite(value):
        raise ValueError(f"{shown} is too large a number; {like}")
    return value


_PLAIN = (0.01, 1e5)  # sizes of numbers that are read at a glance


def quantity_text(value: float, kind: str) -> str:
    """Return a quantity as text that `parse_quantity` reads back to exactly the same number.

    Parameters
    ----------
    value
        In SI units, finite.
    kind
        One of `KINDS`.

    Notes
    -----
    Of the kind's usual units it is the one with the shortest number; not every number of a decimal
    unit exists in binary, so that for odd values the SI unit itself may be the only one.

    Examples
    --------
    >>> quantity_text(0.0095, "length"), quantity_text(470e-6, "capacitance")
    ('9.5 mm', '470 uF')
    >>> quantity_text(293.15, "temperature"), quantity_text(0.6, "fraction")
    ('20 degC', '60 %')
    """
    wanted = KINDS[kind]
    value += 0.0  # a zero has no sign
    found: list[tuple[float, str]] = []
    for place, unit in enumerate(wanted.written_in.split()):
        conversion = _to_si(_normal(unit), wanted.unit.replace("^", "**") or "dimensionless")
        number = None if conversion is None else _shortest(value, *conversion)
        if number is not None:
            awkward = value != 0.0 and not _PLAIN[0] <= abs(float(number)) < _PLAIN[1]
            found.append((len(number) + 4 * awkward + place / 2, f"{number} {unit}"))
    return min(found)[1]


def near_text(value: float, kind: str, digits: int = 12) -> str:
    """Return a quantity as text, rounded to so many digits in the unit that makes it shortest.

    Examples
    --------
    >>> near_text(4 * math.pi, "rotation speed"), near_text(0.1 + 0.2, "length")
    ('120 rpm', '300 mm')
    """
    wanted = KINDS[kind]
    found = []
    for unit in wanted.written_in.split():
        conversion = _to_si(_normal(unit), wanted.unit.replace("^", "**") or "dimensionless")
        if conversion is not None:
            scale, offset = conversion
            number = float(f"{(value - offset) / scale:.{digits}g}")
            found.append(quantity_text(number * scale + offset, kind))
    return min(found, key=len)


def _shortest(value: float, scale: float, offset: float) -> str | None:
    """Return the shortest decimal that comes to the value, or None if no decimal does."""
    near = (value - offset) / scale
    for digits in range(1, 18):
        text = f"{near:.{digits}g}"
        if float(text) * scale + offset == value:
            plain = f"{float(text):.{digits}f}".rstrip("0").rstrip(".") if "e" in text else text
            short = text.replace("e-0", "e-").replace("e+0", "e")
            return plain if len(plain) < 9 and float(plain) == float(text) else short
    return None
