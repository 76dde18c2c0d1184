"""Magnets: shapes, how they are magnetised, and the directions of an arm."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum

from fieldsim.machine.frames import Vec3

__all__ = ["ArmAxis", "Cuboid", "Cylinder", "Magnet", "North", "Shape", "Sphere"]


class ArmAxis(Enum):
    """A direction fixed to the arm, as an index into arm coordinates (x, y, z)."""

    ARM = 0
    FORWARD = 1
    SHAFT = 2


class North(Enum):
    """Where a magnet's north pole points: arm axis index and sign."""

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
        return next(n for n in North if n.axis is self.axis and n.sign == -self.sign)


_NORTH = {
    North.PLUS_SHAFT: (ArmAxis.SHAFT, 1),
    North.MINUS_SHAFT: (ArmAxis.SHAFT, -1),
    North.OUT: (ArmAxis.ARM, 1),
    North.IN: (ArmAxis.ARM, -1),
    North.FORWARD: (ArmAxis.FORWARD, 1),
    North.BACK: (ArmAxis.FORWARD, -1),
}


@dataclass(frozen=True)
class Cuboid:
    """A block: ``size`` along the arm, across the arm and along the shaft [m]."""

    size: Vec3

    @property
    def volume_m3(self) -> float:
        """Volume [m3]."""
        return math.prod(self.size)


@dataclass(frozen=True)
class Cylinder:
    """A disc or rod: ``diameter`` and ``thickness`` [m]; ``axis`` is the arm axis it lies along."""

    diameter: float
    thickness: float
    axis: ArmAxis = ArmAxis.SHAFT

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


@dataclass(frozen=True)
class Sphere:
    """A ball of ``diameter`` [m]."""

    diameter: float

    @property
    def size(self) -> Vec3:
        """Edges of the smallest block around it [m]."""
        return (self.diameter, self.diameter, self.diameter)

    @property
    def volume_m3(self) -> float:
        """Volume [m3]."""
        return math.pi / 6 * self.diameter**3


Shape = Cuboid | Cylinder | Sphere


@dataclass(frozen=True)
class Magnet:
    """A kind of magnet: a shape, uniformly magnetised.

    Parameters
    ----------
    name
        Key in the file.
    shape
        Cuboid, cylinder or sphere.
    remanence
        Remanent flux density Br [T]; recoil permeability is taken as one.
    """

    name: str
    shape: Shape
    remanence: float

    @property
    def size(self) -> Vec3:
        """Edges of the smallest block around it, in arm axes [m]."""
        return self.shape.size
