"""The line that a rotor turns about."""

from __future__ import annotations

from typing import Annotated

from fieldsim.machine.frames import Vec3
from fieldsim.machine.kinds import Direction, Quantity, Vector
from fieldsim.machine.part import Part, part, says

__all__ = ["POSITION", "Shaft"]

POSITION = Vector(Quantity("length", "-10 m", "10 m"), 3, "[0 mm, 0 mm, 0 mm]")
"""A point in space."""


@part
class Shaft(Part):
    """A line in space with a sense: a rotor's angle grows right-handed about it.

    Examples
    --------
    >>> Shaft(through=(0, 0, 0), along=(0, 0, 2)).along
    (0.0, 0.0, 1.0)
    """

    through: Annotated[Vec3, POSITION, says("a point of the shaft line", "1 mm")]
    along: Annotated[Vec3, Direction(), says("which way the shaft points")]
