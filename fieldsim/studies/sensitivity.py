"""What helps most: by how much each practical step changes the voltage and the light."""

from __future__ import annotations

import enum
import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from fieldsim.errors import ImpossibleError
from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.operation.opposed_coils import opposed_coil_cautions
from fieldsim.operation.terminal_voltage import main_source, open_emf_V
from fieldsim.studies.iron_levers import iron_levers
from fieldsim.studies.levers import Change, levers, swaps
from fieldsim.studies.rotor_steps import rotor_steps
from fieldsim.waveform.figures import NO_VOLTAGE_V, rms
from fieldsim.waveform.machine_size import refuse_many

__all__ = ["Effect", "Kind", "LeverEffect", "Sensitivity", "no_steps", "sensitivity"]

DEFAULT_SENSITIVITY_TOLERANCE = 1e-4
_CIRCUIT_TOLERANCE = 3e-4  # of powers and currents: the tenth of a per cent that is shown, thrice
# Below these a relative change of the light, or of a load's power, means nothing.
_LEAST_LAMP_A = 1e-6  # a lamp
_LEAST_LOAD_W = 1e-9
_FROM_NOTHING = 1e-6  # of a voltage: less than that before is no voltage beside it


class Kind(enum.StrEnum):
    """What steps are ranked by."""

    LIGHT = "light"
    POWER = "power"
    VOLTAGE = "voltage"


@dataclass(frozen=True)
class Effect:
    """What one step does.

    Parameters
    ----------
    words
        The step.
    rms_V
        RMS voltage with nothing connected after it; NaN if it cannot be taken.
    lamp_current_average_A
        Average current of all lamps together after it; NaN if unknown.
    load_W
        Average power that the load makes use of after it; NaN if unknown.
    lit
        How many lamps light after it.
    voltage_gain, light_gain, power_gain
        Relative changes, 0.1 for ten per cent more; NaN if unknown.
    problem
        Why the step cannot be taken; empty if it can.
    """

    words: str
    rms_V: float = math.nan
    lamp_current_average_A: float = math.nan
    load_W: float = math.nan
    lit: int = 0
    voltage_gain: float = math.nan
    light_gain: float = math.nan
    power_gain: float = math.nan
    problem: str = ""


@dataclass(frozen=True)
class LeverEffect:
    """One lever and its two steps; the second has no words where there is none."""

    name: str
    more: Effect
    less: Effect


@dataclass(frozen=True)
class Sensitivity:
    """All levers, the most helpful first.

    Parameters
    ----------
    what
        Name of the coil or connection whose voltage it is.
    rms_V
        Its RMS voltage now, nothing connected.
    lamp_current_average_A
        Average current of all lamps together now; NaN without lamps.
    load_W
        Average power that the load makes use of now; NaN without a load.
    kind
        What the ranking goes by.
    levers
        Ranked.
    """

    what: str
    rms_V: float
    lamp_current_average_A: float
    load_W: float
    kind: Kind
    levers: tuple[LeverEffect, ...]

    def gain(self, effect: Effect) -> float:
        """Return an effect's gain in what the ranking goes by; NaN if unknown."""
        gains = {
            Kind.LIGHT: effect.light_gain,
            Kind.POWER: effect.power_gain,
            Kind.VOLTAGE: effect.voltage_gain,
        }
        return gains[self.kind]

    def best(self, lever: LeverEffect) -> Effect:
        """Return the step of a lever that helps more."""
        return max((lever.more, lever.less), key=lambda e: _or_least(self.gain(e)))

    def helpful(self) -> tuple[Effect, ...]:
        """Return the steps that help, best first."""
        steps = [self.best(lever) for lever in self.levers]
        return tuple(s for s in steps if self.gain(s) > 0)


