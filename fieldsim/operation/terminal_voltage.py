"""The voltage of joined coils with nothing connected."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from fieldsim.machine.connections import CoilRef, InParallel, InSeries, Source
from fieldsim.machine.machine import Machine
from fieldsim.operation.machine_at_speed import MachineAtSpeed
from fieldsim.waveform.emf import EmfWaveform
from fieldsim.waveform.figures import NO_VOLTAGE_V

__all__ = [
    "cancels",
    "drives_loops",
    "main_source",
    "open_emf_V",
    "resistances_ohm",
    "terminal_emf_V",
]

Array = NDArray[np.float64]

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
    return _equivalent(waveform, source, resistance_ohm)[0]


def _equivalent(
    waveform: EmfWaveform, source: Source, resistance_ohm: Mapping[str, float]
) -> tuple[Array, float]:
    """Return voltage and inner resistance of joined coils."""
    sign = -1.0 if source.reverse else 1.0
    if isinstance(source, CoilRef):
        emf_V = waveform.emf_V[waveform.coils.index(source.coil)]
        return np.asarray(sign * emf_V), resistance_ohm[source.coil]
    parts = [_equivalent(waveform, member, resistance_ohm) for member in source.members]
    voltages, inner = np.stack([v for v, _ in parts]), np.array([r for _, r in parts])
    if isinstance(source, InSeries):
        return np.asarray(sign * voltages.sum(axis=0)), float(inner.sum())
    # Millman's theorem: the mean of the members, weighted by their conductance.
    joined = 1.0 / np.sum(1.0 / inner)
    return np.asarray(sign * joined * np.sum(voltages / inner[:, None], axis=0)), float(joined)


def open_emf_V(point: MachineAtSpeed, name: str) -> Array:
    """Return the open-circuit voltage of a coil or connection by name, (samples,)."""
    source = point.machine.wiring.source(name)
    return terminal_emf_V(point.waveform, source, resistances_ohm(point.machine))


def cancels(point: MachineAtSpeed) -> bool:
    """Return whether rotors leave nothing but rounding where the load is."""
    name, _ = main_source(point)
    return bool(np.abs(open_emf_V(point, name)).max() < NO_VOLTAGE_V)


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
