"""The same coil rewound: other turns, other wire, another opening."""

from __future__ import annotations

from fieldsim.errors import ImpossibleError
from fieldsim.machine.coil_wire import CoilWire
from fieldsim.machine.coils import Coil
from fieldsim.machine.gauge import Gauge
from fieldsim.machine.part import replaced
from fieldsim.wire.packing import WireFill

__all__ = ["filled_with", "with_gauge", "with_opening", "with_turns"]

_GAUGE = 92.0 ** (1.0 / 39.0)  # between the diameters of neighbouring American gauges, ASTM B258
_NARROWEST_M = 1e-4


def with_turns(coil: Coil, factor: float) -> Coil:
    """Return the coil with more turns in the same section, of wire as much thinner.

    Parameters
    ----------
    coil
        Any; without wire only its turns change.
    factor
        Turns over the turns now.
    """
    if not coil.wire:
        return replaced(coil, turns=round((coil.turns or 0) * factor))
    winding = coil.winding
    turns = round(winding.turns * factor)
    wire = _scaled(coil, (winding.turns / turns) ** 0.5)
    return replaced(
        coil, turns=turns, build=None, wire=replaced(wire, packing=WireFill(winding.wire_fill))
    )


def with_gauge(coil: Coil, thinner: int) -> Coil:
    """Return the coil with its section filled with wire some gauges thinner."""
    if not coil.wire:
        return coil
    return _filled(coil, _scaled(coil, _GAUGE**-thinner))


def filled_with(coil: Coil, wire: CoilWire) -> Coil:
    """Return the coil with its section filled with another wire, packed the same way.

    Raises
    ------
    ImpossibleError
        If its wire is not stated, or the section holds no turn of the other.
    """
    return _filled(coil, replaced(wire, packing=coil.winding.packing))


def with_opening(coil: Coil, side: int, step_m: float) -> Coil:
    """Return the coil with a wider opening, turns and build as they are.

    Parameters
    ----------
    coil
        Any.
    side
        0 for the dimension along the coil's ``side``, 1 for the other.
    step_m
        By how much wider [m].

    Raises
    ------
    ImpossibleError
        If nothing would be left of the opening.
    """
    edges = list(coil.opening)
    edges[side] += step_m
    if edges[side] < _NARROWEST_M:
        raise ImpossibleError(f'nothing would be left of the opening of coil "{coil.name}"')
    return coil.with_opening((edges[0], edges[1]))


def _filled(coil: Coil, wire: CoilWire) -> Coil:
    build = coil.winding.build_m if coil.build is None else coil.build
    full = replaced(wire, fill="section", length=None, spools=())
    return replaced(coil, build=build, turns=None, wire=full)


def _scaled(coil: Coil, factor: float) -> CoilWire:
    """Return the coil's wire in another thickness, its enamel in proportion."""
    wire = coil.winding.wire
    return CoilWire(
        Gauge(None, wire.bare_diameter_m * factor),
        overall=wire.overall_diameter_m * factor,
        packing=coil.winding.packing,
    )
