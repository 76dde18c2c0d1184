"""Joined coils that work against each other, and whose ends to swap."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from fieldsim.cautions import Caution, Fact, Hazard
from fieldsim.machine.connections import Connection
from fieldsim.machine.machine import Machine
from fieldsim.operation.terminal_voltage import resistances_ohm, terminal_emf_V
from fieldsim.waveform.emf import EmfWaveform
from fieldsim.waveform.figures import NO_VOLTAGE_V, rms

__all__ = ["opposed_coil_cautions"]

Array = NDArray[np.float64]

NOTABLE_GAIN = 1.05
"""By how much swapping a member's ends must help before a word is due."""


def opposed_coil_cautions(machine: Machine, waveform: EmfWaveform) -> tuple[Caution, ...]:
    """Return a caution for each connection in which swapping one member's ends helps.

    Parameters
    ----------
    machine
        With its connections.
    waveform
        EMF of all its coils.

    Returns
    -------
    tuple of Caution
        In series the value is the RMS voltage after the swap, in parallel the RMS voltage that
        drives current round through the members as they are joined.
    """
    ohm = resistances_ohm(machine)
    found = (_of_connection(machine, waveform, ohm, joined) for joined in machine.connections)
    return tuple(caution for caution in found if caution)


def _of_connection(
    machine: Machine,
    waveform: EmfWaveform,
    resistance_ohm: Mapping[str, float],
    joined: Connection,
) -> Caution | None:
    voltages = np.stack(
        [
            (-1.0 if member.reverse else 1.0)
            * terminal_emf_V(waveform, machine.wiring.source(member.name), resistance_ohm)
            for member in joined.members
        ]
    )
    if np.abs(voltages).max() < NO_VOLTAGE_V:
        return None
    # One row for each member that is turned round.
    swapped = voltages * (1.0 - 2.0 * np.eye(len(voltages)))[:, :, None]
    if joined.series:
        now_V, after_V = rms(voltages.sum(axis=0)), rms(swapped.sum(axis=1))
        best = int(np.argmax(after_V))
        value, limit = float(after_V[best]), NOTABLE_GAIN * float(now_V)
    else:
        now_V, after_V = _round_V(voltages), _round_V(swapped)
        best = int(np.argmin(after_V))
        value, limit = float(now_V), NOTABLE_GAIN * float(after_V[best])
    if value <= limit:
        return None
    facts: dict[str, Fact] = {
        "now_V": float(now_V),
        "after_V": float(after_V[best]),
        "joining": joined.joining,
        "member": joined.members[best].name,
    }
    return Caution(Hazard.OPPOSED_COILS, joined.name, value, limit, facts)


def _round_V(voltages_V: Array) -> Array:
    """Return the RMS by which the members' voltages miss their mean: (..., members, samples)."""
    apart = voltages_V - voltages_V.mean(axis=-2, keepdims=True)
    return np.asarray(np.sqrt(np.mean(apart**2, axis=(-2, -1))))
