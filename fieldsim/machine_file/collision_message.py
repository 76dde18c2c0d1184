"""Where in a file parts that run into each other stand."""

from __future__ import annotations

from pathlib import Path

from fieldsim.errors import FieldsimError, FileTroubleError, GeometryError, Place
from fieldsim.machine.clearance.collision_error import Collision, CollisionError
from fieldsim.machine_file.yaml_nodes import load_document

__all__ = ["full_lines"]


def full_lines(error: FieldsimError) -> tuple[str, ...]:
    """Return an error's lines; of a collision with line and key in the file, and a way out.

    Parameters
    ----------
    error
        Of a machine as its file describes it.
    """
    if not isinstance(error, CollisionError):
        return error.lines
    found = error.collision
    problem = f"{found.problem}; {found.way_out()}"
    if not found.file:
        return (problem,)
    return (f"{_place(found) or found.file}: {problem}",)


def _place(collision: Collision) -> Place | None:
    """Return where the part stands, or None if the file cannot be read a second time."""
    path = Path(collision.file)
    try:
        if not path.is_file():  # a pipe gives its text once
            return None
        return load_document(path, collision.file).place(collision.key)
    except (FileTroubleError, GeometryError, OSError, ValueError):
        return None
