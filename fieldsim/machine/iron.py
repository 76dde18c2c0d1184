"""Iron as a builder describes it: cores of coils, and pieces that stand still or turn."""

from __future__ import annotations

import math
from typing import Annotated, ClassVar

from fieldsim.machine.frames import Vec3, cross, dot, perpendicular_part, unit
from fieldsim.machine.kinds import Direction, Flag, Name, Quantity, Vector, missing, problem
from fieldsim.machine.materials import Material, MaterialKind, material
from fieldsim.machine.part import Inline, Part, part, replaced, says
from fieldsim.machine.placed import PlacedCoil, PlacedIron
from fieldsim.machine.shaft import POSITION, Shaft

__all__ = ["Ball", "Block", "Core", "Disc", "IronPiece", "IronShape", "Rod", "Tube"]

_EDGE = Quantity("length", "0.1 mm", "1 m")
_Edge = Annotated[float, _EDGE]
_ROUND_M = 1e-6  # a piece nearer to the shaft line than this is round about it
_ROUND_SINE = 1e-6


@part
class Rod(Part):
    """A round bar, such as a bolt without its head."""

    diameter: Annotated[
        _Edge, says("of the rod, disc or ball", "1 mm", "needed for rod, disc, ball")
    ]
    length: Annotated[
        _Edge, says("of the rod or tube, along its axis", "10 %", "needed for rod and tube")
    ]

    @property
    def size(self) -> Vec3:
        """Edges of the smallest block around it: across, across, along the axis [m]."""
        return (self.diameter, self.diameter, self.length)


@part
class Tube(Part):
    """A round tube."""

    outer: Annotated[_Edge, says("outside diameter of a tube", "1 mm", "needed for a tube")]
    inner: Annotated[_Edge, says("inside diameter of a tube", "1 mm", "needed for a tube")]
    length: Annotated[
        _Edge, says("of the rod or tube, along its axis", "10 %", "needed for rod and tube")
    ]
    slit: Annotated[
        bool, Flag(), says("whether a tube is slit along its axis, which stops currents round it")
    ] = False

    def check_together(self, in_file: bool) -> None:
        """Refuse a tube without a wall."""
        if self.inner >= self.outer:
            raise problem("a tube's inner diameter must be smaller than its outer one", "inner")

    @property
    def size(self) -> Vec3:
        """Edges of the smallest block around it: across, across, along the axis [m]."""
        return (self.outer, self.outer, self.length)


@part
class Disc(Part):
    """A round plate."""

    diameter: Annotated[
        _Edge, says("of the rod, disc or ball", "1 mm", "needed for rod, disc, ball")
    ]
    thickness: Annotated[_Edge, says("of a disc, along its axis", "0.5 mm", "needed for a disc")]

    @property
    def size(self) -> Vec3:
        """Edges of the smallest block around it: across, across, along the axis [m]."""
        return (self.diameter, self.diameter, self.thickness)


@part
class Block(Part):
    """A bar or plate with square corners."""

    size: Annotated[
        Vec3,
        Vector(_EDGE, 3, "[12 mm, 8 mm, 40 mm]"),
        says("along `side`, across it, along the axis", "1 mm", "needed for a block"),
    ]


@part
class Ball(Part):
    """A ball."""

    diameter: Annotated[
        _Edge, says("of the rod, disc or ball", "1 mm", "needed for rod, disc, ball")
    ]

    @property
    def size(self) -> Vec3:
        """Edges of the smallest block around it [m]."""
        return (self.diameter, self.diameter, self.diameter)


IronShape = Rod | Tube | Disc | Block | Ball


@part
class Core(Part):
    """Iron inside a coil, which moves and turns with it; empty where there is none.

    It lies along the coil's axis, in the middle of the opening.

    Examples
    --------
    >>> Core(Rod("10 mm", "60 mm")).material
    'mild steel'
    """

    optional: ClassVar[bool] = True

    shape: (
        Annotated[
            Rod | Tube | Block,
            Inline({"rod": Rod, "tube": Tube, "block": Block}, "rod", "core"),
            says("a bolt is a `rod`"),
        ]
        | None
    ) = None
    material: Annotated[
        str | Material,
        MaterialKind(),
        says("by its name, or by numbers, of which only the first is needed"),
    ] = "mild steel"
    offset: Annotated[
        float,
        Quantity("length", "-1 m", "1 m"),
        says("of its middle from the winding's, along the coil's axis", "1 mm"),
    ] = 0.0

    def placed(self, coil: PlacedCoil) -> PlacedIron:
        """Return the core as it stands in space, in its coil."""
        if self.shape is None:
            raise ValueError("an empty core has no place")
        x, y, z = (c + self.offset * a for c, a in zip(coil.centre, coil.axis, strict=True))
        return PlacedIron(
            f"core of {coil.name}", self.shape, (x, y, z), coil.axis, coil.side,
            material(self.material), coil=coil.name,
        )  # fmt: skip

    def check_fits(self, opening: tuple[float, float]) -> None:
        """Refuse a core that is wider than the opening of its coil [m]."""
        if self.shape is None:
            return
        wide, room = self.shape.size[:2], opening
        for key, edge, free in zip(("first", "second"), wide, room, strict=True):
            if edge > free * (1 + 1e-9):
                raise problem(
                    f"is {edge * 1e3:.4g} mm wide where the {key} opening of the coil is "
                    f"{free * 1e3:.4g} mm; it must fit inside",
                    "core",
                )


