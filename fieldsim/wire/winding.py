"""From what a builder states about a coil (turns, wire, section) to the whole winding."""

from __future__ import annotations

import math
from dataclasses import dataclass

from fieldsim.cautions import Caution, Hazard
from fieldsim.errors import ImpossibleError
from fieldsim.wire.corners import Corners
from fieldsim.wire.packing import DENSEST_FILL, Packing, SquareLayers, WireFill
from fieldsim.wire.round_wire import Wire
from fieldsim.wire.stacks import MOST_TURNS, LayerStack, turns_from_wire
from fieldsim.wire.winding_spec import Spool, WindingSpec, shown

__all__ = ["Spool", "Winding", "WindingSpec", "resolve_winding"]

_SQUARE_FILL = math.pi / 4
_SLACK = 1e-9


@dataclass(frozen=True)
class Winding:
    """A winding worked out, all in SI units.

    Parameters
    ----------
    spec
        What was stated.
    packing
        How the wire lies.
    turns
        Whole turns.
    build_m
        Thickness that the turns take, from inside to outside [m].
    layers
        Layers begun, or None if the turns are spread evenly.
    turns_per_layer
        In the first and in the second layer, and so on in turn; or None.
    wire_length_m
        Wire in the turns, without leads [m].
    supply_m
        Wire at hand [m], or None.

    Notes
    -----
    Turns run through the middle of their wire, with the corners that are stated. Real turns bend
    around the edges of the former: each is (8 - 2 pi) x shorter than with sharp corners, x being
    its distance from the former, a few per cent for a thick winding. Tight bends bulge, so real
    coils lie between the two; the sharp-cornered length is the safe one to buy wire by.
    """

    spec: WindingSpec
    packing: Packing
    turns: int
    build_m: float
    layers: int | None
    turns_per_layer: tuple[int, int] | None
    wire_length_m: float
    supply_m: float | None

    @property
    def wire(self) -> Wire:
        """The wire."""
        return self.spec.wire

    @property
    def mean_turn_m(self) -> float:
        """Wire length divided by turns [m]."""
        return self.wire_length_m / self.turns

    @property
    def wire_length_rounded_corners_m(self) -> float:
        """Wire in the turns if they bend closely around the former, whatever is stated [m]."""
        former = self.spec.former
        around = self.turns * float(former.turn_m(0.0))
        return around + Corners.ROUND.growth / former.corners.growth * (self.wire_length_m - around)

    @property
    def mass_kg(self) -> float:
        """Mass of the winding, enamel included [kg]."""
        return self.wire_length_m * self.wire.mass_kg_m

    @property
    def copper_mass_kg(self) -> float:
        """Mass of its copper [kg]."""
        return self.wire_length_m * self.wire.copper_mass_kg_m

    @property
    def leftover_m(self) -> float | None:
        """Wire left of the supply [m], or None without one."""
        return None if self.supply_m is None else max(self.supply_m - self.wire_length_m, 0.0)

    @property
    def leftover_kg(self) -> float | None:
        """Mass of the wire left, enamel included [kg], or None without a supply."""
        return None if self.leftover_m is None else self.leftover_m * self.wire.mass_kg_m

    @property
    def room_left_m(self) -> float | None:
        """Stated build that is not used [m], or None without one."""
        return None if self.spec.build_m is None else max(self.spec.build_m - self.build_m, 0.0)

    @property
    def copper_fill(self) -> float:
        """Share of the section that is copper."""
        return self.turns * self.wire.copper_area_m2 / (self.build_m * self.spec.length_m)

    @property
    def wire_fill(self) -> float:
        """Share of the section that is wire, enamel included."""
        return self.turns * self.wire.overall_area_m2 / (self.build_m * self.spec.length_m)

    @property
    def outer_m(self) -> tuple[float, float]:
        """Two sides of the outside of the winding [m]."""
        a, b = self.spec.opening_m
        return (a + 2 * self.build_m, b + 2 * self.build_m)

    @property
    def surface_m2(self) -> float:
        """Surface that air can reach: outside and both ends, not the inside on its former [m2]."""
        spec = self.spec
        around = float(spec.former.turn_m(self.build_m))
        inside, outside = (spec.corners.area_m2(spec.opening_m, x) for x in (0.0, self.build_m))
        return around * spec.length_m + 2 * (outside - inside)

    def caution(self, where: str) -> Caution | None:
        """Return the caution about what hands can wind, named for a coil, if one is due."""
        if self.layers is not None or self.wire_fill <= _SQUARE_FILL:
            return None
        return Caution(Hazard.FULL_SECTION, where, self.wire_fill, _SQUARE_FILL)


