"""Rotors: magnets on arms about a shaft, as a builder describes them."""

from __future__ import annotations

import math
from collections.abc import Mapping
from fractions import Fraction
from typing import Annotated, ClassVar, Literal

from fieldsim.machine.frames import Vec3, perpendicular_part
from fieldsim.machine.kinds import Choice, Direction, Name, Quantity, Ratio, Whole, problem
from fieldsim.machine.magnets import NORTH, Magnet, North
from fieldsim.machine.part import ListOf, Part, part, says
from fieldsim.machine.placed import PlacedMagnet, PlacedRotor
from fieldsim.machine.shaft import Shaft

__all__ = ["Mount", "Rotor"]

_MOST_MOUNTS = 200  # magnets on one rotor: far beyond any made by hand
_ANGLE = Quantity("angle", "-1000 turn", "1000 turn")


@part
class Mount(Part):
    """A magnet on an arm, or ``count`` of them evenly around.

    Examples
    --------
    >>> Mount("bar", radius=0.026, height=0.0095, north=North.PLUS_SHAFT, count=4).poles
    'alternating'
    """

    magnet: Annotated[str, Name(), says("kind of magnet", values="a name under `magnets`")]
    radius: Annotated[
        float,
        Quantity("length", "0 m", "10 m"),
        says("from the shaft line to the magnet's centre", "1 mm"),
    ]
    height: Annotated[
        float,
        Quantity("length", "-10 m", "10 m"),
        says("of the centre along the shaft, from `through`", "1 mm"),
    ]
    north: Annotated[
        North,
        NORTH,
        says("where the north pole points; `forward` is the way the rotor's angle grows"),
    ]
    angle: Annotated[float, _ANGLE, says("of the arm, from `zero`", "5 deg", values="an angle")] = (
        0.0
    )
    count: Annotated[
        int, Whole(1, _MOST_MOUNTS), says("so many evenly around, the first at `angle`", "1")
    ] = 1
    poles: Annotated[
        Literal["alternating", "same"],
        Choice("alternating", "same"),
        says("of neighbours if `count` is above 1; alternating needs an even count"),
    ] = "alternating"

    def check_together(self, in_file: bool) -> None:
        """Refuse an odd number of magnets that are to alternate."""
        if self.poles == "alternating" and self.count > 1 and self.count % 2:
            raise problem(
                f"{self.count} magnets cannot alternate around a circle; give an even count, or "
                '"poles: same"',
                "count",
            )

    def placed(self, magnet: Magnet) -> tuple[PlacedMagnet, ...]:
        """Return its magnets, each on its arm."""
        return tuple(
            PlacedMagnet(
                magnet,
                self.radius,
                self.angle + 2 * math.pi * i / self.count,
                self.height,
                self.north.reversed if self.poles == "alternating" and i % 2 else self.north,
            )
            for i in range(self.count)
        )


@part
class Rotor(Part):
    """Magnets that turn together about one shaft.

    Examples
    --------
    >>> from fieldsim.machine.shaft import Shaft
    >>> mount = Mount("bar", radius=0.026, height=0.0095, north=North.PLUS_SHAFT, count=4)
    >>> Rotor("upper", Shaft((0, 0, 0), (0, 0, 1)), zero=(0, 1, 0), magnets=(mount,)).gear_ratio
    """

    identity: ClassVar[str] = "name"

    name: Annotated[str, Name(), says("as results call it")]
    shaft: Annotated[Shaft, says("what it turns about", values="keys below")]
    zero: Annotated[
        Vec3,
        Direction(),
        says("where the arm points at rotor angle 0; not along the shaft"),
    ]
    magnets: Annotated[
        tuple[Mount, ...],
        ListOf("magnet", _MOST_MOUNTS),
        says("where the magnets sit", values=f"a list; up to {_MOST_MOUNTS} on a rotor"),
    ]
    gear_ratio: (
        Annotated[
            Fraction,
            Ratio(),
            says(
                "rotor turns per crank turn; negative: its angle falls as the crank turns",
                "10 %",
                "1; with `gears`, what the wheels make",
            ),
        ]
        | None
    ) = None
    start: Annotated[
        float, _ANGLE, says("rotor angle at crank angle 0", "5 deg", values="an angle")
    ] = 0.0

    def check_together(self, in_file: bool) -> None:
        """Refuse too many magnets; make the arm square to the shaft."""
        count = sum(mount.count for mount in self.magnets)
        if count > _MOST_MOUNTS:
            raise problem(f"{count} magnets on a rotor; at most {_MOST_MOUNTS}", "magnets")
        try:
            zero = perpendicular_part(self.zero, self.shaft.along)
        except ValueError:
            raise problem("is parallel to the shaft; it must stand off from it", "zero") from None
        object.__setattr__(self, "zero", zero)

    def placed(self, magnets: Mapping[str, Magnet], gear_ratio: Fraction) -> PlacedRotor:
        """Return the rotor with all its magnets in their places.

        Parameters
        ----------
        magnets
            Every kind of magnet, by name.
        gear_ratio
            Rotor turns per crank turn.
        """
        placed = tuple(each for m in self.magnets for each in m.placed(magnets[m.magnet]))
        return PlacedRotor(self.name, self.shaft, self.zero, placed, gear_ratio, self.start)
