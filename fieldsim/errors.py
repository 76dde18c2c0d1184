"""The errors that fieldsim raises for wrong input; the command line prints each as one line."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = [
    "FieldsimError",
    "FileTroubleError",
    "GeometryError",
    "ImpossibleError",
    "Place",
    "TooHardError",
]


class FieldsimError(Exception):
    """What the user gave cannot be computed; the message is one line fit to be shown."""


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
    """A geometry file is wrong at a known place.

    Parameters
    ----------
    place
        File, line and key.
    problem
        What is wrong and what is allowed, in one line.
    """

    def __init__(self, place: Place, problem: str) -> None:
        self.place = place
        self.problem = " ".join(problem.split())
        super().__init__(f"{place}: {self.problem}")
