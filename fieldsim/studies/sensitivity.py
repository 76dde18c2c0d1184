"""What helps most: by how much each practical step changes the voltage and the light."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from fieldsim.errors import ImpossibleError
from fieldsim.geometry.clearance import check_collisions
from fieldsim.geometry.connections import CoilRef, InSeries, Source
from fieldsim.geometry.machine import Geometry
from fieldsim.studies.levers import Change, levers
from fieldsim.waveform.emf import EmfWaveform, Speed, crank_speed, emf_waveform, rotor_speed
from fieldsim.waveform.figures import NO_VOLTAGE_V
from fieldsim.waveform.flux_table import FluxTable, flux_table

if TYPE_CHECKING:
    from fieldsim.circuit.results import CircuitResult
    from fieldsim.studies.machine_circuit import CoilCircuit

__all__ = [
    "Effect",
    "LeverEffect",
    "Sensitivity",
    "main_source",
    "sensitivity",
    "terminal_emf_V",
]

Array = NDArray[np.float64]

DEFAULT_SENSITIVITY_TOLERANCE = 1e-4
_CIRCUIT_TOLERANCE = 3e-4  # of powers and currents: the tenth of a per cent that is shown, thrice
_LEAST_LAMP_A = 1e-6  # a lamp; below it a relative change of the light means nothing


@dataclass(frozen=True)
class Effect:
    """What one step does.

    Parameters
    ----------
    words
        The step.
    rms_V
        RMS voltage with nothing connected after it; NaN if it cannot be taken.
    lamp_A
        Average current of all lamps together after it; NaN if unknown.
    voltage_gain, light_gain
        Relative changes, 0.1 for ten per cent more; NaN if unknown.
    problem
        Why the step cannot be taken; empty if it can.
    """

    words: str
    rms_V: float
    lamp_A: float
    voltage_gain: float
    light_gain: float
    problem: str = ""


@dataclass(frozen=True)
class LeverEffect:
    """One lever and its two steps."""

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
    lamp_A
        Average current of all lamps together now; NaN without lamps.
    by_light
        Whether the ranking is by the light; else by the voltage.
    levers
        Ranked.
    """

    what: str
    rms_V: float
    lamp_A: float
    by_light: bool
    levers: tuple[LeverEffect, ...]

    def gain(self, effect: Effect) -> float:
        """Return an effect's gain in what the ranking goes by; NaN if unknown."""
        return effect.light_gain if self.by_light else effect.voltage_gain

    def best(self, lever: LeverEffect) -> Effect:
        """Return the step of a lever that helps more."""
        return max((lever.more, lever.less), key=lambda e: _or_least(self.gain(e)))

    def helpful(self) -> tuple[Effect, ...]:
        """Return the steps that help, best first."""
        steps = [self.best(lever) for lever in self.levers]
        return tuple(s for s in steps if self.gain(s) > 0)


def sensitivity(
    geometry: Geometry,
    speed: Speed,
    *,
    table: FluxTable | None = None,
    tolerance: float = DEFAULT_SENSITIVITY_TOLERANCE,
    progress: Callable[[int, int], None] | None = None,
) -> Sensitivity:
    """Return what each practical step changes, the most helpful first.

    Parameters
    ----------
    geometry
        The machine.
    speed
        Of its rotors now.
    table
        Its flux table, if there is one already.
    tolerance
        Of the flux tables of the changed machines, relative to peak-to-peak.
    progress
        Called with (steps done, steps in all).

    Notes
    -----
    Every step is a new run of the model, not a derivative: a millimetre can be far from linear.
    The light is the average current of all lamps together. Without lamps that carry current the
    ranking is by the open-circuit RMS voltage of what the load hangs on or, without a load, of the
    coil that gives most. A step that makes parts collide is kept, with the reason.
    """
    table = flux_table(geometry, tolerance=tolerance) if table is None else table
    model = _Model(geometry, emf_waveform(table, geometry, speed), tolerance)
    rms_V, lamp_A, lamps = model.measured(geometry, table, speed)
    found = []
    offered = levers(geometry)
    for done, lever in enumerate(offered):
        steps = []
        for words, change, factor in (
            (lever.more_words, lever.more, lever.speed_more),
            (lever.less_words, lever.less, lever.speed_less),
        ):
            now = _scaled(geometry, speed, factor)
            steps.append(model.effect(words, change, now, table, (rms_V, lamp_A)))
            if progress is not None:
                progress(2 * done + len(steps), 2 * len(offered))
        found.append(LeverEffect(lever.name, *steps))
    by_light = lamps > 0 and lamp_A > lamps * _LEAST_LAMP_A
    unranked = Sensitivity(model.what, rms_V, lamp_A, by_light, tuple(found))
    found.sort(key=lambda lever: -_or_least(unranked.gain(unranked.best(lever))))
    return Sensitivity(model.what, rms_V, lamp_A, by_light, tuple(found))