@part
class IronPiece(Part):
    """A piece of iron that stands still, or turns with a rotor about whose shaft it is round.

    Examples
    --------
    >>> IronPiece("plate", Disc("80 mm", "3 mm"), centre=(0, 0, 0.02), on="upper").material
    'mild steel'
    """

    identity: ClassVar[str] = "name"

    name: Annotated[str, Name(), says("as results call it")]
    shape: Annotated[
        IronShape,
        Inline(
            {"rod": Rod, "tube": Tube, "disc": Disc, "block": Block, "ball": Ball},
            "rod",
            "piece of iron",
        ),
        says("a bolt is a `rod`"),
    ]
    centre: Annotated[Vec3, POSITION, says("its middle", "1 mm", values="three positions")]
    axis: (
        Annotated[
            Vec3,
            Direction(),
            says(
                "of the rod, tube or disc; third edge of a block",
                default="along the shaft with `on`, else needed for all but a ball",
            ),
        ]
        | None
    ) = None
    side: (
        Annotated[
            Vec3,
            Direction(),
            says("of a block's first edge; not along the axis", default="needed for a block"),
        ]
        | None
    ) = None
    on: (
        Annotated[
            str,
            Name(),
            says(
                "turns with it; only for what is round about its shaft",
                default="stands still",
                values="a rotor",
            ),
        ]
        | None
    ) = None
    material: Annotated[
        str | Material,
        MaterialKind(),
        says("by its name, or by numbers, of which only the first is needed"),
    ] = "mild steel"

    def check_together(self, in_file: bool) -> None:
        """Refuse a piece without a place or with too much said; make side square to axis."""
        block = isinstance(self.shape, Block)
        if self.on is not None and block:
            raise problem(
                "a block cannot turn with a rotor, for its magnetisation would change with the "
                "angle; allowed: rod, tube, disc and ball, round about the shaft",
                "on",
            )
        if self.axis is None and self.on is None and not isinstance(self.shape, Ball):
            raise missing("axis")
        if block and self.side is None:
            raise missing("side")
        if not block and self.side is not None:
            raise problem("only a block has a side", "side")
        if self.axis is not None and self.side is not None:
            try:
                side = perpendicular_part(self.side, self.axis)
            except ValueError:
                raise problem(
                    "is parallel to the axis; it must stand off from it", "side"
                ) from None
            object.__setattr__(self, "side", side)

    def check_round_about(self, shaft: Shaft) -> None:
        """Refuse a piece whose magnetisation would change as it turns about a shaft.

        Raises
        ------
        pydantic_core.PydanticCustomError
            If its middle is beside the shaft line or its axis is not along it.
        """
        x, y, z = (c - t for c, t in zip(self.centre, shaft.through, strict=True))
        beside = math.hypot(*cross((x, y, z), shaft.along))
        if beside > _ROUND_M:
            raise problem(
                f"is {beside * 1e3:.4g} mm beside the shaft of the rotor that it turns with; "
                "it must be on that line, or the magnetisation would change with the angle",
                "centre",
            )
        axis = None if isinstance(self.shape, Ball) else self.axis
        if axis is not None and math.hypot(*cross(axis, shaft.along)) > _ROUND_SINE:
            raise problem(
                "is not along the shaft of the rotor that it turns with, so that its "
                "magnetisation would change with the angle",
                "axis",
            )

    def placed(self, shaft: Shaft | None = None) -> PlacedIron:
        """Return the piece as it stands in space.

        Parameters
        ----------
        shaft
            Of the rotor that it turns with, if it does.
        """
        axis = self.axis or (0.0, 0.0, 1.0)
        if shaft is not None:
            axis = shaft.along
        side = self.side or _across(axis)
        return PlacedIron(
            self.name,
            self.shape,
            self.centre,
            axis,
            side,
            material(self.material),
            rotor=self.on or "",
        )

    def raised(self, along: Vec3, distance: float) -> IronPiece:
        """Return the piece moved by ``distance`` along a direction [m]."""
        x, y, z = (c + distance * a for c, a in zip(self.centre, along, strict=True))
        return replaced(self, centre=(x, y, z))


def _across(axis: Vec3) -> Vec3:
    """Return some direction at right angles to an axis."""
    least = min(range(3), key=lambda i: abs(axis[i]))
    along = (1.0 if least == 0 else 0.0, 1.0 if least == 1 else 0.0, 1.0 if least == 2 else 0.0)
    return unit(tuple(a - dot(along, axis) * b for a, b in zip(along, axis, strict=True)))  # type: ignore[arg-type]
