"""A hand starts the crank: the speed ramps up and wobbles, capacitors charge, lamps come on."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fieldsim.cautions import Doubt, Note
from fieldsim.circuit.emf_source import CrankStart, emf_while_turning
from fieldsim.circuit.machine_circuit import circuit_emf
from fieldsim.circuit.results import CircuitResult
from fieldsim.circuit.solver import start_up
from fieldsim.errors import ImpossibleError
from fieldsim.machine.load.circuit_parts import Led
from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.waveform.emf import Speed

__all__ = ["EYE_S", "LampOn", "LampStart", "lamp_start"]

Array = NDArray[np.float64]

EYE_S = 0.1
"""Time over which an eye averages light (common practice, no published source)."""

_STEPS_A_TURN = 100  # of the fastest rotor
_MOST_STEPS = 100_000
_TOLERANCE = 2e-4


@dataclass(frozen=True)
class LampOn:
    """When a lamp comes on.

    Parameters
    ----------
    label
        Of the lamp.
    first_lights_s
        First time at which its current, averaged over the last 0.1 s, is visible [s]; or None.
    average_at_end_A
        Its average current over the last stretch of the run [A].
    stretch_s
        How long that is [s]: whole electrical periods, or whole swings of a speed that wobbles, of
        at least 0.1 s together; what there is of it after the ramp.
    """

    label: str
    first_lights_s: float | None
    average_at_end_A: float
    stretch_s: float


@dataclass(frozen=True)
class LampStart:
    """A start from rest.

    Parameters
    ----------
    title
        Of the machine.
    crank
        How the crank turns: its speed here is that of the crank, or of a rotor of ratio one.
    result
        The solver's.
    lamps
        In the order of the result.
    notes
        What makes it doubtful.
    """

    title: str
    crank: CrankStart
    result: CircuitResult
    lamps: tuple[LampOn, ...]
    notes: tuple[Note, ...]


def lamp_start(
    point: OperatingPoint,
    duration_s: float,
    ramp_s: float = 1.0,
    wobble: float = 0.1,
) -> LampStart:
    """Return what happens from rest, coils without current and capacitors as described.

    Linkages and inductances are those at rest, so that eddy currents in iron are left out; a note
    says so.

    Parameters
    ----------
    point
        Of a machine with wire and a load, at the speed that is reached at the end of the ramp.
    duration_s
        How long to follow it [s].
    ramp_s
        Time from rest to full speed [s].
    wobble
        Relative amplitude of the speed's wobble, twice a base turn.

    Raises
    ------
    ImpossibleError
        If a time is not above zero or asks for more than 100 000 steps, or the wobble is not from
        0 to below 100 %.
    """
    speed = point.speed
    crank = _crank(speed, duration_s, ramp_s, wobble)
    fastest = max(abs(s) for s in speed.rotors_rad_per_s) * (1.0 + wobble) / (2 * math.pi)
    longest_s = 1.0 / (_STEPS_A_TURN * fastest)
    if duration_s / longest_s > _MOST_STEPS:
        most = _MOST_STEPS * longest_s
        raise ImpossibleError(
            f"{duration_s:.4g} s take more than {_MOST_STEPS} steps at this speed; allowed: up to "
            f"{most:.3g} s"
        )
    coils, emf = point.resting_circuit, point.resting_emf
    steady = circuit_emf(coils, emf)
    base = emf.waveform.speed.base_rad_per_s

    def slope(angle_rad: Array) -> Array:
        return np.asarray(-steady(angle_rad / base) / base)

    turning = emf_while_turning(slope, crank.angle_rad, crank.speed_at_rad_per_s)
    result = start_up(coils.circuit, turning, duration_s, longest_s, tolerance=_TOLERANCE)
    swing_s = math.pi / abs(base) if wobble else emf.waveform.period_s
    stretch_s = swing_s * math.ceil(EYE_S / swing_s)
    after_ramp_s = duration_s - ramp_s
    if stretch_s > after_ramp_s:
        stretch_s = min(max(after_ramp_s, EYE_S), duration_s)
    lamps = tuple(
        _lamp_on(result, trace.label, trace.part, trace.current_A, stretch_s)
        for trace in result.parts
        if isinstance(trace.part, Led)
    )
    still = (Note(Doubt.STILL_IRON, 1.0),) if point.eddies else ()
    notes = (*emf.notes, *result.warnings, *still)
    return LampStart(point.machine.title, crank, result, lamps, notes)


def _crank(speed: Speed, duration_s: float, ramp_s: float, wobble: float) -> CrankStart:
    if not 0 < duration_s < math.inf:
        raise ImpossibleError(f"a start-up of {duration_s:g} s; it must be above zero")
    try:
        twice_a_turn_Hz = abs(speed.base_rad_per_s) / math.pi
        return CrankStart(speed.base_rad_per_s, ramp_s, wobble, twice_a_turn_Hz)
    except ValueError as error:
        raise ImpossibleError(str(error)) from None


def _lamp_on(
    result: CircuitResult, label: str, led: Led, current_A: Array, stretch_s: float
) -> LampOn:
    """Return when the moving average of a lamp's current first reaches what is visible."""
    light = np.maximum(current_A, 0.0)
    ends = result.time_s[1::2]
    charge = np.concatenate([[0.0], np.cumsum(result.weight_s * light)[1::2]])
    times = np.concatenate([[0.0], ends])
    average = (charge - np.interp(times - EYE_S, times, charge)) / EYE_S
    seen = np.flatnonzero(average >= led.visible_A)
    passed = float(charge[-1] - np.interp(times[-1] - stretch_s, times, charge))
    on_s = float(times[seen[0]]) if len(seen) else None
    return LampOn(label, on_s, passed / stretch_s, stretch_s)
