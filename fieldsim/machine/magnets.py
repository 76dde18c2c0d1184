"""Magnets: shapes, how they are magnetised, and the directions of an arm."""

from __future__ import annotations

import math
from enum import Enum
from typing import Annotated, ClassVar

from fieldsim.machine.frames import Vec3
from fieldsim.machine.kinds import Member, Name, Number, Quantity, Vector
from fieldsim.machine.magnet_grades import GradedRemanence, Remanence
from fieldsim.machine.part import Inline, Part, part, says

__all__ = ["NORTH", "ArmAxis", "Cuboid", "Cylinder", "Magnet", "North", "Shape", "Sphere"]


class ArmAxis(Enum):
    """A direction fixed to the arm, as an index into arm coordinates (x, y, z).

    ``FORWARD`` is the way in which the rotor's angle grows.
    """

    ARM = 0
    FORWARD = 1
    SHAFT = 2


class North(Enum):
    """Where a magnet's north pole points: arm axis index and sign.

    ``FORWARD`` is the way in which the rotor's angle grows. A rotor with a negative gear ratio
    moves the other way when the crank turns forward.
    """

    PLUS_SHAFT = "+shaft"
    MINUS_SHAFT = "-shaft"
    OUT = "out"
    IN = "in"
    FORWARD = "forward"
    BACK = "back"

    @property
    def axis(self) -> ArmAxis:
        """The arm axis that the magnetisation lies along."""
        return _NORTH[self][0]

    @property
    def sign(self) -> int:
        """``+1`` along the arm axis, ``-1`` against it."""
        return _NORTH[self][1]

    @property
    def reversed(self) -> North:
        """The opposite direction."""
        return _REVERSED[self]


_NORTH = {
    North.PLUS_SHAFT: (ArmAxis.SHAFT, 1),
    North.MINUS_SHAFT: (ArmAxis.SHAFT, -1),
    North.OUT: (ArmAxis.ARM, 1),
    North.IN: (ArmAxis.ARM, -1),
    North.FORWARD: (ArmAxis.FORWARD, 1),
    North.BACK: (ArmAxis.FORWARD, -1),
}

_REVERSED = {
    one: other
    for one, (axis, sign) in _NORTH.items()
    for other, opposed in _NORTH.items()
    if opposed == (axis, -sign)
}


NORTH = Member({north.value: north for north in North})
"""The words for directions of an arm."""

_ARM_AXIS = Member(
    {axis.name.lower(): axis for axis in (ArmAxis.SHAFT, ArmAxis.ARM, ArmAxis.FORWARD)}
)
_EDGE = Quantity("length", "0.1 mm", "1 m")
_Edge = Annotated[float, _EDGE]


@part
class Cuboid(Part):
    """A block.

    Examples
    --------
    >>> round(Cuboid((0.02, 0.01, 0.005)).volume_m3, 12)
    1e-06
    """

    size: Annotated[
        Vec3,
        Vector(_EDGE, 3, "[20 mm, 10 mm, 5 mm]"),
        says("along the arm, across the arm, along the shaft", "1 mm", "needed for a block"),
    ]

    @property
    def volume_m3(self) -> float:
        """Volume [m3]."""
        return math.prod(self.size)


@part
class Cylinder(Part):
    """A disc or rod, magnetised along its axis or across it."""

    diameter: Annotated[
        _Edge, says("of the disc, cylinder or ball", "1 mm", "needed for all but a block")
    ]
    thickness: Annotated[_Edge, says("along its own axis", "1 mm", "needed for disc and cylinder")]
    axis: Annotated[ArmAxis, _ARM_AXIS, says("where the axis of a disc or cylinder points")] = (
        ArmAxis.SHAFT
    )

    @property
    def size(self) -> Vec3:
        """Edges of the smallest block around it, in arm axes [m]."""
        return tuple(  # type: ignore[return-value]
            self.thickness if i == self.axis.value else self.diameter for i in range(3)
        )

    @property
    def volume_m3(self) -> float:
        """Volume [m3]."""
        return math.pi / 4 * self.diameter**2 * self.thickness


@part
class Sphere(Part):
    """A ball."""

    diameter: Annotated[
        _Edge, says("of the disc, cylinder or ball", "1 mm", "needed for all but a block")
    ]

    @property
    def size(self) -> Vec3:
        """Edges of the smallest block around it [m]."""
        return (self.diameter, self.diameter, self.diameter)

    @property
    def volume_m3(self) -> float:
        """Volume [m3]."""
        return math.pi / 6 * self.diameter**3


Shape = Cuboid | Cylinder | Sphere


@part
class Magnet(Part):
    """A kind of magnet: a shape, uniformly magnetised, and rigid from then on.

    Examples
    --------
    >>> Magnet("bar", Cuboid((0.02, 0.01, 0.005)), 1.2).size
    (0.02, 0.01, 0.005)
    >>> bought = Magnet("bar", Cuboid((0.02, 0.01, 0.005)), "N42")
    >>> bought.remanence, bought.remanence_range_T
    (1.3, (1.28, 1.32))
    """

    identity: ClassVar[str] = "name"

    name: Annotated[str, Name(), says("as the rotors call it")]
    shape: Annotated[
        Shape,
        Inline(
            {"block": Cuboid, "disc": Cylinder, "cylinder": Cylinder, "sphere": Sphere},
            "block",
            "magnet",
        ),
        says("`disc` and `cylinder` mean the same"),
    ]
    remanence: Annotated[float, Remanence(), says("strength of the material", "10 %")]
    recoil_permeability: Annotated[
        float,
        Number(1, 5),
        says(
            "by how much its own field weakens it; about 1.05 for neodymium and ferrite (common "
            "practice)",
            "1 %",
        ),
    ] = 1.0

    @property
    def size(self) -> Vec3:
        """Edges of the smallest block around it, in arm axes [m]."""
        return self.shape.size

    @property
    def grade(self) -> str:
        """The grade of the trade that its remanence was given as, or empty."""
        return self.remanence.grade.name if isinstance(self.remanence, GradedRemanence) else ""

    @property
    def remanence_range_T(self) -> tuple[float, float]:
        """Least and greatest remanence that its grade covers; without one twice the number [T]."""
        if isinstance(self.remanence, GradedRemanence):
            return self.remanence.grade.least_T, self.remanence.grade.most_T
        return self.remanence, self.remanence
