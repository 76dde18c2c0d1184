"""The error of parts that run into each other: which, where in the file, and a way out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from fieldsim.errors import FieldsimError, FileTroubleError, GeometryError, ImpossibleError, Place

__all__ = ["Collision", "CollisionError", "full_message"]


@dataclass(frozen=True)
class Collision:
    """Two parts that run into each other.

    Parameters
    ----------
    problem
        Which parts, and by how much they overlap.
    way_out
        Finds out what would free them; that takes longer than finding the collision.
    file
        The machine's file as the user named it, or empty.
    key
        Path of the part in the file, for instance ``("rotors", "upper")``.
    """

    problem: str
    way_out: Callable[[], str]
    file: str
    key: tuple[str, ...]


class CollisionError(ImpossibleError):
    """Parts run into each other.

    Its text is the problem alone: the machine may be a changed one, for which the way out of the
    file's own machine would be none. `full_message` tells all where the machine is the file's.
    """

    def __init__(self, collision: Collision) -> None:
        self.collision = collision
        file = collision.file
        super().__init__(f"{file}: {collision.problem}" if file else collision.problem)


def full_message(error: FieldsimError) -> str:
    """Return an error's text; of a collision with line and key in the file, and a way out.

    Parameters
    ----------
    error
        Of a machine as its file describes it.
    """
    if not isinstance(error, CollisionError):
        return str(error)
    found = error.collision
    problem = f"{found.problem}; {found.way_out()}"
    if not found.file:
        return problem
    place = _place(found)
    return f"{place}: {problem}" if place is not None else f"{found.file}: {problem}"


def _place(collision: Collision) -> Place | None:
    """Return where the part stands, or None if the file cannot be read a second time."""
    from fieldsim.machine_file.yaml_nodes import load_document

    path = Path(collision.file)
    try:
        if not path.is_file():  # a pipe gives its text once
            return None
        return load_document(path, collision.file).place(collision.key)
    except (FileTroubleError, GeometryError, OSError, ValueError):
        return None
