"""Grades of magnets as the trade names them, with the range of remanence that each covers.

A shop sells "N42", not 1.3 T. Of the grades of neodymium the ranges are those that most sellers
print: common practice, no published source, written down from memory (a standard, IEC 60404-8-1,
knows these materials under other names and gives least values). Those of ferrite are from makers'
data sheets. The data sheet of the magnet at hand decides.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from fieldsim.machine.kinds import Quantity, problem

__all__ = ["GradedRemanence", "MagnetGrade", "Remanence", "magnet_grades"]


@dataclass(frozen=True)
class MagnetGrade:
    """A grade of magnet and the remanence that it stands for.

    Parameters
    ----------
    name
        As the trade has it: ``"N42"``.
    material
        In a word.
    least_T, most_T
        Remanence of what is sold under that name [T].
    source
        Where the range is from.
    """

    name: str
    material: str
    least_T: float
    most_T: float
    source: str

    @property
    def middle_T(self) -> float:
        """The remanence that is reckoned with: the middle of the range [T]."""
        return round((self.least_T + self.most_T) / 2, 4)


_TRADE = "common practice, no published source; from memory"
_SHEETS = "makers' data sheets"
_GRADES = tuple(
    MagnetGrade(name, "neodymium", least_T, most_T, _TRADE)
    for name, least_T, most_T in (
        ("N35", 1.17, 1.22),
        ("N38", 1.22, 1.25),
        ("N40", 1.25, 1.28),
        ("N42", 1.28, 1.32),
        ("N45", 1.32, 1.38),
        ("N48", 1.38, 1.42),
        ("N50", 1.40, 1.45),
        ("N52", 1.43, 1.48),
    )
) + tuple(
    MagnetGrade(name, "ferrite", least_T, most_T, _SHEETS)
    for name, least_T, most_T in (
        ("ferrite", 0.20, 0.42),  # of any grade
        ("Y10T", 0.20, 0.218),
        ("Y30", 0.38, 0.39),
        ("Y35", 0.40, 0.41),
    )
)
_BY_NAME = MappingProxyType({grade.name: grade for grade in _GRADES})
_BY_ANY_CASE = {name.lower(): grade for name, grade in _BY_NAME.items()}
_FOR_HEAT = re.compile(r"(n\d\d)\s?(?:m|h|sh|uh|eh|ah)")


def magnet_grades() -> Mapping[str, MagnetGrade]:
    """Return the grades that a file may name instead of a remanence, by name.

    Examples
    --------
    >>> grade = magnet_grades()["N42"]
    >>> grade.least_T, grade.middle_T, grade.most_T
    (1.28, 1.3, 1.32)
    """
    return _BY_NAME


class GradedRemanence(float):
    """The remanence of a grade [T], which equals the same number that no grade was given for.

    Parameters
    ----------
    grade
        What it stands for.
    """

    __slots__ = ("grade",)

    grade: MagnetGrade

    def __new__(cls, grade: MagnetGrade) -> GradedRemanence:
        """Return the middle of the grade's range."""
        made = super().__new__(cls, grade.middle_T)
        made.grade = grade
        return made

    def __getnewargs__(self) -> tuple[MagnetGrade]:  # type: ignore[override]
        """Return what a copy is made from."""
        return (self.grade,)


class Remanence(Quantity):
    """A flux density, or a grade of the trade, which is remembered for the file."""

    def __init__(self) -> None:
        super().__init__("flux density", "0.001 T", "2 T")

    def read(self, value: Any, in_file: bool) -> float:
        """Return the remanence [T]."""
        if isinstance(value, GradedRemanence):
            return value
        if not isinstance(value, str) or not value.strip()[:1].isalpha():
            return super().read(value, in_file)
        word = value.strip().lower()
        if word in _BY_ANY_CASE:
            return GradedRemanence(_BY_ANY_CASE[word])
        hint = ""
        if (heat := _FOR_HEAT.fullmatch(word)) is not None and heat[1] in _BY_ANY_CASE:
            hint = f'; write "{heat[1].upper()}": the letters after it tell what heat it bears'
        known = ", ".join(_BY_NAME)
        raise problem(
            f'"{value.strip()[:40]}" is no grade{hint or f" ({known})"}; a remanence is written '
            'like "1.2 T" or "12 kG"'
        )

    def written(self, value: float) -> str:
        """Return the grade where there is one, else the number with its unit."""
        return value.grade.name if isinstance(value, GradedRemanence) else super().written(value)

    @property
    def values(self) -> str:
        """What is allowed, for the table of keys."""
        return f"{super().values}, or a grade: {', '.join(f'`{name}`' for name in _BY_NAME)}"
