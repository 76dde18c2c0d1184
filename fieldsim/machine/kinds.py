"""Kinds of values that a key can hold: how each is checked, read from text and written as text."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from enum import Enum
from fractions import Fraction
from functools import cached_property
from itertools import pairwise
from typing import Any

from pydantic import ValidationInfo
from pydantic_core import PydanticCustomError, core_schema

from fieldsim.errors import ImpossibleError
from fieldsim.machine.frames import Vec3, unit
from fieldsim.machine.units import COMMA_NUMBER, KINDS, parse_quantity, quantity_text

__all__ = [
    "IN_FILE",
    "Choice",
    "Direction",
    "Flag",
    "Kind",
    "Member",
    "Name",
    "Number",
    "Quantity",
    "Ratio",
    "Title",
    "Vector",
    "Whole",
    "list_hint",
    "missing",
    "problem",
]

IN_FILE = "file"
"""Context of a check in which every quantity must be text with a unit."""

_NAME = re.compile(r"[^\W\d_][\w-]{0,39}")


def problem(text: str, *path: str | int) -> PydanticCustomError:
    """Return a validation error with exactly this text (braces and all).

    Parameters
    ----------
    text
        What is wrong and what is allowed.
    path
        Keys below the checked value that lead to what it is about.
    """
    return PydanticCustomError("wrong_value", "{text}", {"text": text, "path": path})


def missing(key: str) -> PydanticCustomError:
    """Return the error of a section that lacks a key."""
    return PydanticCustomError("missing_key", "this key is missing", {"path": (key,)})


class Kind:
    """What a key can hold; ``unit`` is that of a number in Python."""

    unit: str = ""

    def read(self, value: Any, in_file: bool) -> Any:
        """Return the value, checked; in a file a quantity must be text with a unit."""
        raise NotImplementedError

    def written(self, value: Any) -> Any:
        """Return the value as a file holds it: text, a number, true or false, or a list of such."""
        return value

    def plain(self, value: Any) -> Any:
        """Return the value as nested keys and plain values, all in SI units."""
        return value

    @property
    def values(self) -> str:
        """What is allowed, for the table of keys."""
        raise NotImplementedError

    def __get_pydantic_core_schema__(self, source: Any, handler: Callable[[Any], Any]) -> Any:
        del source, handler

        def check(value: Any, info: ValidationInfo) -> Any:
            try:
                return self.read(value, info.context == IN_FILE)
            except ImpossibleError as error:
                raise problem(str(error)) from None

        return core_schema.with_info_plain_validator_function(check)


class Quantity(Kind):
    """A quantity of a kind, from ``low`` to ``high`` inclusive; None for no bound.

    Parameters
    ----------
    kind
        One of `fieldsim.machine.units.KINDS`.
    low, high
        Smallest and largest allowed value with unit.
    """

    def __init__(self, kind: str, low: str | None = None, high: str | None = None) -> None:
        self.kind, self.low, self.high = kind, low, high
        self.unit = KINDS[kind].unit

    @cached_property
    def bounds(self) -> tuple[float, float]:
        """Smallest and largest allowed value in SI units."""
        least = parse_quantity(self.low, self.kind) if self.low is not None else -math.inf
        most = parse_quantity(self.high, self.kind) if self.high is not None else math.inf
        return least, most

    def read(self, value: Any, in_file: bool) -> float:
        """Return the value in SI units."""
        if not in_file and isinstance(value, int | float) and not isinstance(value, bool):
            number, shown = float(value), f"{value:g} {KINDS[self.kind].unit}".strip()
            if not math.isfinite(number):
                raise problem(f"{shown} is not a finite number")
        else:
            shown = f'"{value}"'
            try:
                number = parse_quantity(value, self.kind)
            except ValueError as error:
                raise problem(str(error)) from error
        least, most = self.bounds
        slack = 1e-12 * max(abs(number), 1e-30)
        if number < least - slack or number > most + slack:
            allowed = f"from {self.low}" if self.high is None else f"{self.low} to {self.high}"
            raise problem(f"{shown} is out of range; allowed: {allowed}")
        return number

    def written(self, value: float) -> str:
        """Return the value as text with its unit."""
        return quantity_text(value, self.kind)

    @property
    def values(self) -> str:
        """What is allowed, for the table of keys."""
        if self.low is None or self.high is None:
            article = "an" if self.kind[0] in "aeiou" else "a"
            return f"{article} {self.kind}"
        low, unit_low = self.low.split(" ", 1)
        shared = self.high.endswith(f" {unit_low}")
        return f"{low if shared else self.low} to {self.high}"


def _shown(value: Any) -> str:
    if isinstance(value, str):
        return f'"{value}"' if len(value) <= 40 else f'"{value[:40]}..."'
    if value is None:
        return "an empty value"
    if isinstance(value, dict | list):
        return "a list" if isinstance(value, list) else "a group of keys"
    if isinstance(value, bool):
        return str(value).lower()
    return str(value)[:40]


def _number(value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        hint = ""
        if isinstance(value, str) and COMMA_NUMBER.fullmatch(value):
            hint = "; write a decimal point, not a comma, and nothing between thousands"
        raise problem(f"{_shown(value)} is not a plain number{hint}")
    try:
        number = float(value)
    except OverflowError as error:
        raise problem("the number is too large") from error
    if not math.isfinite(number):
        raise problem(f"{number} is not a finite number")
    return number


def _as_number(value: Any) -> Any:
    """Return the number that text holds; anything else as it is."""
    try:
        return float(value) if isinstance(value, str) else value
    except ValueError:
        return value


class Whole(Kind):
    """A whole number from ``least`` to ``most``, a count of something."""

    def __init__(self, least: int, most: int) -> None:
        self.least, self.most = least, most

    def read(self, value: Any, in_file: bool) -> int:
        """Return the count."""
        number = _number(value if in_file else _as_number(value))
        if number != math.floor(number):
            raise problem(f"{_shown(value)} must be a whole number")
        if number < self.least:
            raise problem(f"{_shown(value)} is out of range; it must be at least {self.least}")
        if number > self.most:
            raise problem(f"{_shown(value)} is out of range; it must be at most {self.most}")
        return int(number)

    @property
    def values(self) -> str:
        """What is allowed, for the table of keys."""
        return f"{self.least} to {self.most}"


class Number(Kind):
    """A plain number from ``least`` to ``most``, of something that has no unit."""

    def __init__(self, least: float, most: float) -> None:
        self.least, self.most = least, most

    def read(self, value: Any, in_file: bool) -> float:
        """Return the number."""
        number = _number(value if in_file else _as_number(value))
        if not self.least <= number <= self.most:
            raise problem(
                f"{_shown(value)} is out of range; allowed: {self.least:.12g} to {self.most:.12g}"
            )
        return number

    def written(self, value: float) -> int | float:
        """Return the number, a whole one without a point."""
        return int(value) if value == int(value) else value

    @property
    def values(self) -> str:
        """What is allowed, for the table of keys."""
        return f"{self.least:.12g} to {self.most:.12g}"


class Ratio(Kind):
    """An exact ratio other than zero, 0.001 to 1000 in size, that a file can state."""

    _FRACTION = re.compile(r"\s*([+-]?\d{1,6})\s*/\s*(\d{1,6})\s*")
    _DECIMAL = re.compile(r"\s*[+-]?(?:\d+\.?\d*|\.\d+)\s*")

    def read(self, value: Any, in_file: bool) -> Fraction:
        """Return the ratio."""
        if isinstance(value, Fraction):
            ratio = value
        elif isinstance(value, str) and not in_file and self._DECIMAL.fullmatch(value):
            ratio = Fraction(value.strip())
        elif isinstance(value, str):
            match = self._FRACTION.fullmatch(value)
            if match is None or int(match[2]) == 0:
                raise problem(f'{_shown(value)} is not a ratio; write it like 9, -2.5 or "10/3"')
            ratio = Fraction(int(match[1]), int(match[2]))
        else:
            # Through the decimal text, so that 0.1 is one tenth and not its nearest binary number.
            ratio = Fraction(repr(_number(value)))
        if ratio == 0:
            raise problem("a ratio of zero would never turn the rotor; allowed: any other number")
        if not Fraction(1, 1000) <= abs(ratio) <= 1000:
            raise problem(f"{_shown(value)} is out of range; allowed: 0.001 to 1000 in size")
        if not isinstance(self.written(ratio), str):
            return ratio
        if self._FRACTION.fullmatch(str(ratio)) is None:
            raise problem(
                f"{str(ratio)[:40]} has too many digits; allowed: a decimal number, or two whole "
                "numbers of up to six digits"
            )
        return ratio

    def written(self, value: Fraction) -> int | float | str:
        """Return a number where that is exact, else ``"10/3"``."""
        if value.denominator == 1:
            return int(value)
        return float(value) if Fraction(repr(float(value))) == value else str(value)

    @property
    def values(self) -> str:
        """What is allowed, for the table of keys."""
        return '0.001 to 1000 in size, like `9`, `-2.5`, `"10/3"`'


class Direction(Kind):
    """A direction in space, made a unit vector."""

    def read(self, value: Any, in_file: bool) -> Vec3:
        """Return the unit vector."""
        if not isinstance(value, list | tuple):
            raise problem(f"{_shown(value)} is not a direction; write three numbers like [0, 0, 1]")
        if len(value) != 3:
            count = "1 number" if len(value) == 1 else f"{len(value)} numbers"
            hint = list_hint(list(value))
            raise problem(f"has {count}; a direction has three, like [0, 0, 1]{hint}")
        x, y, z = (_number(v if in_file else _as_number(v)) for v in value)
        if not math.hypot(x, y, z) > 0:
            raise problem("a direction needs a length above zero")
        if max(abs(x), abs(y), abs(z)) > 1e100 or math.hypot(x, y, z) < 1e-100:
            raise problem(
                "the direction's numbers are absurdly large or small; write it like [0, 0, 1]"
            )
        return unit((x, y, z))

    def written(self, value: Vec3) -> list[int | float]:
        """Return the plainest numbers that mean exactly the same: whole ones, then short ones."""
        least = max(min(abs(x) for x in value if x), 1e-3)  # below it no short numbers are had
        for factor in range(1, 10):
            whole = [round(x / least * factor) for x in value]
            if any(whole) and unit((whole[0], whole[1], whole[2])) == value:
                return list(whole)
        for digits in range(1, 10):
            for size in (1.0, least, max(abs(x) for x in value)):
                x, y, z = (round(x / size, digits) for x in value)
                if unit((x, y, z)) == value:
                    return [int(each) if each == int(each) else each for each in (x, y, z)]
        return [int(x) if x == int(x) else x for x in value]

    @property
    def values(self) -> str:
        """What is allowed, for the table of keys."""
        return "a direction"


class Vector(Kind):
    """Several quantities of one kind, of which a file has a list.

    Parameters
    ----------
    item
        Each of them.
    count
        How many.
    example
        As a file has them.
    """

    def __init__(self, item: Quantity, count: int, example: str) -> None:
        self.item, self.count, self.example = item, count, example
        self.unit = item.unit

    def read(self, value: Any, in_file: bool) -> tuple[float, ...]:
        """Return the quantities in SI units."""
        if not isinstance(value, list | tuple):
            raise problem(f"must be a list of {self.count} lengths, like {self.example}")
        if len(value) != self.count:
            count = "1 entry" if len(value) == 1 else f"{len(value)} entries"
            hint = list_hint(list(value))
            raise problem(f"has {count}; it needs {self.count}, like {self.example}{hint}")
        found = []
        for place, each in enumerate(value):
            try:
                found.append(self.item.read(each, in_file))
            except PydanticCustomError as error:
                raise problem(error.message(), place) from None
        return tuple(found)

    def written(self, value: tuple[float, ...]) -> list[str]:
        """Return each with its unit."""
        return [self.item.written(each) for each in value]

    @property
    def values(self) -> str:
        """What is allowed, for the table of keys."""
        number = {2: "two", 3: "three"}[self.count]
        what = "positions" if self.item.bounds[0] < 0 else "lengths"
        return f"{number} {what}, {self.item.values}"


class Choice(Kind):
    """One of several words."""

    def __init__(self, *options: str) -> None:
        self.options = options

    def read(self, value: Any, in_file: bool) -> str:
        """Return the word."""
        if not isinstance(value, str) or value not in self.options:
            shown = f'"{value[:40]}"' if isinstance(value, str) else "this"
            raise problem(f"{shown} is not one of: {', '.join(self.options)}")
        return value

    @property
    def values(self) -> str:
        """What is allowed, for the table of keys."""
        return ", ".join(f"`{option}`" for option in self.options)


class Member(Kind):
    """One member of an enumeration, each with its word.

    Parameters
    ----------
    members
        By word.
    complaint
        What is said of any other word; without it the words are listed.
    """

    def __init__(self, members: Mapping[str, Enum], complaint: str = "") -> None:
        self.members, self.complaint = dict(members), complaint

    def read(self, value: Any, in_file: bool) -> Enum:
        """Return the member."""
        if isinstance(value, Enum) and value in self.members.values():
            return value
        if not isinstance(value, str) or value not in self.members:
            shown = f'"{value[:40]}"' if isinstance(value, str) else "this"
            raise problem(self.complaint or f"{shown} is not one of: {', '.join(self.members)}")
        return self.members[value]

    def written(self, value: Enum) -> str:
        """Return the member's word."""
        return next(word for word, member in self.members.items() if member is value)

    @property
    def options(self) -> tuple[str, ...]:
        """All words."""
        return tuple(self.members)

    @property
    def values(self) -> str:
        """What is allowed, for the table of keys."""
        return ", ".join(f"`{option}`" for option in self.members)


