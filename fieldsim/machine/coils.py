"""Coils: rectangular windings, as a builder describes them."""

from __future__ import annotations

from dataclasses import field, replace
from functools import cached_property
from typing import Annotated, ClassVar

from fieldsim.errors import ImpossibleError
from fieldsim.machine.coil_wire import CoilWire
from fieldsim.machine.frames import Vec3, perpendicular_part
from fieldsim.machine.iron import Core
from fieldsim.machine.kinds import (
    Direction,
    Member,
    Name,
    Quantity,
    Vector,
    Whole,
    missing,
    problem,
)
from fieldsim.machine.part import Part, part, replaced, says
from fieldsim.machine.placed import PlacedCoil
from fieldsim.machine.shaft import POSITION
from fieldsim.wire.corners import Corners
from fieldsim.wire.resistance import wire_resistance_ohm
from fieldsim.wire.winding import Winding, resolve_winding
from fieldsim.wire.winding_spec import WindingSpec

__all__ = ["Coil"]

_EDGE = Quantity("length", "0.1 mm", "10 m")


@part
class Coil(Part):
    """A rectangular winding.

    What is stated is kept as it is; `winding` is what it comes to, and `placed` how it stands in
    space::

        .---------------------.   ---
        |  .---------------.  |    | build
        |  |    opening    |  |   ---
        |  |       o-------|--|---> side         axis towards the reader
        |  '---------------'  |
        '---------------------'   current: counter-clockwise

    Examples
    --------
    >>> coil = Coil("pickup", centre=(0, 0.026, 0), axis=(0, 0, 1), side=(1, 0, 0),
    ...             opening=(0.014, 0.02), length=0.01, build=0.007,
    ...             wire=CoilWire("AWG 32", fill="section"))
    >>> coil.winding.turns
    1364
    """

    identity: ClassVar[str] = "name"
    elsewhere: ClassVar[dict[str, str]] = dict.fromkeys(
        ("gauge", "enamel", "overall", "packing", "spools", "fill"), "under wire, in this coil"
    )
    rivals: ClassVar[tuple[tuple[str, ...], ...]] = (
        ("turns", "wire.fill", "wire.length", "wire.spools"),
    )

    name: Annotated[str, Name(), says("as results call it")]
    centre: Annotated[
        Vec3, POSITION, says("middle of the winding", "1 mm", values="three positions")
    ]
    axis: Annotated[
        Vec3, Direction(), says("through the opening; linkage counts positive along it")
    ]
    side: Annotated[Vec3, Direction(), says("of the first opening; not along the axis")]
    opening: Annotated[
        tuple[float, float],
        Vector(_EDGE, 2, "[24 mm, 16 mm]"),
        says("inside of the winding, along `side` and across it", "1 mm"),
    ]
    length: Annotated[float, _EDGE, says("of the winding along its axis", "1 mm")]
    build: (
        Annotated[
            float,
            _EDGE,
            says(
                "thickness from inside to outside; with a packing or `fill`, the room there is",
                "1 mm",
                "needed without `wire` or with `fill`",
            ),
        ]
        | None
    ) = None
    turns: (
        Annotated[
            int, Whole(1, 1_000_000), says("number of turns", "10 %", "needed without `wire`")
        ]
        | None
    ) = None
    wire: Annotated[
        CoilWire,
        says(
            "what it is wound with",
            default="none: no resistance, so no current",
            values="keys below",
        ),
    ] = CoilWire()
    core: Annotated[
        Core, says("iron inside it, such as a bolt", default="none", values="keys below")
    ] = Core()
    corners: Annotated[
        Corners,
        Member({corners.value: corners for corners in Corners}),
        says(
            "of the turns; `round`: bent over the edges of the former, each with its distance from "
            "the opening as radius",
            default="`sharp`",
        ),
    ] = Corners.SHARP
    share_m: float | None = field(default=None, compare=False, repr=False)
    """Of shared spools, as its machine works it out [m]; only where the turns follow from it."""

    def check_together(self, in_file: bool) -> None:
        """Refuse a winding that cannot be made; make side square to axis."""
        try:
            side = perpendicular_part(self.side, self.axis)
        except ValueError:
            text = "is parallel to the coil's axis; it must stand off from it"
            raise problem(text, "side") from None
        object.__setattr__(self, "side", side)
        if self.wire and (self.decides_turns or not self.wire.shared):
            try:
                _ = self.winding
            except ImpossibleError as error:
                raise problem(str(error), "wire") from None
        for key in ("build", "turns"):
            if not self.wire and getattr(self, key) is None:
                raise missing(key)
        self.core.check_fits(self.opening)

    @property
    def decides_turns(self) -> bool:
        """Whether its turns do not follow from the wire at hand."""
        return self.turns is not None or self.wire.fill is not None

    @cached_property
    def winding(self) -> Winding:
        """What the wire comes to: turns, build, length and mass.

        Raises
        ------
        ImpossibleError
            If its wire is not stated, or follows from shared spools and it is in no machine yet.
        """
        wire = self.wire
        if not wire:
            raise ImpossibleError(
                f'coil "{self.name}" has no wire, so its resistance is unknown; add for instance '
                f"coils.{self.name}.wire: {{gauge: AWG 32}}"
            )
        share_m = None
        if wire.shared and not self.decides_turns:
            share_m = self.share_m
            if share_m is None:
                raise ImpossibleError(
                    f'coil "{self.name}" is wound from shared spools; its machine says how much of '
                    "them it gets"
                )
        winding = resolve_winding(
            WindingSpec(
                wire.wire,
                self.opening,
                self.length,
                packing=wire.packing,
                build_m=self.build,
                turns=self.turns,
                fill=wire.fill is not None,
                wire_length_m=wire.length if share_m is None else share_m,
                spools=() if wire.shared else tuple(spool.at_hand() for spool in wire.spools),
                corners=self.corners,
            )
        )
        # What is left on shared spools is told of them, not of each coil.
        return replace(winding, supply_m=None) if wire.shared else winding

    @cached_property
    def placed(self) -> PlacedCoil:
        """The winding in space."""
        stated = (self.build or 0.0, self.turns or 0)
        build, turns = (self.winding.build_m, self.winding.turns) if self.wire else stated
        return PlacedCoil(
            self.name, self.centre, self.axis, self.side, self.opening, self.length, build, turns,
            self.corners,
        )  # fmt: skip

    @property
    def wire_length_m(self) -> float:
        """Wire in its turns [m]: as its layers lie, or without wire turns times the mean turn."""
        if self.wire:
            return self.winding.wire_length_m
        return self.placed.turns * self.placed.mean_turn_m

    @property
    def mean_turn_m(self) -> float:
        """Its wire's length divided by its turns [m]."""
        return self.wire_length_m / self.placed.turns

    def with_opening(self, opening: tuple[float, float]) -> Coil:
        """Return the coil around another opening, its turns and build as they are [m].

        Raises
        ------
        ImpossibleError
            If an edge is not allowed.
        """
        if not self.wire:
            return replaced(self, opening=opening)
        winding = self.winding
        wire = replaced(self.wire, packing=winding.packing, fill=None, length=None, spools=())
        turns, build = winding.turns, winding.build_m
        return replaced(self, opening=opening, turns=turns, build=build, wire=wire)

    def resistance_ohm(self, temperature_K: float) -> float:
        """Return the resistance of its wire [ohm].

        Raises
        ------
        ImpossibleError
            If its wire is not stated.
        """
        winding = self.winding
        bare_m = winding.wire.bare_diameter_m
        return float(wire_resistance_ohm(winding.wire_length_m, bare_m, temperature_K))