def sensitivity(
    point: OperatingPoint,
    *,
    tolerance: float = DEFAULT_SENSITIVITY_TOLERANCE,
    progress: Callable[[int, int], None] | None = None,
) -> Sensitivity:
    """Return what each practical step changes, the most helpful first.

    Parameters
    ----------
    point
        The machine at its speed now.
    tolerance
        Of the flux tables of the changed machines, relative to peak-to-peak.
    progress
        Called with (steps done, steps in all).

    Raises
    ------
    ImpossibleError
        If so many machines like this one would take minutes.

    Notes
    -----
    Every step is a new run of the model, not a derivative: a millimetre can be far from linear.
    The light is the average current of all lamps together; of a load without lamps it is the power
    that it makes use of that counts. Without a load, or where it gets nothing, the ranking is by
    the open-circuit RMS voltage of what the load hangs on or of the coil that gives most. A step
    that makes parts collide is kept, with the reason.
    """
    rough = replace(point, tolerance=tolerance, circuit_tolerance=_CIRCUIT_TOLERANCE, near=point)
    what, before = _now(rough)
    found = []
    opposed = opposed_coil_cautions(point.machine, point.waveform)
    machine = point.machine
    offered = (*levers(machine), *iron_levers(machine), *swaps(opposed), *rotor_steps(point))
    refuse_many(machine, tolerance, 2 * len(offered))
    for done, lever in enumerate(offered):
        steps = []
        for words, change, factor in (
            (lever.more_words, lever.more, lever.speed_more),
            (lever.less_words, lever.less, lever.speed_less),
        ):
            effect = _effect(rough, what, before, words, change, factor) if words else Effect("")
            steps.append(effect)
            if progress is not None:
                progress(2 * done + len(steps), 2 * len(offered))
        found.append(LeverEffect(lever.name, *steps))
    unranked = _ranked(what, before, found)
    # of steps that help alike, which rounding must not choose, the first that is offered
    found.sort(key=lambda lever: -float(f"{_or_least(unranked.gain(unranked.best(lever))):.9g}"))
    return replace(unranked, levers=tuple(found))


def no_steps(point: OperatingPoint) -> Sensitivity:
    """Return what steps would be ranked by, without any.

    Parameters
    ----------
    point
        The machine at its speed.
    """
    return _ranked(*_now(point), [])


def _now(point: OperatingPoint) -> tuple[str, _Measured]:
    what, _ = main_source(point)
    return what, _measured(point, what)


def _ranked(what: str, now: _Measured, levers: list[LeverEffect]) -> Sensitivity:
    return Sensitivity(
        what, now.rms_V, now.lamp_current_average_A, now.load_W, now.kind, tuple(levers)
    )


@dataclass(frozen=True)
class _Measured:
    """What a machine gives: as in `Effect`, with the number of its lamps."""

    rms_V: float
    lamp_current_average_A: float = math.nan
    load_W: float = math.nan
    lamps: int = 0
    lit: int = 0

    @property
    def kind(self) -> Kind:
        """What changes of the machine are best ranked by."""
        if self.lamps:
            return (
                Kind.LIGHT
                if self.lamp_current_average_A > self.lamps * _LEAST_LAMP_A
                else Kind.VOLTAGE
            )
        return Kind.POWER if self.load_W > _LEAST_LOAD_W else Kind.VOLTAGE


def _measured(point: OperatingPoint, what: str) -> _Measured:
    """Return what a machine gives, the voltage being that of a coil or connection."""
    rms_V = float(rms(open_emf_V(point, what)))
    if not point.machine.load or rms_V < NO_VOLTAGE_V:  # rounding drives no circuit
        return _Measured(rms_V)
    result = point.circuit_result
    lamps = sum(lamp.count for lamp in result.lamps)
    current = sum(lamp.count * lamp.average_current_A for lamp in result.lamps)
    return _Measured(
        rms_V,
        float(current) if lamps else math.nan,
        result.useful_power_W,
        lamps,
        sum(lamp.count for lamp in result.lamps if lamp.lights),
    )


def _effect(
    point: OperatingPoint,
    what: str,
    before: _Measured,
    words: str,
    change: Change,
    speed_factor: float,
) -> Effect:
    """Return what a step does; a step that cannot be taken says why."""
    machine = point.machine
    try:
        after = _measured(point.moved_to(change(machine), speed_factor), what)
    except ImpossibleError as error:
        return Effect(words, problem=error.lines[0].removeprefix(f"{machine.file}: "))
    return Effect(
        words,
        after.rms_V,
        after.lamp_current_average_A,
        after.load_W,
        after.lit,
        _voltage_gain(after.rms_V, before.rms_V),
        _gain(
            after.lamp_current_average_A,
            before.lamp_current_average_A,
            before.lamps * _LEAST_LAMP_A,
        ),
        _gain(after.load_W, before.load_W, _LEAST_LOAD_W),
    )


def _voltage_gain(new_V: float, old_V: float) -> float:
    """Return the relative change; from nothing but rounding to something it is a large number."""
    if old_V <= NO_VOLTAGE_V < _FROM_NOTHING * new_V:
        return new_V / NO_VOLTAGE_V
    return _gain(new_V, old_V, NO_VOLTAGE_V)


def _gain(new: float, old: float, least: float) -> float:
    return new / old - 1.0 if old > least else math.nan


def _or_least(gain: float) -> float:
    return -math.inf if math.isnan(gain) else gain