def main_source(geometry: Geometry, waveform: EmfWaveform) -> tuple[str, Source]:
    """Return name and coils of what the load hangs on or, without one, the coil that gives most."""
    fittings = geometry.fittings
    if fittings is not None and fittings.load is not None:
        return fittings.across, fittings.connections.source(fittings.across)
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
    return np.asarray(sign * max(parts, key=_rms))


class _Model:
    """Measures changed machines the way the first one was measured."""

    def __init__(self, geometry: Geometry, waveform: EmfWaveform, tolerance: float) -> None:
        self._geometry, self._tolerance = geometry, tolerance
        self.what, self._source = main_source(geometry, waveform)
        self._circuit: CoilCircuit | None = None
        self._first: CircuitResult | None = None
        if geometry.fittings is not None and geometry.fittings.load is not None:
            from fieldsim.studies.machine_circuit import coil_circuit

            self._circuit = coil_circuit(geometry)

    def measured(
        self, geometry: Geometry, table: FluxTable, speed: Speed
    ) -> tuple[float, float, int]:
        """Return the open RMS voltage, the average current of all lamps, and their number."""
        waveform = emf_waveform(table, geometry, speed)
        rms = _rms(terminal_emf_V(waveform, self._source))
        if self._circuit is None or rms < NO_VOLTAGE_V:  # rounding drives no circuit
            return rms, math.nan, 0
        from fieldsim.circuit.solver import periodic_steady_state
        from fieldsim.studies.machine_circuit import circuit_emf, coil_circuit, machine_emf

        first = self._geometry
        rewound = geometry.coils != first.coils or geometry.fittings is not first.fittings
        circuit = coil_circuit(geometry) if rewound else self._circuit
        emf = circuit_emf(circuit, machine_emf(geometry, table, speed))
        result = periodic_steady_state(
            circuit.circuit, emf, tolerance=_CIRCUIT_TOLERANCE, near=self._first
        )
        self._first = self._first or result
        lamps = sum(lamp.count for lamp in result.lamps)
        current = sum(lamp.count * lamp.average_A for lamp in result.lamps)
        return rms, float(current) if lamps else math.nan, lamps

    def effect(
        self,
        words: str,
        change: Change,
        speed: Speed,
        table: FluxTable,
        before: tuple[float, float],
    ) -> Effect:
        """Return what a step does; a step that cannot be taken says why."""
        try:
            changed = change(self._geometry)
            if changed is not self._geometry:
                check_collisions(changed)
                table = flux_table(changed, tolerance=self._tolerance)
            rms_V, lamp_A, _ = self.measured(changed, table, speed)
        except ImpossibleError as error:
            problem = str(error).removeprefix(f"{self._geometry.file}: ")
            return Effect(words, math.nan, math.nan, math.nan, math.nan, problem)
        return Effect(
            words, rms_V, lamp_A, _gain(rms_V, before[0], NO_VOLTAGE_V),
            _gain(lamp_A, before[1], 0.0),
        )  # fmt: skip


def _scaled(geometry: Geometry, speed: Speed, factor: float) -> Speed:
    if factor == 1.0:
        return speed
    make = crank_speed if speed.given_as == "crank" else rotor_speed
    return make(geometry, speed.base_rad_per_s * factor)


def _rms(values: Array) -> float:
    return float(np.sqrt(np.mean(values * values)))


def _gain(new: float, old: float, least: float) -> float:
    return new / old - 1.0 if old > least else math.nan


def _or_least(gain: float) -> float:
    return -math.inf if math.isnan(gain) else gain
