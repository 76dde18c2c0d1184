"""Values of a wish's file, each refused with its place where it is wrong."""

from __future__ import annotations

import math
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any

from fieldsim.errors import GeometryError
from fieldsim.machine.paths import Path_
from fieldsim.machine.units import parse_quantity
from fieldsim.machine_file.yaml_nodes import Document

__all__ = ["WishValues"]


@dataclass(frozen=True)
class WishValues:
    """What reads single values of a file.

    Parameters
    ----------
    document
        The file's content.
    """

    document: Document

    def error(self, where: Path_, problem: str) -> GeometryError:
        """Return the error to raise for the value at a path."""
        return self.document.error(where, problem)

    def known(self, where: Path_, allowed: tuple[str, ...]) -> None:
        """Refuse a key that is none of those allowed."""
        key = str(where[-1])
        if key not in allowed:
            close = get_close_matches(key, allowed, n=1)
            hint = f'did you mean "{close[0]}"?' if close else f"allowed: {', '.join(allowed)}"
            raise self.error(where, f"unknown key; {hint}")

    def mapping(self, where: Path_, value: Any, like: str, most: int) -> dict[str, Any]:
        """Return a mapping that holds something."""
        if not isinstance(value, dict) or not value:
            empty = "is empty" if value in ({}, [], None) else "holds no keys"
            raise self.error(where, f"{empty}; write {like}")
        if len(value) > most:
            raise self.error(where, f"has {len(value)} entries; at most {most} are allowed")
        return value

    def quantity(self, kind: str, value: Any, where: Path_) -> float:
        """Return a number of a kind in SI units, or a plain one where there is no kind."""
        if kind:
            try:
                return parse_quantity(value, kind)
            except ValueError as error:
                raise self.error(where, str(error)) from None
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise self.error(where, f'"{str(value)[:40]}" is not a plain number')
        if not math.isfinite(value):
            raise self.error(where, f"{value} is not finite")
        return float(value)

    def above_zero(self, kind: str, value: Any, where: Path_) -> float:
        """Return such a number that is above zero."""
        number = self.quantity(kind, value, where)
        if not number > 0:
            raise self.error(where, f"{value} must be above zero")
        return number

    def whole(self, value: Any, least: int, most: int, where: Path_) -> int:
        """Return a whole number."""
        if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= most:
            raise self.error(where, f"must be a whole number from {least} to {most}")
        return value
