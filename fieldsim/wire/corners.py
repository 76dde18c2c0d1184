"""How turns go round the corners of an opening, and what that makes of their length."""

from __future__ import annotations

import math
from enum import Enum

__all__ = ["Corners"]


class Corners(Enum):
    """Corners of the turns of a rectangular winding.

    ::

        sharp               round: the turn at depth u is bent with radius u
        .------.   ---       .----.
        |      |    | u     /      |
        |  o   |   ---      |  o   |    o: corner of the opening

    A layer follows the one below it, and the innermost the sharp edge of the former, so the bends
    of all turns have that edge as their centre. A former with rounded edges bends them wider.
    """

    SHARP = "sharp"
    ROUND = "round"

    @property
    def growth(self) -> float:
        """By how much longer a turn is than the way around the opening, over its depth.

        Examples
        --------
        >>> Corners.SHARP.growth, round(Corners.ROUND.growth, 4)
        (8.0, 6.2832)
        """
        return 8.0 if self is Corners.SHARP else 2 * math.pi

    def area_m2(self, opening_m: tuple[float, float], depth_m: float) -> float:
        """Return the area inside a turn at a depth.

        Examples
        --------
        >>> Corners.SHARP.area_m2((2.0, 1.0), 1.0), round(Corners.ROUND.area_m2((2.0, 1.0), 1.0), 4)
        (12.0, 11.1416)
        """
        a, b = opening_m
        return a * b + 2 * (a + b) * depth_m + self.growth / 2 * depth_m**2
