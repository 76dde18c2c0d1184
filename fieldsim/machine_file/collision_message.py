"""Where in a file parts that run into each other stand."""

from __future__ import annotations

from pathlib import Path

from fieldsim.errors import FieldsimError, FileTroubleError, GeometryError, Place
from fieldsim.machine.clearance.collision_error import Collision, CollisionError
from fieldsim.machine_file.yaml_nodes import Document, load_document

__all__ = ["full_lines"]


def full_lines(error: FieldsimError) -> tuple[str, ...]:
    """Return an error's lines; of collisions with line and key in the file, and ways out.

    Parameters
    ----------
    error
        Of a machine as its file describes it.
    """
    if not isinstance(error, CollisionError):
        return error.lines
    document = _document(error.collisions[0].file)
    return (*(_line(found, document) for found in error.collisions), *error.more)


def _line(found: Collision, document: Document | None) -> str:
    """Return where a collision is, what it is, and a way out."""
    problem = f"{found.problem}; {found.way_out()}"
    place = _place(found, document)
    return f"{place}: {problem}" if place else problem


def _document(file: str) -> Document | None:
    """Return a file's content with its lines, or None if it cannot be read a second time."""
    path = Path(file)
    try:
        return load_document(path, file) if path.is_file() else None  # a pipe gives its text once
    except (FileTroubleError, GeometryError, OSError, ValueError):
        return None


def _place(found: Collision, document: Document | None) -> Place | str:
    """Return where the part stands, or the file alone if it is not the one that was read."""
    return document.place(found.key) if document else found.file
