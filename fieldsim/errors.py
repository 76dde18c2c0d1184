"""The errors that fieldsim raises for wrong input, in the lines that the command line prints."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

__all__ = [
    "MOST_TOLD",
    "FieldsimError",
    "FileTroubleError",
    "GeometryError",
    "ImpossibleError",
    "Place",
    "TooHardError",
    "together",
]

MOST_TOLD = 10  # things that are wrong with one file, at once


class FieldsimError(Exception):
    """What the user gave cannot be computed; told in lines fit to be shown, nearly always one."""

    @property
    def lines(self) -> tuple[str, ...]:
        """What is wrong, one thing a line."""
        return tuple(str(line) for line in self.args)

    @property
    def in_one_line(self) -> str:
        """All of them behind each other."""
        return "; ".join(" ".join(line.split()) for line in self.lines)

    def __str__(self) -> str:
        """Return the lines below each other."""
        return "\n".join(self.lines)


class ImpossibleError(FieldsimError):
    """The parts are well formed, but no such machine or request can exist."""


class TooHardError(ImpossibleError):
    """No hand can turn the machine."""


class FileTroubleError(FieldsimError):
    """A file could not be read or written."""


@dataclass(frozen=True)
class Place:
    """Where in a geometry file a value stands.

    Parameters
    ----------
    file
        The file's name as the user gave it.
    line
        Line number, counted from 1.
    key
        Dotted path of the key, for instance ``rotors.upper.magnets[0].radius``.
    """

    file: str
    line: int
    key: str

    def __str__(self) -> str:
        """Return ``file:line: key``, or ``file:line`` for the file as a whole."""
        return f"{self.file}:{self.line}: {self.key}" if self.key else f"{self.file}:{self.line}"


class GeometryError(FieldsimError):
    """A geometry file is wrong, at one known place or at several.

    Parameters
    ----------
    place
        File, line and key.
    problem
        What is wrong there and what is allowed, in one line.
    others
        What else is wrong with the file, in the order of its lines.
    """

    def __init__(self, place: Place, problem: str, others: Sequence[GeometryError] = ()) -> None:
        self.place = place
        self.problem = " ".join(problem.split())
        self.others = tuple(others)
        told = [str(other) for other in self.others[: MOST_TOLD - 1]]
        left = len(self.others) - len(told)
        more = [f"... and {left} more"] if left else []
        super().__init__(f"{place}: {self.problem}", *told, *more)


def together(errors: Sequence[GeometryError]) -> GeometryError:
    """Return several errors of a file as one, in the order of its lines.

    Parameters
    ----------
    errors
        At least one, in any order.
    """
    first, *others = sorted(errors, key=lambda error: error.place.line)
    return GeometryError(first.place, first.problem, others)
