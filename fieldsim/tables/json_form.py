"""From result objects to what JSON can hold: attributes keep their names, SI units in each."""

from __future__ import annotations

import enum
import math
from collections.abc import Iterable, Mapping
from dataclasses import fields, is_dataclass
from fractions import Fraction
from operator import attrgetter
from typing import Any

import numpy as np

__all__ = ["Json", "json_form", "picked"]

Json = dict[str, Any]


def json_form(value: Any) -> Any:
    """Return a result as plain objects: the fields of dataclasses by name, arrays as lists.

    What is not a finite number is null; a fraction is a number, an enumeration its value.

    Examples
    --------
    >>> json_form({"a": (1, Fraction(1, 4), math.nan), "b": np.array([[2.0]]), "c": np.True_})
    {'a': [1, 0.25, None], 'b': [[2.0]], 'c': True}
    """
    if isinstance(value, enum.Enum):
        return json_form(value.value)
    if value is None or isinstance(value, bool | int | str):
        return value
    if isinstance(value, float | Fraction):
        return float(value) if math.isfinite(value) else None
    if isinstance(value, np.ndarray | np.generic):
        return json_form(value.tolist())
    if isinstance(value, Mapping):
        return {str(key): json_form(item) for key, item in value.items()}
    if is_dataclass(value):
        return picked(value, *(field.name for field in fields(value)))
    if isinstance(value, Iterable):
        return [json_form(item) for item in value]
    raise TypeError(f"a result of type {type(value).__name__} has no form in JSON")


def picked(value: object, *names: str) -> Json:
    """Return some of a result's fields and properties by name.

    Parameters
    ----------
    value
        The result.
    names
        Of its attributes; ``key=attribute`` where the key is another name, or an attribute of an
        attribute.

    Examples
    --------
    >>> picked(Fraction(3, 4), "numerator", "under=denominator", "size=denominator.real")
    {'numerator': 3, 'under': 4, 'size': 4}
    """
    pairs = (name.partition("=")[::2] for name in names)
    return {key: json_form(attrgetter(path or key)(value)) for key, path in pairs}
