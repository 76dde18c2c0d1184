"""What the wire of each coil comes to: length, mass, resistance, what is left on the spool."""

from __future__ import annotations

from dataclasses import dataclass

from fieldsim.circuit.machine_circuit import coil_resistance_ohm
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
        At the file's temperature [ohm].
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


def wound_coils(geometry: Machine) -> tuple[WoundCoil, ...]:
    """Return every coil whose file gives its wire, in the order of the file.

    Raises
    ------
    ImpossibleError
        If no coil has wire.

    Examples
    --------
    >>> from fieldsim.machine.machine import Machine
    >>> wound_coils(Machine("empty", (), (), ()))
    Traceback (most recent call last):
    ...
    fieldsim.errors.ImpossibleError: no coil has wire; add for instance wire: {gauge: AWG 32} to one
    """
    fittings = geometry.fittings
    windings = fittings.windings if fittings is not None else {}
    if not windings:
        raise ImpossibleError("no coil has wire; add for instance wire: {gauge: AWG 32} to one")
    return tuple(
        WoundCoil(
            coil.name,
            windings[coil.name],
            coil_resistance_ohm(geometry, coil.name),
            self_inductance(coil).value_H,
            float(recommended_current_A(windings[coil.name].wire.bare_diameter_m)),
        )
        for coil in geometry.coils
        if coil.name in windings
    )
