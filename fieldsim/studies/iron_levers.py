"""What a builder can change about the iron of a machine, one practical step at a time.

A core grows at the end that is farther from the magnets, so that its distance to them stays what it
was: otherwise a longer bolt would be a nearer one too.
"""

from __future__ import annotations

from collections.abc import Callable

from fieldsim.errors import ImpossibleError
from fieldsim.machine.clearance.coil_distance import coil_distance_m
from fieldsim.machine.coils import Coil
from fieldsim.machine.iron import Block, Core, Rod, Tube
from fieldsim.machine.machine import Machine
from fieldsim.machine.part import replaced
from fieldsim.studies.levers import Lever, unchanged, with_coils

__all__ = ["LONGER_M", "THICKER_M", "iron_levers"]

LONGER_M = 5e-3
"""A step of a core's length [m]: what bolts are sold in."""

THICKER_M = 1e-3
"""A step of a core's thickness [m]."""

_SHORTEST_M = 1e-3
_KEPT_M = 1e-6

Shape = Rod | Tube | Block


def iron_levers(machine: Machine) -> tuple[Lever, ...]:
    """Return what can be changed about cores and other iron; nothing where there is none.

    A change applies to the cores of all coils at once.
    """
    found = []
    if any(coil.core.shape is not None for coil in machine.coils):
        found += [
            Lever(
                "core length", "core 5 mm longer, away from the magnets", "core 5 mm shorter",
                lambda m: _with_cores(m, lambda coil: _longer(m, coil, LONGER_M)),
                lambda m: _with_cores(m, lambda coil: _longer(m, coil, -LONGER_M)),
            ),
            Lever(
                "core thickness", "core 1 mm thicker", "core 1 mm thinner",
                lambda m: _with_cores(m, lambda coil: _thicker(coil, THICKER_M)),
                lambda m: _with_cores(m, lambda coil: _thicker(coil, -THICKER_M)),
            ),
            Lever(
                "core", "core taken out", "",
                lambda m: with_coils(m, lambda coil: replaced(coil, core=Core())), unchanged,
            ),
        ]  # fmt: skip
    if machine.iron:
        found.append(
            Lever(
                "iron", "iron beside the coils taken away", "",
                lambda m: replaced(m, iron=()), unchanged,
            )
        )  # fmt: skip
    return tuple(found)


def _with_cores(machine: Machine, change: Callable[[Coil], Coil]) -> Machine:
    return with_coils(machine, lambda coil: coil if coil.core.shape is None else change(coil))


def _longer(machine: Machine, coil: Coil, step_m: float) -> Coil:
    """Return a coil whose core grows at the end that is farther from the magnets."""
    core, shape = coil.core, _shape(coil)
    length = shape.size[2] + step_m
    if length < _SHORTEST_M:
        raise ImpossibleError(f'nothing would be left of the core of coil "{coil.name}"')
    grown: Shape = (
        replaced(shape, size=(*shape.size[:2], length))
        if isinstance(shape, Block)
        else replaced(shape, length=length)
    )
    now = coil_distance_m(machine, coil.name)
    for end in (1, -1):
        offset = core.offset + end * step_m / 2
        after = replaced(coil, core=replaced(core, shape=grown, offset=offset))
        coils = tuple(after if c.name == coil.name else c for c in machine.coils)
        there = replaced(machine, coils=coils)
        if abs(coil_distance_m(there, coil.name) - now) < _KEPT_M:
            return after
    raise ImpossibleError(
        f'coil "{coil.name}" has magnets at both ends of its core; it cannot grow away from them'
    )


def _thicker(coil: Coil, step_m: float) -> Coil:
    shape = _shape(coil)
    thin = min(shape.size[:2]) + step_m
    if thin < _SHORTEST_M or (isinstance(shape, Tube) and thin <= shape.inner):
        raise ImpossibleError(f'nothing would be left of the core of coil "{coil.name}"')
    grown: Shape
    if isinstance(shape, Block):
        a, b, c = shape.size
        grown = replaced(shape, size=(a + step_m, b + step_m, c))
    elif isinstance(shape, Tube):
        grown = replaced(shape, outer=shape.outer + step_m)
    else:
        grown = replaced(shape, diameter=shape.diameter + step_m)
    return replaced(coil, core=replaced(coil.core, shape=grown))


def _shape(coil: Coil) -> Shape:
    if coil.core.shape is None:
        raise ImpossibleError(f'coil "{coil.name}" has no core')
    return coil.core.shape
