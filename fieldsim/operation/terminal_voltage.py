"""The voltage of joined coils with nothing connected.

Coils in parallel share their open voltage by their resistances (Millman's theorem); what their
inductances do to it is left to the circuit.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from fieldsim.machine.connections import CoilRef, InParallel, InSeries, Source, coil_refs
from fieldsim.machine.machine import Machine
from fieldsim.waveform.emf import EmfWaveform, combined
from fieldsim.waveform.figures import NO_VOLTAGE_V, rms

if TYPE_CHECKING:
    from fieldsim.operation.machine_at_speed import MachineAtSpeed

__all__ = [
    "cancels",
    "connection_waveform",
    "drives_loops",
    "main_source",
    "nothing_drives",
    "open_emf_V",
    "resistances_ohm",
    "terminal_emf_V",
]

Array = NDArray[np.float64]

CANCELLED = 1e-4
"""Of the voltages of the parts, each by itself: when their sum is less, they cancel."""

_ROUNDING = 1e-9  # of the largest voltage


def main_source(point: MachineAtSpeed) -> tuple[str, Source]:
    """Return name and coils of what the load hangs on or, without one, the coil that gives most."""
    machine, waveform = point.machine, point.waveform
    if machine.load:
        return machine.load.across, machine.wiring.source(machine.load.across)
    name = waveform.coils[int(np.argmax((waveform.emf_V**2).sum(axis=1)))]
    return name, CoilRef(name)


def resistances_ohm(machine: Machine) -> dict[str, float]:
    """Return the resistance of every coil without current [ohm].

    All are alike where the wire of one is not known.
    """
    known = len(machine.windings) == len(machine.coils)
    return {
        coil.name: coil.resistance_ohm(machine.idle_wire_K) if known else 1.0
        for coil in machine.coils
    }


def terminal_emf_V(
    waveform: EmfWaveform, source: Source, resistance_ohm: Mapping[str, float]
) -> Array:
    """Return the open-circuit voltage of joined coils, (samples,).

    Parameters
    ----------
    waveform
        EMF of all coils.
    source
        How they are joined.
    resistance_ohm
        Of every coil, as from `resistances_ohm`: coils in parallel share by their resistances.
    """
    weights, _ = _equivalent(waveform.coils, source, resistance_ohm)
    return np.asarray(weights @ waveform.emf_V)


def connection_waveform(waveform: EmfWaveform, machine: Machine) -> EmfWaveform:
    """Return the open-circuit waveforms of a machine's connections.

    A connection with coils in parallel is left out where the wire of one of them is not known.

    Parameters
    ----------
    waveform
        EMF of all coils of the machine.
    machine
        With its connections.
    """
    ohm = {
        coil.name: coil.resistance_ohm(machine.idle_wire_K) for coil in machine.coils if coil.wire
    }
    weights = {}
    for connection in machine.connections:
        source = machine.wiring.source(connection.name)
        if all(coil in ohm for coil in _sharing(source)):
            # In series a resistance does not count.
            any_ohm = {name: ohm.get(name, 1.0) for name in waveform.coils}
            weights[connection.name] = _equivalent(waveform.coils, source, any_ohm)[0]
    return combined(waveform, weights)


def _sharing(source: Source) -> set[str]:
    """Return the coils whose resistance counts for the open voltage: those in parallel."""
    if isinstance(source, CoilRef):
        return set()
    if isinstance(source, InParallel):
        return {ref.coil for ref in coil_refs(source)}
    return {coil for member in source.members for coil in _sharing(member)}


def _equivalent(
    coils: tuple[str, ...], source: Source, resistance_ohm: Mapping[str, float]
) -> tuple[Array, float]:
    """Return how much each coil's EMF counts in joined coils, (coils,), and their resistance."""
    sign = -1.0 if source.reverse else 1.0
    if isinstance(source, CoilRef):
        own = np.array([float(coil == source.coil) for coil in coils])
        return sign * own, resistance_ohm[source.coil]
    parts = [_equivalent(coils, member, resistance_ohm) for member in source.members]
    weights, inner = np.stack([w for w, _ in parts]), np.array([r for _, r in parts])
    if isinstance(source, InSeries):
        return np.asarray(sign * weights.sum(axis=0)), float(inner.sum())
    # Millman's theorem: the mean of the members, weighted by their conductance.
    joined = 1.0 / np.sum(1.0 / inner)
    return np.asarray(sign * joined * np.sum(weights / inner[:, None], axis=0)), float(joined)


def open_emf_V(point: MachineAtSpeed, name: str) -> Array:
    """Return the open-circuit voltage of a coil or connection by name, (samples,)."""
    source = point.machine.wiring.source(name)
    return terminal_emf_V(point.waveform, source, resistances_ohm(point.machine))


def cancels(point: MachineAtSpeed) -> bool:
    """Return whether rotors or coils leave next to nothing of the voltage where the load is."""
    _, source = main_source(point)
    waveform = point.waveform
    weights, _ = _equivalent(waveform.coils, source, resistances_ohm(point.machine))
    left_V = float(rms(weights @ waveform.emf_V))
    apart_V = float(np.abs(weights) @ waveform.scale_V)
    return left_V < max(CANCELLED * apart_V, NO_VOLTAGE_V)


def nothing_drives(point: MachineAtSpeed) -> bool:
    """Return whether no current is driven: not into the load, nor round through coils alone."""
    return cancels(point) and not drives_loops(point)


def drives_loops(point: MachineAtSpeed) -> bool:
    """Return whether coils in parallel drive current round through each other."""
    machine, waveform = point.machine, point.waveform
    least_V = max(_ROUNDING * float(np.abs(waveform.emf_V).max()), NO_VOLTAGE_V)
    ohm = resistances_ohm(machine)

    def drives(source: Source) -> bool:
        if isinstance(source, CoilRef):
            return False
        if isinstance(source, InParallel):
            voltages = np.stack([terminal_emf_V(waveform, m, ohm) for m in source.members])
            if np.abs(voltages - voltages[0]).max() > least_V:
                return True
        return any(drives(member) for member in source.members)

    return any(drives(machine.wiring.source(name)) for name in machine.wiring.outermost)
