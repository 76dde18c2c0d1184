"""The line that a rotor turns about."""

from __future__ import annotations

import math
from typing import Annotated

from fieldsim.machine.frames import Vec3, cross, dot
from fieldsim.machine.kinds import Direction, Quantity, Vector
from fieldsim.machine.part import Part, part, says

__all__ = ["POSITION", "Shaft"]

POSITION = Vector(Quantity("length", "-10 m", "10 m"), 3, "[0 mm, 0 mm, 0 mm]")
"""A point in space."""

_SAME_LINE = 1e-9  # in metres and in sines: what rounding makes of one line


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

    def sense_of(self, through: Vec3, along: Vec3) -> int:
        """Return 1 or -1 if a line is this one, pointing as it does or opposed; else 0.

        Parameters
        ----------
        through
            A point of the line [m].
        along
            Its direction, of length one.

        Examples
        --------
        >>> Shaft((0, 0, 0), (0, 0, 1)).sense_of((0.0, 0.0, 0.1), (0.0, 0.0, -1.0))
        -1
        """
        between = (
            through[0] - self.through[0], through[1] - self.through[1], through[2] - self.through[2]
        )  # fmt: skip
        beside = math.hypot(*cross(between, self.along))
        if max(beside, math.hypot(*cross(along, self.along))) > _SAME_LINE:
            return 0
        return 1 if dot(along, self.along) > 0 else -1

    def is_on_line_of(self, other: Shaft) -> bool:
        """Return whether both lie on one line, whichever way they point."""
        return self.sense_of(other.through, other.along) != 0