def resolve_winding(spec: WindingSpec) -> Winding:
    """Work out a winding from what is stated about it.

    Parameters
    ----------
    spec
        One of turns, ``fill`` or a supply of wire decides the number of turns, in this order; a
        supply beside the others must suffice.

    Raises
    ------
    ImpossibleError
        If nothing decides the turns, or two statements contradict each other: the message shows
        both values.

    Examples
    --------
    Sixty per cent of a 250 g spool, wound in hexagonal layers:

    >>> from fieldsim.wire.packing import HexagonalLayers
    >>> from fieldsim.wire.round_wire import awg_wire
    >>> spec = WindingSpec(awg_wire(32), (24e-3, 16e-3), 12e-3, HexagonalLayers(),
    ...                    spools=(Spool(mass_kg=0.25, left=0.6),))
    >>> winding = resolve_winding(spec)
    >>> winding.turns, winding.layers, round(winding.build_m * 1e3, 2)
    (3765, 72, 13.97)
    >>> round(winding.wire_length_m), round(winding.mass_kg * 1e3)
    (509, 150)
    """
    supply_m = spec.supply_m
    packing = _packing(spec)
    wire, former = spec.wire, spec.former
    stack = packing.stack(wire, spec.length_m)
    room = None if spec.build_m is None else int(stack.turns_in(spec.build_m))
    turns = spec.turns
    if spec.fill:
        if spec.build_m is None or room is None:
            raise ImpossibleError("filling the section needs its build; state the build")
        if room < 1:
            build, thick = _pair(spec.build_m * 1e3, wire.overall_diameter_m * 1e3)
            raise ImpossibleError(
                f"the section, {build} mm thick, holds no turn of wire {thick} mm thick"
            )
        if room > MOST_TURNS:
            raise ImpossibleError(f"the section holds {room} turns; allowed: up to {MOST_TURNS}")
        if turns is not None and turns != room:
            raise ImpossibleError(
                f"{turns} turns are stated, but filling the section takes {room}; state one of them"
            )
        turns = room
    if turns is None:
        if supply_m is None:
            raise ImpossibleError(
                "nothing says how many turns there are; state turns, a length of wire, spools or "
                "that the section is filled"
            )
        turns = int(turns_from_wire(stack, supply_m, former))
        if turns < 1:
            one, held = _pair(float(stack.wire_m(1, former)), supply_m)
            raise ImpossibleError(f"one turn needs {one} m, the supply holds {held} m")
        if turns >= MOST_TURNS:
            raise ImpossibleError(
                f"the supply of {shown(supply_m)} m makes {MOST_TURNS} turns or more; allowed: "
                "fewer, so state the turns"
            )
    wire_m = float(stack.wire_m(turns, former))
    if supply_m is not None and wire_m > supply_m * (1 + _SLACK):
        needed, held = _pair(wire_m, supply_m)
        raise ImpossibleError(f"{turns} turns need {needed} m, the supply holds {held} m")
    build_m = float(stack.build_m(turns))
    if spec.build_m is not None and build_m > spec.build_m * (1 + _SLACK):
        needed, allowed = _pair(build_m * 1e3, spec.build_m * 1e3)
        raise ImpossibleError(
            f"{turns} turns of {wire.name} in {packing.name} are {needed} mm thick, the build "
            f"allows {allowed} mm ({room} turns)"
        )
    if spec.build_m is not None and math.isclose(build_m, spec.build_m, rel_tol=_SLACK):
        build_m = spec.build_m  # so that a stated build comes back to the last digit
    layered = stack if isinstance(stack, LayerStack) else None
    return Winding(
        spec=spec,
        packing=packing,
        turns=turns,
        build_m=build_m,
        layers=None if layered is None else int(layered.layers(turns)),
        turns_per_layer=None if layered is None else (int(layered.odd), int(layered.even)),
        wire_length_m=wire_m,
        supply_m=supply_m,
    )


def _packing(spec: WindingSpec) -> Packing:
    """Return the stated packing, or the fill that stated turns and build come to."""
    if spec.packing is not None:
        return spec.packing
    if spec.turns is None or spec.build_m is None or spec.fill:
        return SquareLayers()
    section = spec.build_m * spec.length_m
    fill = spec.turns * spec.wire.overall_area_m2 / section
    if fill > DENSEST_FILL:
        most = math.floor(DENSEST_FILL * section / spec.wire.overall_area_m2)
        raise ImpossibleError(
            f"{spec.turns} turns of {spec.wire.name} ({spec.wire.overall_diameter_m * 1e3:.4g} mm "
            f"over the enamel) do not fit in {spec.length_m * 1e3:.4g} mm x "
            f"{spec.build_m * 1e3:.4g} mm; the densest packing holds {most}"
        )
    return WireFill(fill)


def _pair(first: float, second: float) -> tuple[str, str]:
    """Return two numbers as text with enough digits that they differ."""
    for digits in range(3, 12):
        texts = shown(first, digits), shown(second, digits)
        if texts[0] != texts[1]:
            break
    return texts
