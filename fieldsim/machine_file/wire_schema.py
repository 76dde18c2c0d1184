"""The ``wire`` section under a coil of a geometry file.

::

    coils:
      pickup:
        centre: [0 mm, 22 mm, 0 mm]
        axis: [0, 0, 1]
        side: [1, 0, 0]
        opening: [24 mm, 16 mm]
        length: 12 mm
        build: 6 mm               # the room for the winding; may be left out
        turns: 1800               # may be left out if the wire decides
        wire:
          gauge: AWG 32           # or a copper diameter: 0.2 mm
          enamel: single          # or heavy, grade 1, grade 2; or overall: 0.225 mm as measured
          packing: square layers  # or hexagonal layers, {copper_fill: 45 %}, {wire_fill: 70 %}
          spools:                 # or length: 180 m, or fill: section
            - {mass: 250 g, used: 40 %}
            - {mass: 100 g, count: 2}
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, model_validator

from fieldsim.errors import ImpossibleError
from fieldsim.machine.units import parse_quantity
from fieldsim.machine_file.section import Count, Section, problem, quantity_field
from fieldsim.wire.enamel import LARGEST_BARE_M, SMALLEST_BARE_M, Enamel
from fieldsim.wire.packing import (
    CopperFill,
    HexagonalLayers,
    Packing,
    SquareLayers,
    WireFill,
)
from fieldsim.wire.round_wire import Wire, awg_wire, metric_wire, parse_awg
from fieldsim.wire.winding import Spool, WindingSpec

__all__ = ["Gauge", "SpoolSection", "WireSection"]

_LAYERS: dict[str, Packing] = {
    "square layers": SquareLayers(),
    "hexagonal layers": HexagonalLayers(),
}
_FILLS: dict[str, type[CopperFill | WireFill]] = {
    "copper_fill": CopperFill,
    "wire_fill": WireFill,
}
_PACKINGS = (
    "square layers, hexagonal layers, {copper_fill: 45 %} or {wire_fill: 70 %} "
    "(a share of the winding's section)"
)


@dataclass(frozen=True)
class Gauge:
    """A wire size as stated.

    Parameters
    ----------
    awg
        American gauge number, or None for a metric size.
    bare_diameter_m
        Copper diameter [m].
    """

    awg: int | None
    bare_diameter_m: float


def _gauge(value: Any) -> Gauge:
    try:
        number = parse_awg(value)
    except ValueError:
        number = None
    try:
        if number is not None:
            return Gauge(number, awg_wire(number).bare_diameter_m)
        diameter_m = parse_quantity(value, "length")
    except ImpossibleError as error:
        raise problem(str(error)) from None
    except ValueError as error:
        detail = str(error).split(";")[0]
        raise problem(f'{detail}; write the gauge like "AWG 32" or "0.2 mm"') from None
    if not SMALLEST_BARE_M <= diameter_m <= LARGEST_BARE_M:
        raise problem(
            f'"{value}" is out of range; allowed: {SMALLEST_BARE_M * 1e3:.3g} mm to '
            f"{LARGEST_BARE_M * 1e3:.3g} mm (AWG 46 to AWG 10)"
        )
    return Gauge(None, diameter_m)


def _enamel(value: Any) -> Enamel:
    names = [e.value for e in Enamel]
    if not isinstance(value, str) or value not in names:
        shown = f'"{value[:40]}"' if isinstance(value, str) else "this"
        raise problem(f"{shown} is not one of: {', '.join(names)}")
    return Enamel(value)


def _packing(value: Any) -> Packing:
    if isinstance(value, str) and value in _LAYERS:
        return _LAYERS[value]
    if isinstance(value, dict) and len(value) == 1:
        key, share = next(iter(value.items()))
        if isinstance(key, str) and key in _FILLS:
            try:
                return _FILLS[key](parse_quantity(share, "fraction"))
            except (ValueError, ImpossibleError) as error:
                raise problem(str(error)) from None
    shown = f'"{value[:40]}"' if isinstance(value, str) else "this"
    raise problem(f"{shown} is not a packing; allowed: {_PACKINGS}")


def _section_word(value: Any) -> str:
    if value != "section":
        raise problem('"fill" has one value: section; leave the key out otherwise')
    return "section"


def _list(value: Any) -> Any:
    if not isinstance(value, list) or not value:
        raise problem("needs a list of at least one spool, like [{mass: 250 g, left: 60 %}]")
    return value


SpoolMass = Annotated[float, quantity_field("mass", "0.1 g", "1000 kg")]
ReelMass = Annotated[float, quantity_field("mass", "0 g", "1000 kg")]
WireLength = Annotated[float, quantity_field("length", "1 mm", "1000000 m")]
OverallDiameter = Annotated[float, quantity_field("length", "0.04 mm", "5 mm")]
Share = Annotated[float, quantity_field("fraction", "0 %", "100 %")]


class SpoolSection(Section):
    """One spool of wire, or several alike; new unless it says how much is used or left."""

    mass: SpoolMass | None = None
    length: WireLength | None = None
    reel: ReelMass | None = None
    used: Share | None = None
    left: Share | None = None
    count: Annotated[Count, Field(ge=1, le=1000)] = 1

    @model_validator(mode="after")
    def _one_way(self) -> SpoolSection:
        if (self.mass is None) == (self.length is None):
            raise problem('a spool needs one of "mass" and "length"')
        if self.used is not None and self.left is not None:
            raise problem('state one of "used" and "left", not both')
        if self._share_left() <= 0:
            raise problem("nothing is left on this spool; leave it out")
        if self.reel is not None:
            if self.mass is None:
                raise problem('"reel" is the mass of the empty reel, and needs "mass"')
            if self.reel >= self.mass:
                raise problem(
                    f"the empty reel, {self.reel * 1e3:.4g} g, must be lighter than the spool, "
                    f"{self.mass * 1e3:.4g} g"
                )
        return self

    def _share_left(self) -> float:
        return self.left if self.left is not None else 1.0 - (self.used or 0.0)

    def to_spool(self) -> Spool:
        """Return the spool; ``reel`` is taken off ``mass``."""
        mass_kg = None if self.mass is None else self.mass - (self.reel or 0.0)
        return Spool(mass_kg, self.length, self._share_left(), self.count)


class WireSection(Section):
    """The wire of a coil, how it lies, and how much of it there is."""

    elsewhere = dict.fromkeys(
        ("turns", "build", "opening", "centre", "axis", "side"), "beside wire, in the coil itself"
    )

    gauge: Annotated[Gauge, BeforeValidator(_gauge)]
    enamel: Annotated[Enamel, BeforeValidator(_enamel)] | None = None
    overall: OverallDiameter | None = None
    packing: Annotated[Any, BeforeValidator(_packing)] = None
    length: WireLength | None = None
    spools: Annotated[list[SpoolSection], BeforeValidator(_list)] | None = None
    fill: Annotated[Literal["section"], BeforeValidator(_section_word)] | None = None

    @model_validator(mode="after")
    def _consistent(self) -> WireSection:
        if self.enamel is not None and self.overall is not None:
            raise problem('state one of "enamel" and "overall" (diameter as measured), not both')
        if self.length is not None and self.spools is not None:
            raise problem('state the wire at hand by one of "length" and "spools", not both')
        try:
            self.to_wire()
        except ImpossibleError as error:
            raise problem(str(error)) from None
        return self

    def to_wire(self) -> Wire:
        """Return the wire; enamel left out is ``single`` for a gauge, ``grade 1`` for a diameter.

        Raises
        ------
        ImpossibleError
            If the stated overall diameter is not above the copper's.
        """
        awg, bare_m = self.gauge.awg, self.gauge.bare_diameter_m
        if self.overall is not None:
            size = f"{bare_m * 1e3:.4g} mm" if awg is None else f"AWG {awg}"
            return Wire(f"{size}, {self.overall * 1e3:.4g} mm overall", bare_m, self.overall)
        if awg is None:
            return metric_wire(bare_m, self.enamel or Enamel.GRADE_1)
        return awg_wire(awg, self.enamel or Enamel.SINGLE)

    def to_spec(
        self,
        opening_m: tuple[float, float],
        length_m: float,
        build_m: float | None = None,
        turns: int | None = None,
    ) -> WindingSpec:
        """Return all that is stated about the winding.

        Parameters
        ----------
        opening_m, length_m, build_m, turns
            What the coil's own keys say [m]; None for a key that is left out.

        Raises
        ------
        ImpossibleError
            If a value cannot be; contradictions between values show up when it is resolved.
        """
        return WindingSpec(
            self.to_wire(),
            opening_m,
            length_m,
            packing=self.packing,
            build_m=build_m,
            turns=turns,
            fill=self.fill is not None,
            wire_length_m=self.length,
            spools=tuple(spool.to_spool() for spool in self.spools or ()),
        )