class Flag(Kind):
    """True or false."""

    def read(self, value: Any, in_file: bool) -> bool:
        """Return it."""
        words = {"true": True, "false": False}
        if not in_file and isinstance(value, str) and value in words:
            return words[value]
        if not isinstance(value, bool):
            raise problem(f"{_shown(value)} is not one of: true, false")
        return value

    @property
    def values(self) -> str:
        """What is allowed, for the table of keys."""
        return "`true`, `false`"


class Name(Kind):
    """A name: a letter, then up to 39 letters, digits, ``_`` or ``-``."""

    def read(self, value: Any, in_file: bool) -> str:
        """Return the name."""
        if not isinstance(value, str) or _NAME.fullmatch(value) is None:
            raise problem(
                f"{_shown(value)} cannot be a name; allowed: a letter, then up to 39 letters, "
                "digits, _ or -"
            )
        return value

    @property
    def values(self) -> str:
        """What is allowed, for the table of keys."""
        return "a name"


class Title(Kind):
    """One line of printable text."""

    def read(self, value: Any, in_file: bool) -> str:
        """Return the text."""
        if not isinstance(value, str):
            raise problem("the title must be text")
        if len(value) > 200:
            raise problem(f"the title has {len(value)} characters; at most 200 are allowed")
        if not value.isprintable():
            raise problem("the title must be one line of printable text")
        return value.strip()

    @property
    def values(self) -> str:
        """What is allowed, for the table of keys."""
        return "text, one line, up to 200 characters"


def list_hint(values: list[Any]) -> str:
    """Return what was probably meant where a list has too few or too many entries.

    Examples
    --------
    >>> list_hint(["16 mm 30 mm"])
    '; separate the entries with commas'
    >>> list_hint([1, "5 mm", "30 mm"])
    '; write decimals with a point, not with a comma'
    >>> list_hint(["16 mm"])
    ''
    """
    if any(
        isinstance(v, str) and len(re.findall(r"(?<![\w.^/+-])[+-]?[\d.]+", v)) > 1 for v in values
    ):
        return "; separate the entries with commas"
    halves = pairwise(values)
    if any(type(a) is int and isinstance(b, str) and b[:1].isdigit() for a, b in halves):
        return "; write decimals with a point, not with a comma"
    return ""
