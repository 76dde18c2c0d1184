"""What the wire of each coil comes to: length, mass, resistance, what is left on the spool."""

from __future__ import annotations

from dataclasses import dataclass

from fieldsim.errors import ImpossibleError
from fieldsim.field.inductance.matrix import self_inductance
from fieldsim.machine.machine import Machine
from fieldsim.wire.resistance import recommended_current_A
from fieldsim.wire.winding import Winding

__all__ = ["WoundCoil", "wound_coils"]


@dataclass(frozen=True)
class WoundCoil:
    """One coil, wound.

    Parameters
    ----------
    name
        Of the coil.
    winding
        Worked out from what the file states.
    resistance_ohm
        Without current [ohm].
    inductance_H
        Self-inductance [H].
    recommended_current_A
        RMS current that the wire may carry for long [A].
    """

    name: str
    winding: Winding
    resistance_ohm: float
    inductance_H: float
    recommended_current_A: float


def wound_coils(machine: Machine) -> tuple[WoundCoil, ...]:
    """Return every coil whose wire is described, in order.

    Raises
    ------
    ImpossibleError
        If no coil has wire.

    Examples
    --------
    >>> from fieldsim.machine_file.reader import read
    >>> [coil.winding.turns for coil in wound_coils(read("geometries/lamp_ring.yaml"))]
    [1364]
    """
    if not machine.windings:
        raise ImpossibleError("no coil has wire; add for instance wire: {gauge: AWG 32} to one")
    return tuple(
        WoundCoil(
            coil.name,
            coil.winding,
            coil.resistance_ohm(machine.idle_wire_K),
            self_inductance(coil.placed).value_H,
            float(recommended_current_A(coil.winding.wire.bare_diameter_m)),
        )
        for coil in machine.coils
        if coil.wire
    )
