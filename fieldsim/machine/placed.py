"""Parts as they stand in space, all in SI units: what fields and distances are computed from.

Frames and signs
----------------
A rotor's angle grows right-handed about its shaft's ``along``; with a negative gear ratio it falls
when the crank turns forward. At a magnet the arm axes are x outward along the arm, y forward (the
way it moves when the angle grows) and z along the shaft::

          y forward
          |
          |      .-----------.
    shaft o------|  magnet   |---> x outward        z = along, towards the reader
                 '-----------'

A coil's turns run right-handed about its ``axis``; linkage is positive along it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from fieldsim.errors import ImpossibleError
from fieldsim.machine.demagnetising import demagnetising_factor
from fieldsim.machine.frames import Vec3, cross, frame_matrix, perpendicular_part, unit
from fieldsim.machine.magnets import Magnet, North
from fieldsim.machine.part import replaced
from fieldsim.machine.shaft import Shaft
from fieldsim.wire.corners import Corners

if TYPE_CHECKING:
    from fieldsim.machine.iron import IronShape
    from fieldsim.machine.materials import Material

__all__ = ["PlacedCoil", "PlacedIron", "PlacedMagnet", "PlacedRotor"]


@dataclass(frozen=True)
class PlacedMagnet:
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

    @cached_property
    def strength_T(self) -> float:
        """Polarisation along its arm axis, with its sign [T].

        Its own field leaves ``Br/(1 + N (mu - 1))`` of the remanence, N being the demagnetising
        factor and mu the recoil permeability: what other parts do to it is left out.
        """
        magnet, sign = self.magnet, self.north.sign
        if magnet.recoil_permeability == 1.0:
            return sign * magnet.remanence
        factor = demagnetising_factor(magnet.shape, self.north.axis.value)
        return sign * magnet.remanence / (1 + factor * (magnet.recoil_permeability - 1))

    @property
    def polarization_T(self) -> Vec3:
        """Polarisation as a vector in arm axes [T]."""
        vector = [0.0, 0.0, 0.0]
        vector[self.north.axis.value] = self.strength_T
        return (vector[0], vector[1], vector[2])


@dataclass(frozen=True)
class PlacedRotor:
    """Magnets on arms about one shaft.

    Parameters
    ----------
    name
        Key in the file.
    shaft
        The line it turns about; its angle grows right-handed about ``shaft.along``.
    zero
        Where the arm points at rotor angle 0; made a unit vector perpendicular to the shaft.
    magnets
        The mounted magnets.
    gear_ratio
        Rotor turns per crank turn, exact; negative turns the other way.
    start
        Rotor angle at crank angle 0 [rad].
    """

    name: str
    shaft: Shaft
    zero: Vec3
    magnets: tuple[PlacedMagnet, ...]
    gear_ratio: Fraction = Fraction(1)
    start: float = 0.0

    def __post_init__(self) -> None:
        object.__setattr__(self, "zero", perpendicular_part(self.zero, self.shaft.along))
        object.__setattr__(self, "gear_ratio", Fraction(self.gear_ratio))

    @property
    def frame(self) -> NDArray[np.float64]:
        """(3, 3) matrix from rotor coordinates at angle 0 to global: columns zero, forward, along.

        Examples
        --------
        >>> rotor = PlacedRotor("r", Shaft((0, 0, 0), (0, 0, 1)), (1, 0, 0), ())
        >>> rotor.frame[:, 1].tolist()
        [0.0, 1.0, 0.0]
        """
        return frame_matrix(self.zero, self.shaft.along)

    @cached_property
    def tracks(self) -> tuple[PlacedMagnet, ...]:
        """One magnet for each different track that its magnets sweep, their angles left out."""
        found = {(m.magnet.shape, m.radius, m.height): m for m in self.magnets}
        return tuple(found.values())

    def raised(self, distance: float) -> PlacedRotor:
        """Return the rotor moved along its shaft by ``distance`` [m]."""
        t, a = self.shaft.through, self.shaft.along
        through = (t[0] + distance * a[0], t[1] + distance * a[1], t[2] + distance * a[2])
        return replace(self, shaft=replaced(self.shaft, through=through))


@dataclass(frozen=True)
class PlacedIron:
    """A piece of iron.

    Parameters
    ----------
    name
        Key in the file, or what a core is called after its coil.
    shape
        `Rod`, `Tube`, `Disc`, `Block` or `Ball`.
    centre
        Its middle, at rotor angle 0 if it turns [m].
    axis
        Unit vector along a rod, tube or disc, and along the third edge of a block.
    side
        Unit vector at right angles to it, along the first edge of a block.
    material
        What it is made of.
    rotor
        The rotor that it turns with, about whose shaft it is round; empty if it stands still.
    coil
        The coil whose core it is; empty for others.
    """

    name: str
    shape: IronShape
    centre: Vec3
    axis: Vec3
    side: Vec3
    material: Material
    rotor: str = ""
    coil: str = ""

    @property
    def frame(self) -> NDArray[np.float64]:
        """(3, 3) matrix from the piece's coordinates to global: columns side, axis x side, axis."""
        return frame_matrix(self.side, self.axis)


@dataclass(frozen=True)
class PlacedCoil:
    """A rectangular winding of uniform turn density.

    Parameters
    ----------
    name
        Key in the file.
    centre
        Of the winding [m].
    axis
        Made a unit vector; turns run right-handed about it.
    side
        Along the first dimension of ``opening``; made a unit vector perpendicular to ``axis``.
    opening
        Inside of the winding, along ``side`` and along ``axis x side`` [m].
    length
        Of the winding along the axis [m].
    build
        Thickness of the winding from inside to outside [m].
    turns
        Number of turns; not need be whole, so that part turns can be studied.
    corners
        Of the turns: sharp, or each bent with its distance from the opening as radius.

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
    corners: Corners = Corners.SHARP

    def __post_init__(self) -> None:
        axis = unit(self.axis)
        object.__setattr__(self, "axis", axis)
        object.__setattr__(self, "side", perpendicular_part(self.side, axis))
        for name, value in (
            ("opening", min(self.opening)),
            ("length", self.length),
            ("build", self.build),
            ("turns", self.turns),
        ):
            if not 0 <= value < math.inf:
                raise ImpossibleError(f'coil "{self.name}": {name} {value:g} must be above zero')

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
        """Length of the turn in the middle of the build [m]."""
        return 2 * (self.opening[0] + self.opening[1]) + self.corners.growth * self.build / 2

    @property
    def mean_turn_area_m2(self) -> float:
        """Area inside the turns, averaged over the build [m2]."""
        a, b, t = self.opening[0], self.opening[1], self.build
        return a * b + (a + b) * t + self.corners.growth / 2 * t**2 / 3
