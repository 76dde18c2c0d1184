"""How well the values of a machine are known: the ``uncertain`` section of a file."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from pydantic_core import PydanticCustomError

from fieldsim.machine.kinds import Kind, Quantity, problem
from fieldsim.machine.units import KINDS, parse_quantity

__all__ = ["DEFAULTS", "GiveOrTake", "GiveOrTakes"]

DEFAULTS = {
    "remanence": "5 %",
    "clearance": "0.5 mm",
    "turns": "2 %",
    "build": "10 %",
    "lamp voltage": "0.1 V",
    "crank speed": "10 %",
}
"""Give or take where a file says nothing: common practice, no published source."""

_SHARE = re.compile(r"[\d.]")


@dataclass(frozen=True)
class GiveOrTake:
    """By how much a value may be larger or smaller than it is stated.

    Parameters
    ----------
    path
        Of the value, as `fieldsim.parameters` lists it, or ``crank_speed``.
    text
        ``"5 %"`` of the value, or an amount with unit such as ``"0.5 mm"``.
    """

    path: str
    text: str

    def amount(self, value: float, unit: str) -> float:
        """Return the amount in the unit of the value.

        Parameters
        ----------
        value, unit
            Of the parameter, in SI units; no unit for a count or ratio.

        Raises
        ------
        ValueError
            If the text does not say an amount of such a unit that is above zero.

        Examples
        --------
        >>> GiveOrTake("clearance", "0.5 mm").amount(0.002, "m")
        0.0005
        >>> GiveOrTake("coils.pickup.turns", "2 %").amount(900, "")
        18.0
        """
        if self.text.rstrip().endswith("%"):
            amount = abs(value) * parse_quantity(self.text, "fraction")
        elif not unit:
            try:
                amount = float(self.text)
            except ValueError:
                raise ValueError(f'"{self.text}" is not a plain number or a share in %') from None
        else:
            kind = next((name for name, kind in KINDS.items() if kind.unit == unit), None)
            if kind is None:
                raise ValueError("only a value with a number can be uncertain")
            amount = parse_quantity(self.text, kind)
            if kind == "temperature" and not self.text.rstrip().endswith("K"):
                amount -= parse_quantity("0 degC", kind)  # a difference has no zero
        if not 0 < amount < float("inf"):
            raise ValueError(f'"{self.text}" must be above zero: it is give or take')
        return amount


class GiveOrTakes(Kind):
    """Amounts by path."""

    _share = Quantity("fraction", "0.01 %", "100 %")
    _most = 100

    def read(self, value: Any, in_file: bool) -> tuple[GiveOrTake, ...]:
        """Return the amounts, in order; whether the paths are the machine's is not known here."""
        if isinstance(value, tuple) and all(isinstance(each, GiveOrTake) for each in value):
            return value
        if not isinstance(value, dict) or (in_file and not value):
            raise problem("must hold paths with amounts, like clearance: 0.5 mm")
        if len(value) > self._most:
            raise problem(f"has {len(value)} paths; at most {self._most} are allowed")
        return tuple(self._amount(str(path), text) for path, text in value.items())

    def _amount(self, path: str, text: Any) -> GiveOrTake:
        if isinstance(text, bool) or not isinstance(text, str | int | float):
            raise problem("is no amount; write a share like 5 %, or one with a unit", path)
        shown = str(text).strip()
        if not _SHARE.match(shown):
            raise problem(f'"{shown[:40]}" is no amount; write 5 %, or one with a unit', path)
        if shown.endswith("%"):
            try:
                self._share.read(shown, in_file=True)
            except PydanticCustomError as error:
                raise problem(error.message(), path) from None
        return GiveOrTake(path, shown)

    def written(self, value: tuple[GiveOrTake, ...]) -> dict[str, str]:
        """Return the amounts by path."""
        return {each.path: each.text for each in value}

    def plain(self, value: tuple[GiveOrTake, ...]) -> dict[str, str]:
        """Return the amounts by path."""
        return self.written(value)

    @property
    def values(self) -> str:
        """What is allowed, for the table of keys."""
        return "paths with `5 %` or an amount like `0.5 mm`"
