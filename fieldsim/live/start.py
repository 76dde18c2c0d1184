"""The text that the page begins with."""

from __future__ import annotations

from pathlib import Path

from fieldsim.machine_file import starting
from fieldsim.machine_file.reader import read
from fieldsim.machine_file.writer import machine_text

__all__ = ["BEGINNINGS", "beginning", "starting_text"]

BEGINNINGS = ("single", "facing", "inside")
"""Kinds that the page can begin with, with gears and lamps; shipped machines beside them."""


def starting_text(file: str | None) -> str:
    """Return the text of a geometry file, or of a starting machine without one.

    Raises
    ------
    FileTroubleError, GeometryError
        If the file cannot be opened, or is wrong.
    """
    if file is None:
        return beginning("facing")
    machine = read(file)
    place = Path(file)
    # A pipe gives its text once.
    return place.read_text(encoding="utf-8-sig") if place.is_file() else machine_text(machine)


def beginning(kind: str) -> str:
    """Return the text of a machine to begin with; where it is not a shipped one, with lamps.

    Raises
    ------
    ImpossibleError
        If there is no such kind.
    """
    own = kind in BEGINNINGS
    return starting.starting_text(kind, gears=own, lamps=own)
