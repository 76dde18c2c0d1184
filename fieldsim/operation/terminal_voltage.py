"""The voltage of joined coils with nothing connected."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fieldsim.machine.connections import CoilRef, InSeries, Source
from fieldsim.operation.machine_at_speed import MachineAtSpeed
from fieldsim.waveform.emf import EmfWaveform
from fieldsim.waveform.figures import NO_VOLTAGE_V

__all__ = ["cancels", "main_source", "terminal_emf_V"]

Array = NDArray[np.float64]


def main_source(point: MachineAtSpeed) -> tuple[str, Source]:
    """Return name and coils of what the load hangs on or, without one, the coil that gives most."""
    machine, waveform = point.machine, point.waveform
    if machine.load:
        return machine.load.across, machine.wiring.source(machine.load.across)
    name = waveform.coils[int(np.argmax((waveform.emf_V**2).sum(axis=1)))]
    return name, CoilRef(name)


def terminal_emf_V(waveform: EmfWaveform, source: Source) -> Array:
    """Return the open-circuit voltage of joined coils, (samples,).

    Of coils in parallel the one with the largest RMS counts: they are meant to be alike.
    """
    sign = -1.0 if source.reverse else 1.0
    if isinstance(source, CoilRef):
        return np.asarray(sign * waveform.emf_V[waveform.coils.index(source.coil)])
    parts = [terminal_emf_V(waveform, member) for member in source.members]
    if isinstance(source, InSeries):
        return np.asarray(sign * np.sum(parts, axis=0))
    return np.asarray(sign * max(parts, key=lambda part: float(np.mean(part * part))))


def cancels(point: MachineAtSpeed) -> bool:
    """Return whether rotors leave nothing but rounding where the load is."""
    _, source = main_source(point)
    return bool(np.abs(terminal_emf_V(point.waveform, source)).max() < NO_VOLTAGE_V)
