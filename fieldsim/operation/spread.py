"""How far the lamps' currents may be off for what is usually known of the magnets."""

from __future__ import annotations

from dataclasses import dataclass

from fieldsim.circuit.emf_source import PeriodicEmf
from fieldsim.circuit.results import CircuitResult
from fieldsim.circuit.solver import periodic_steady_state
from fieldsim.machine.assumptions import REMANENCE
from fieldsim.operation.machine_at_speed import MachineAtSpeed

__all__ = ["LoadRange", "load_ranges"]

_TOLERANCE = 1e-3  # of a range that is itself a rule of thumb


@dataclass(frozen=True)
class LoadRange:
    """What a load gets with magnets as weak and as strong as they usually come.

    Parameters
    ----------
    label
        Of the lamp; empty for the useful power of a load without lamps.
    least, most
        Average current of each lamp [A], or useful power [W].
    """

    label: str
    least: float
    most: float


def load_ranges(point: MachineAtSpeed) -> tuple[LoadRange, ...]:
    """Return the range of every lamp's average current, or of the power of a load without lamps.

    EMF is proportional to remanence, so that no field is computed anew.

    Parameters
    ----------
    point
        Of a machine with a load; without a voltage there is nothing to say.
    """
    if not point.machine.load or not point.circuit_emf.emf_V.any():
        return ()
    found = [_with_emf(point, 1 + sign * REMANENCE.within) for sign in (-1, 1)]
    weak, strong = found
    if not weak.lamps:
        return (_ordered("", weak.useful_power_W, strong.useful_power_W),)
    pairs = zip(weak.lamps, strong.lamps, strict=True)
    return tuple(_ordered(w.label, w.average_current_A, s.average_current_A) for w, s in pairs)


def _with_emf(point: MachineAtSpeed, factor: float) -> CircuitResult:
    emf = point.circuit_emf
    return periodic_steady_state(
        point.coil_circuit.circuit,
        PeriodicEmf(emf.period_s, factor * emf.emf_V),
        tolerance=_TOLERANCE,
        near=point.circuit_result,
    )


def _ordered(label: str, one: float, other: float) -> LoadRange:
    return LoadRange(label, min(one, other), max(one, other))
