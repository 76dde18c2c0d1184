"""The sections of a geometry file that describe the machine itself."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, model_validator

from fieldsim.machine.magnets import ArmAxis, Cuboid, Cylinder, Shape, Sphere
from fieldsim.machine_file.connections_schema import ConnectionsSection
from fieldsim.machine_file.gears_schema import GearsSection
from fieldsim.machine_file.mechanics_schema import AdhesiveSection, CrankSection, FrictionSection
from fieldsim.machine_file.section import (
    Count,
    Direction,
    Name,
    Ratio,
    Section,
    list_hint,
    missing,
    problem,
    quantity_field,
)
from fieldsim.machine_file.wire_schema import WireSection

__all__ = ["CoilSection", "MachineSection", "MagnetSection", "MountSection", "RotorSection"]

Temperature = Annotated[float, quantity_field("temperature", "-50 degC", "200 degC")]
Position = Annotated[float, quantity_field("length", "-10 m", "10 m")]
Distance = Annotated[float, quantity_field("length", "0 m", "10 m")]
MagnetEdge = Annotated[float, quantity_field("length", "0.1 mm", "1 m")]
CoilEdge = Annotated[float, quantity_field("length", "0.1 mm", "10 m")]
Angle = Annotated[float, quantity_field("angle", "-1000 turn", "1000 turn")]
FluxDensity = Annotated[float, quantity_field("flux density", "0.001 T", "2 T")]

_MOST_PARTS = 100  # kinds of magnet, rotors, coils: far beyond any machine made by hand
_MOST_MOUNTS = 200  # magnets on one rotor


def _list_of(length: int, example: str) -> Any:
    def check(value: Any) -> Any:
        if not isinstance(value, list):
            raise problem(f"must be a list of {length} lengths, like {example}")
        if len(value) != length:
            count = "1 entry" if len(value) == 1 else f"{len(value)} entries"
            hint = list_hint(value)
            raise problem(f"has {count}; it needs {length}, like {example}{hint}")
        return value

    return BeforeValidator(check)


def _one_of(*allowed: str) -> Any:
    def check(value: Any) -> Any:
        if value not in allowed or not isinstance(value, str):
            shown = f'"{value[:40]}"' if isinstance(value, str) else "this"
            raise problem(f"{shown} is not one of: {', '.join(allowed)}")
        return value

    return BeforeValidator(check)


def _some(what: str, kind: type[dict[str, Any]] | type[list[Any]], most: int) -> Any:
    def check(value: Any) -> Any:
        if not isinstance(value, kind):
            form = "a list, one entry" if kind is list else "named keys, one"
            raise problem(f"must be {form} for each {what}")
        if not value:
            raise problem(f"needs at least one {what}")
        if len(value) > most:
            raise problem(f"has {len(value)} entries; allowed: at most {most}")
        return value

    return BeforeValidator(check)


def _title(value: Any) -> str:
    if not isinstance(value, str):
        raise problem("the title must be text")
    if len(value) > 200:
        raise problem(f"the title has {len(value)} characters; at most 200 are allowed")
    if not value.isprintable():
        raise problem("the title must be one line of printable text")
    return value.strip()


ArmAxisName = Annotated[Literal["arm", "forward", "shaft"], _one_of("arm", "forward", "shaft")]


class MagnetSection(Section):
    """A kind of magnet."""

    shape: Annotated[
        Literal["block", "cylinder", "disc", "sphere"],
        _one_of("block", "cylinder", "disc", "sphere"),
    ] = "block"
    size: (
        Annotated[tuple[MagnetEdge, MagnetEdge, MagnetEdge], _list_of(3, "[20 mm, 10 mm, 5 mm]")]
        | None
    ) = None
    diameter: MagnetEdge | None = None
    thickness: MagnetEdge | None = None
    axis: ArmAxisName | None = None
    remanence: FluxDensity

    @model_validator(mode="after")
    def _shape_keys(self) -> MagnetSection:
        needed = {
            "block": ("size",),
            "cylinder": ("diameter", "thickness"),
            "disc": ("diameter", "thickness"),
            "sphere": ("diameter",),
        }[self.shape]
        optional = ("axis",) if self.shape in ("cylinder", "disc") else ()
        for key in ("size", "diameter", "thickness", "axis"):
            given = getattr(self, key) is not None
            if key in needed and not given:
                raise problem(f'a {self.shape} magnet needs "{key}"', key)
            if given and key not in (*needed, *optional):
                has = ", ".join((*needed, *optional, "remanence"))
                raise problem(f'a {self.shape} magnet has no "{key}"; it has: {has}', key)
        return self

    def to_shape(self) -> Shape:
        """Return the shape that the keys describe."""
        if self.size is not None:
            return Cuboid(self.size)
        diameter = self.diameter or 0.0  # always given here, as checked above
        if self.thickness is not None:
            return Cylinder(diameter, self.thickness, ArmAxis[(self.axis or "shaft").upper()])
        return Sphere(diameter)


class MountSection(Section):
    """One magnet on an arm, or ``count`` of them evenly spaced."""

    magnet: Name
    radius: Distance
    height: Position
    north: Annotated[
        Literal["+shaft", "-shaft", "out", "in", "forward", "back"],
        _one_of("+shaft", "-shaft", "out", "in", "forward", "back"),
    ]
    angle: Angle = 0.0
    count: Annotated[Count, Field(ge=1, le=200)] = 1
    poles: Annotated[Literal["alternating", "same"], _one_of("alternating", "same")] = "alternating"

    @model_validator(mode="after")
    def _even_count(self) -> MountSection:
        if self.poles == "alternating" and self.count > 1 and self.count % 2:
            raise problem(
                f"{self.count} magnets cannot alternate around a circle; give an even count, or "
                '"poles: same"',
                "count",
            )
        return self


class ShaftSection(Section):
    """The line a rotor turns about."""

    through: Annotated[tuple[Position, Position, Position], _list_of(3, "[0 mm, 0 mm, 0 mm]")]
    along: Direction


class RotorSection(Section):
    """Magnets turning about one shaft."""

    shaft: ShaftSection
    zero: Direction
    gear_ratio: Ratio | None = None
    start: Angle = 0.0
    magnets: Annotated[list[MountSection], _some("magnet", list, _MOST_MOUNTS)]

    @model_validator(mode="after")
    def _not_too_many(self) -> RotorSection:
        count = sum(mount.count for mount in self.magnets)
        if count > _MOST_MOUNTS:
            raise problem(f"{count} magnets on a rotor; at most {_MOST_MOUNTS}", "magnets")
        return self


class CoilSection(Section):
    """A rectangular winding."""

    elsewhere = dict.fromkeys(
        ("gauge", "enamel", "overall", "packing", "spools", "fill"), "under wire, in this coil"
    )

    centre: Annotated[tuple[Position, Position, Position], _list_of(3, "[0 mm, 22 mm, 0 mm]")]
    axis: Direction
    side: Direction
    opening: Annotated[tuple[CoilEdge, CoilEdge], _list_of(2, "[24 mm, 16 mm]")]
    length: CoilEdge
    build: CoilEdge | None = None
    turns: Annotated[Count, Field(ge=1, le=1_000_000)] | None = None
    wire: WireSection | None = None

    @model_validator(mode="after")
    def _build_and_turns(self) -> CoilSection:
        for key in ("build", "turns"):
            if self.wire is None and getattr(self, key) is None:
                raise missing(key)
        return self


class MachineSection(Section):
    """A whole geometry file."""

    title: Annotated[str, BeforeValidator(_title)] = ""
    magnets: Annotated[dict[Name, MagnetSection], _some("kind of magnet", dict, _MOST_PARTS)]
    rotors: Annotated[dict[Name, RotorSection], _some("rotor", dict, _MOST_PARTS)]
    coils: Annotated[dict[Name, CoilSection], _some("coil", dict, _MOST_PARTS)]
    connections: ConnectionsSection = Field(default_factory=dict)
    load: Any = None  # checked in a pass of its own, only where there is one
    gears: GearsSection | None = None
    crank: CrankSection | None = None
    friction: FrictionSection | None = None
    adhesive: AdhesiveSection | None = None
    temperature: Temperature | None = None
