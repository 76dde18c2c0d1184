"""What every section of the geometry file is built from: field types and the unknown-key check."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from difflib import get_close_matches
from fractions import Fraction
from itertools import pairwise
from typing import Annotated, Any, ClassVar

from pydantic import BaseModel, BeforeValidator, ConfigDict, model_validator
from pydantic_core import PydanticCustomError

from fieldsim.machine.units import COMMA_NUMBER, parse_quantity

__all__ = [
    "Count",
    "Direction",
    "Name",
    "Number",
    "Ratio",
    "Section",
    "list_hint",
    "missing",
    "problem",
    "quantity_field",
]

_NAME = re.compile(r"[^\W\d_][\w-]{0,39}")


class Section(BaseModel):
    """Base of all sections: immutable, and unknown keys are errors that suggest a known one."""

    model_config = ConfigDict(extra="forbid", frozen=True, arbitrary_types_allowed=True)
    # Keys of other sections that are easily put here, and where they belong.
    elsewhere: ClassVar[Mapping[str, str]] = {}

    @model_validator(mode="before")
    @classmethod
    def _known_keys(cls, data: Any) -> Any:
        allowed = [f.alias or name for name, f in cls.model_fields.items()]
        if not isinstance(data, dict):
            raise PydanticCustomError(
                "not_keys", "must be keys with values: {allowed}", {"allowed": ", ".join(allowed)}
            )
        for key in data:
            if key not in allowed:
                close = get_close_matches(str(key), allowed, n=1, cutoff=0.5)
                hint = f'; did you mean "{close[0]}"?' if close else ""
                if key in cls.elsewhere:
                    hint = f"; {key} belongs {cls.elsewhere[key]}."
                raise PydanticCustomError(
                    "unknown_key",
                    "unknown key{hint} Allowed here: {allowed}",
                    {"key": key, "hint": hint or ".", "allowed": ", ".join(allowed)},
                )
        return data


def problem(text: str, key: str | None = None) -> PydanticCustomError:
    """Return a validation error with exactly this text (braces and all).

    Parameters
    ----------
    text
        What is wrong and what is allowed.
    key
        The key below the checked section that it is about, if it is one of several.
    """
    return PydanticCustomError("wrong_value", "{text}", {"text": text, "key": key})


def missing(key: str) -> PydanticCustomError:
    """Return the error of a section that lacks a key."""
    return PydanticCustomError("missing_key", "this key is missing", {"key": key})


def quantity_field(kind: str, low: str | None = None, high: str | None = None) -> Any:
    """Return the validator of a quantity of a kind, from ``low`` to ``high`` inclusive.

    Parameters
    ----------
    kind
        One of `fieldsim.machine.units.KINDS`.
    low, high
        Smallest and largest allowed value with unit, or None for no bound.
    """

    def parse(value: Any) -> float:
        try:
            number = parse_quantity(value, kind)
            least = parse_quantity(low, kind) if low is not None else -math.inf
            most = parse_quantity(high, kind) if high is not None else math.inf
        except ValueError as error:
            raise problem(str(error)) from error
        slack = 1e-12 * max(abs(number), 1e-30)
        if number < least - slack or number > most + slack:
            allowed = f"from {low}" if high is None else f"{low} to {high}"
            raise problem(f'"{value}" is out of range; allowed: {allowed}')
        return number

    return BeforeValidator(parse)


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


def _count(value: Any) -> int:
    number = _number(value)
    if number != math.floor(number):
        raise problem(f"{_shown(value)} must be a whole number")
    return int(number)


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


def _ratio(value: Any) -> Fraction:
    if isinstance(value, str):
        match = re.fullmatch(r"\s*([+-]?\d{1,6})\s*/\s*(\d{1,6})\s*", value)
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
    return ratio


def _direction(value: Any) -> tuple[float, float, float]:
    if not isinstance(value, list):
        raise problem(f"{_shown(value)} is not a direction; write three numbers like [0, 0, 1]")
    if len(value) != 3:
        count = "1 number" if len(value) == 1 else f"{len(value)} numbers"
        raise problem(f"has {count}; a direction has three, like [0, 0, 1]{list_hint(value)}")
    x, y, z = (_number(v) for v in value)
    if not math.hypot(x, y, z) > 0:
        raise problem("a direction needs a length above zero")
    if max(abs(x), abs(y), abs(z)) > 1e100 or math.hypot(x, y, z) < 1e-100:
        raise problem(
            "the direction's numbers are absurdly large or small; write it like [0, 0, 1]"
        )
    return (x, y, z)


def _name(value: Any) -> str:
    if not isinstance(value, str) or _NAME.fullmatch(value) is None:
        raise problem(
            f"{_shown(value)} cannot be a name; allowed: a letter, then up to 39 letters, digits, "
            "_ or -"
        )
    return value


Name = Annotated[str, BeforeValidator(_name)]
Number = Annotated[float, BeforeValidator(_number)]
Count = Annotated[int, BeforeValidator(_count)]
Ratio = Annotated[Fraction, BeforeValidator(_ratio)]
Direction = Annotated[tuple[float, float, float], BeforeValidator(_direction)]
