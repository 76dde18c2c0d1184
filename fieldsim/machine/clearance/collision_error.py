"""The error of parts that run into each other: which, where in the file, and a way out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from fieldsim.errors import MOST_TOLD, ImpossibleError

__all__ = ["Collision", "CollisionError"]


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
    """Parts run into each other, two or more.

    Parameters
    ----------
    collisions
        At least one; the first `MOST_TOLD` are told.

    Notes
    -----
    Its text is the problem alone: the machine may be a changed one, for which the way out of the
    file's own machine would be none. `fieldsim.machine_file.collision_message.full_lines` tells
    all where the machine is the file's.
    """

    def __init__(self, *collisions: Collision) -> None:
        self.collisions = collisions[:MOST_TOLD]
        self.more = ("... and more",) if len(collisions) > MOST_TOLD else ()
        told = (f"{c.file}: {c.problem}" if c.file else c.problem for c in self.collisions)
        super().__init__(*told, *self.more)
