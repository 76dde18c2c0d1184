"""Steps for rotors that do not help each other: turn one's magnets over, or turn it on its shaft.

Both change how the voltages of rotors add up, and nothing else. Which is worth while shows in the
EMF that each rotor makes alone, so that only steps that help are run through the whole model.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from fieldsim.machine.machine import Machine
from fieldsim.machine.part import replaced
from fieldsim.machine.rotors import Rotor
from fieldsim.operation.machine_at_speed import MachineAtSpeed
from fieldsim.operation.terminal_voltage import main_source, resistances_ohm, terminal_emf_V
from fieldsim.studies.levers import Lever, unchanged
from fieldsim.waveform.emf import EmfWaveform, emf_waveform
from fieldsim.waveform.figures import NO_VOLTAGE_V, rms
from fieldsim.words.numbers import plain_number

__all__ = ["NOTABLE_GAIN", "rotor_steps"]

Array = NDArray[np.float64]
_RotorChange = Callable[[Rotor], Rotor]

NOTABLE_GAIN = 1.02
"""By how much a step must raise the voltage before it is offered: less is in the noise of hand
work."""

_STEP_DEG = 1.0  # no hand sets a rotor on its shaft better
_MOST_SAMPLES = 200_000


def rotor_steps(point: MachineAtSpeed) -> tuple[Lever, ...]:
    """Return what turning one rotor's magnets over, or it on its shaft, can better.

    Parameters
    ----------
    point
        A machine at a speed. The voltage is that of what the load hangs on, open.

    Returns
    -------
    tuple of Lever
        For each rotor but the one that gives most, which the others are set to; only such steps as
        raise the voltage. None where the rotors come back together late or never: no angle between
        them lasts then.
    """
    shares = _shares(point)
    if shares is None:
        return ()
    now_V = max(float(rms(shares.emf_V.sum(axis=0))), NO_VOLTAGE_V)
    gives_V = rms(shares.emf_V)
    first = int(np.argmax(gives_V >= gives_V.max() * (1.0 - 1e-6)))
    found = []
    for row, rotor in enumerate(point.machine.rotors):
        if row == first:
            continue
        if shares.turned_over_V(row) > NOTABLE_GAIN * now_V:
            words = f'all magnets of rotor "{rotor.name}" turned over'
            found.append(_lever(f"poles of {rotor.name}", words, rotor.name, _turned_over))
        step_deg, best_V = shares.best_turn(row)
        if best_V > NOTABLE_GAIN * now_V:
            start = _signed(math.degrees(rotor.start) + step_deg)
            by, sense = plain_number(abs(step_deg), 3), "forward" if step_deg > 0 else "back"
            words = (
                f'rotor "{rotor.name}" turned {by} deg {sense} on its shaft '
                f"(start: {plain_number(start, 4)} deg)"
            )
            change = _turned_to(math.radians(start))
            found.append(_lever(f"start of {rotor.name}", words, rotor.name, change))
    return tuple(found)


@dataclass(frozen=True, eq=False)
class _Shares:
    """What each rotor makes of the voltage at the load's terminals, alone.

    Parameters
    ----------
    emf_V
        Over the period, (rotors, samples).
    turns
        Turns of each rotor in the period, signed as time runs.
    """

    emf_V: Array = field(repr=False)
    turns: tuple[int, ...]

    def others_V(self, row: int) -> Array:
        """Return what all but one make together, (samples,)."""
        return np.asarray(self.emf_V.sum(axis=0) - self.emf_V[row])

    def turned_over_V(self, row: int) -> float:
        """Return the RMS voltage with one rotor's magnets turned over."""
        return float(rms(self.others_V(row) - self.emf_V[row]))

    def best_turn(self, row: int) -> tuple[float, float]:
        """Return by how much to turn one rotor on its shaft for most, and the RMS voltage then.

        In whole degrees, the smallest of angles that are as good.
        """
        own, rest = self.emf_V[row], self.others_V(row)
        count = len(own)
        # A rotor that is ahead by an angle makes its voltage sooner by the time that this takes.
        spectrum = np.conj(np.fft.rfft(own)) * np.fft.rfft(rest)
        orders = np.arange(len(spectrum))
        degrees = np.arange(-180.0, 180.0, _STEP_DEG) + _STEP_DEG
        shift = np.radians(degrees) / self.turns[row]  # of the period, as an angle
        twice = np.where((orders == 0) | (2 * orders == count), 1.0, 2.0)
        matter = np.abs(spectrum) > 1e-9 * np.abs(spectrum).max(initial=0.0)
        phases = np.exp(-1j * shift[:, None] * orders[matter])
        together = (phases @ (twice * spectrum)[matter]).real / count**2
        square = np.mean(own**2) + np.mean(rest**2) + 2.0 * together
        near_best = np.flatnonzero(square >= square.max() * (1.0 - 1e-6))
        best = near_best[np.argmin(np.abs(degrees[near_best]))]
        return float(degrees[best]), float(np.sqrt(max(square[best], 0.0)))


def _shares(point: MachineAtSpeed) -> _Shares | None:
    machine, waveform = point.machine, point.waveform
    exact, count = waveform.period.exact, len(waveform.time_s)
    if len(machine.rotors) < 2 or not exact or count > _MOST_SAMPLES:
        return None
    _, source = main_source(point)
    ohm = resistances_ohm(machine)
    alone = [
        terminal_emf_V(_of_rotor(point, row, count), source, ohm)
        for row in range(len(machine.rotors))
    ]
    sense = 1 if waveform.speed.base_rad_per_s > 0 else -1
    turns = tuple(sense * int(ratio * waveform.period.turns) for ratio in waveform.speed.ratios)
    return _Shares(np.array(alone), turns)


def _of_rotor(point: MachineAtSpeed, row: int, count: int) -> EmfWaveform:
    """Return the EMF that one rotor makes alone."""
    chosen = np.arange(len(point.flux_table.rotors)) == row
    alone, moving = (
        replace(table, linkage_Wb=table.linkage_Wb * chosen[None, :, None])
        for table in (point.flux_table, point.moving_flux_table)
    )
    return emf_waveform(alone, point.machine, point.speed, samples=count, moving=moving)


def _signed(degrees: float) -> float:
    """Return an angle from above -180 to 180 degrees."""
    return 180.0 - (180.0 - degrees) % 360.0


def _lever(name: str, words: str, rotor: str, change: _RotorChange) -> Lever:
    def changed(machine: Machine) -> Machine:
        rotors = (change(each) if each.name == rotor else each for each in machine.rotors)
        return replaced(machine, rotors=tuple(rotors))

    return Lever(name, words, "", changed, unchanged)


def _turned_over(rotor: Rotor) -> Rotor:
    magnets = tuple(replaced(mount, north=mount.north.reversed) for mount in rotor.magnets)
    return replaced(rotor, magnets=magnets)


def _turned_to(start_rad: float) -> _RotorChange:
    return lambda rotor: replaced(rotor, start=start_rad)
