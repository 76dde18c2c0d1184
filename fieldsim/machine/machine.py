"""The described machine: magnets, rotors, coils, as immutable objects in SI units.

Frames and signs
----------------
A rotor turns right-handed about its shaft's ``along``. At a magnet the arm axes are x outward
along the arm, y forward (the way it moves when the angle grows) and z along the shaft::

          y forward
          |
          |      .-----------.
    shaft o------|  magnet   |---> x outward        z = along, towards the reader
                 '-----------'

A coil's turns run right-handed about its ``axis``; linkage is positive along it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from enum import Enum
from fractions import Fraction
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from fieldsim.machine.frames import Vec3, cross, frame_matrix, perpendicular_part, unit

if TYPE_CHECKING:
    from os import PathLike

    from fieldsim.machine.fittings import Fittings

__all__ = [
    "ArmAxis",
    "Coil",
    "Cuboid",
    "Cylinder",
    "Geometry",
    "Magnet",
    "MountedMagnet",
    "North",
    "Rotor",
    "Shaft",
    "Sphere",
]


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


@dataclass(frozen=True)
class MountedMagnet:
    """A magnet on an arm.

    Parameters
    ----------
    magnet
        The kind of magnet.
    radius
        From the shaft line outward to the magnet's centre [m].
    angle
        Of the arm, from the rotor's ``zero`` direction [rad].
    height
        Along the shaft from ``through`` to the magnet's centre [m].
    north
        Where its magnetisation points.
    """

    magnet: Magnet
    radius: float
    angle: float
    height: float
    north: North

    @property
    def polarization_T(self) -> Vec3:
        """Remanence as a vector in arm axes [T]."""
        vector = [0.0, 0.0, 0.0]
        vector[self.north.axis.value] = self.north.sign * self.magnet.remanence
        return (vector[0], vector[1], vector[2])


@dataclass(frozen=True)
class Shaft:
    """A line in space: ``through`` a point [m], ``along`` a unit vector."""

    through: Vec3
    along: Vec3


@dataclass(frozen=True)
class Rotor:
    """Magnets on arms about one shaft.

    Parameters
    ----------
    name
        Key in the file.
    shaft
        The line it turns about, right-handed about ``shaft.along``.
    zero
        Where the arm points at rotor angle 0: a unit vector perpendicular to the shaft.
    gear_ratio
        Rotor turns per crank turn, exact; negative turns the other way.
    start
        Rotor angle at crank angle 0 [rad].
    magnets
        The mounted magnets, in the order of the file.
    """

    name: str
    shaft: Shaft
    zero: Vec3
    gear_ratio: Fraction
    start: float
    magnets: tuple[MountedMagnet, ...]

    @property
    def frame(self) -> NDArray[np.float64]:
        """(3, 3) matrix from rotor coordinates at angle 0 to global: columns zero, forward, along.

        Examples
        --------
        >>> rotor = Rotor("r", Shaft((0, 0, 0), (0, 0, 1)), (1, 0, 0), Fraction(1), 0.0, ())
        >>> rotor.frame[:, 1].tolist()
        [0, 1, 0]
        """
        return frame_matrix(self.zero, self.shaft.along)

    def raised(self, distance: float) -> Rotor:
        """Return the rotor moved along its shaft by ``distance`` [m]."""
        t, a = self.shaft.through, self.shaft.along
        through = (t[0] + distance * a[0], t[1] + distance * a[1], t[2] + distance * a[2])
        return replace(self, shaft=replace(self.shaft, through=through))


@dataclass(frozen=True)
class Coil:
    """A rectangular winding of uniform turn density with sharp corners.

    Parameters
    ----------
    name
        Key in the file.
    centre
        Of the winding [m].
    axis
        Unit vector; turns run right-handed about it.
    side
        Unit vector along the first dimension of ``opening``, perpendicular to ``axis``.
    opening
        Inside of the winding, along ``side`` and along ``axis x side`` [m].
    length
        Of the winding along the axis [m].
    build
        Thickness of the winding from inside to outside [m].
    turns
        Number of turns; not need be whole, so that part turns can be studied.

    Notes
    -----
    Seen against the axis (axis towards the reader)::

        .---------------------.   ---
        |  .---------------.  |    | build
        |  |    opening    |  |   ---
        |  |       o-------|--|---> side
        |  '---------------'  |
        '---------------------'   current: counter-clockwise
    """

    name: str
    centre: Vec3
    axis: Vec3
    side: Vec3
    opening: tuple[float, float]
    length: float
    build: float
    turns: float

    @property
    def other_side(self) -> Vec3:
        """Unit vector ``axis x side``, along the second dimension of ``opening``."""
        return cross(self.axis, self.side)

    @property
    def frame(self) -> NDArray[np.float64]:
        """(3, 3) matrix from coil coordinates to global: columns side, axis x side, axis."""
        return frame_matrix(self.side, self.axis)

    @property
    def mean_turn_m(self) -> float:
        """Length of the turn in the middle of the build, with sharp corners [m]."""
        return 2 * (self.opening[0] + self.opening[1]) + 4 * self.build

    @property
    def mean_turn_area_m2(self) -> float:
        """Area inside the turns, averaged over the build [m2]."""
        a, b, t = self.opening[0], self.opening[1], self.build
        return a * b + (a + b) * t + 4 * t**2 / 3


@dataclass(frozen=True)
class Geometry:
    """A whole machine in free space.

    Parameters
    ----------
    title
        Free text.
    magnets, rotors, coils
        The parts, in the order of the file.
    fittings
        Wire, load, gears and so on, where the machine was read from a file.
    file
        Name of the file it was read from, or empty.
    """

    title: str
    magnets: tuple[Magnet, ...]
    rotors: tuple[Rotor, ...]
    coils: tuple[Coil, ...]
    fittings: Fittings | None = field(default=None, compare=False)
    file: str = field(default="", compare=False)

    @classmethod
    def from_file(cls, path: str | PathLike[str]) -> Geometry:
        """Read and check a YAML geometry; see `fieldsim.machine_file.reader.read_geometry`."""
        from fieldsim.machine_file.reader import read_geometry

        return read_geometry(path)

    def rotor(self, name: str) -> Rotor:
        """Return the rotor of that name.

        Raises
        ------
        KeyError
            If there is none.
        """
        return {r.name: r for r in self.rotors}[name]

    def coil(self, name: str) -> Coil:
        """Return the coil of that name.

        Raises
        ------
        KeyError
            If there is none.
        """
        return {c.name: c for c in self.coils}[name]

    def with_rotors(self, rotors: tuple[Rotor, ...]) -> Geometry:
        """Return the machine with other rotors."""
        return replace(self, rotors=rotors)

    def to_magpylib(self, crank_angle_rad: float = 0.0) -> Any:
        """Return the machine as a magpylib collection; see `fieldsim.field.magpylib_machine`."""
        from fieldsim.field.magpylib_machine import magpylib_collection

        return magpylib_collection(self, crank_angle_rad)


def make_shaft(through: Vec3, along: Vec3) -> Shaft:
    """Return a shaft with ``along`` scaled to length one.

    Raises
    ------
    ValueError
        If ``along`` is zero or not finite.
    """
    return Shaft(through, unit(along))


def make_rotor(
    name: str,
    shaft: Shaft,
    zero: Vec3,
    magnets: tuple[MountedMagnet, ...],
    gear_ratio: Fraction | int = 1,
    start: float = 0.0,
) -> Rotor:
    """Return a rotor whose ``zero`` is made perpendicular to the shaft.

    Raises
    ------
    ValueError
        If ``zero`` is zero or parallel to the shaft.
    """
    zero = perpendicular_part(zero, shaft.along)
    return Rotor(name, shaft, zero, Fraction(gear_ratio), start, magnets)


def make_coil(
    name: str,
    centre: Vec3,
    axis: Vec3,
    side: Vec3,
    opening: tuple[float, float],
    length: float,
    build: float,
    turns: float,
) -> Coil:
    """Return a coil with ``axis`` scaled to length one and ``side`` made perpendicular to it.

    Raises
    ------
    ValueError
        If a direction is zero, or ``side`` is parallel to ``axis``.
    """
    axis = unit(axis)
    return Coil(name, centre, axis, perpendicular_part(side, axis), opening, length, build, turns)
