"""The same machine with its coils wound otherwise: more turns, another gauge, a wider opening.

Where the file gives a coil's wire, its winding is worked out anew, so that resistance, length and
build go with the change.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from types import MappingProxyType

from fieldsim.errors import ImpossibleError
from fieldsim.machine.machine import Machine
from fieldsim.machine.placed import PlacedCoil
from fieldsim.wire.packing import WireFill
from fieldsim.wire.round_wire import Wire
from fieldsim.wire.winding import Winding, resolve_winding

__all__ = ["with_gauge", "with_opening", "with_turns"]

_GAUGE = 92.0 ** (1.0 / 39.0)  # between the diameters of neighbouring American gauges, ASTM B258
_NARROWEST_M = 1e-4


def with_turns(geometry: Machine, factor: float) -> Machine:
    """Return the machine with more turns in the same sections, of wire as much thinner.

    Parameters
    ----------
    geometry
        The machine.
    factor
        Turns over the turns now.
    """

    def rewound(coil: PlacedCoil, winding: Winding | None) -> tuple[PlacedCoil, Winding | None]:
        if winding is None:
            return replace(coil, turns=coil.turns * factor), None
        turns = round(winding.turns * factor)
        spec = replace(
            winding.spec, wire=_scaled(winding.wire, (winding.turns / turns) ** 0.5), turns=turns,
            packing=WireFill(winding.wire_fill), build_m=None, fill=False, wire_length_m=None,
            spools=(),
        )  # fmt: skip
        return replace(coil, turns=float(turns)), resolve_winding(spec)

    return _rewound(geometry, rewound)


def with_gauge(geometry: Machine, thinner: int) -> Machine:
    """Return the machine with the same sections filled with wire some gauges thinner."""

    def rewound(coil: PlacedCoil, winding: Winding | None) -> tuple[PlacedCoil, Winding | None]:
        if winding is None:
            return coil, None
        new = winding.refilled(_scaled(winding.wire, _GAUGE**-thinner))
        return replace(coil, turns=float(new.turns), build=new.build_m), new

    return _rewound(geometry, rewound)


def with_opening(geometry: Machine, side: int, step_m: float) -> Machine:
    """Return the machine with the coils' openings wider, turns and build as they are.

    Parameters
    ----------
    geometry
        The machine.
    side
        0 for the dimension along the coil's ``side``, 1 for the other.
    step_m
        By how much wider [m].

    Raises
    ------
    ImpossibleError
        If nothing would be left of an opening.
    """

    def rewound(coil: PlacedCoil, winding: Winding | None) -> tuple[PlacedCoil, Winding | None]:
        edges = list(coil.opening)
        edges[side] += step_m
        if edges[side] < _NARROWEST_M:
            raise ImpossibleError(f'nothing would be left of the opening of coil "{coil.name}"')
        opening = (edges[0], edges[1])
        coil = replace(coil, opening=opening)
        if winding is None:
            return coil, None
        spec = replace(
            winding.spec, opening_m=opening, packing=winding.packing, turns=winding.turns,
            build_m=None, fill=False, wire_length_m=None, spools=(),
        )  # fmt: skip
        return coil, resolve_winding(spec)

    return _rewound(geometry, rewound)


def _rewound(
    geometry: Machine,
    change: Callable[[PlacedCoil, Winding | None], tuple[PlacedCoil, Winding | None]],
) -> Machine:
    fittings = geometry.fittings
    old = fittings.windings if fittings is not None else {}
    coils, windings = [], {}
    for coil in geometry.coils:
        new_coil, winding = change(coil, old.get(coil.name))
        coils.append(new_coil)
        if winding is not None:
            windings[coil.name] = winding
    if fittings is not None:
        fittings = replace(fittings, windings=MappingProxyType(windings))
    return replace(geometry, coils=tuple(coils), fittings=fittings)


def _scaled(wire: Wire, factor: float) -> Wire:
    """Return wire of another thickness, its enamel in proportion."""
    bare, overall = wire.bare_diameter_m * factor, wire.overall_diameter_m * factor
    return Wire(f"{bare * 1e3:.3g} mm", bare, overall)
