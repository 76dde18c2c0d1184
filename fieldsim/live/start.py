"""The text that the page begins with."""

from __future__ import annotations

from pathlib import Path

from fieldsim.machine_file.reader import read
from fieldsim.machine_file.writer import machine_text

__all__ = ["starting_text"]


def starting_text(file: str | None) -> str:
    """Return the text of a geometry file, or of a starting machine without one.

    Raises
    ------
    FileTroubleError, GeometryError
        If the file cannot be opened, or is wrong.
    """
    if file is None:
        raise NotImplementedError
    machine = read(file)
    try:
        return Path(file).read_text(encoding="utf-8-sig")
    except OSError:  # a pipe gives its text once
        return machine_text(machine)
