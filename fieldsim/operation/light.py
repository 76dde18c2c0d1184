"""What lights at a speed, how brightly, what the meters show and what to heed."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fieldsim.cautions import Caution, Hazard
from fieldsim.circuit.cautions import circuit_cautions
from fieldsim.circuit.emf_source import PeriodicEmf
from fieldsim.circuit.lamp_speeds import LampSpeed
from fieldsim.circuit.machine_circuit import CoilCircuit, SteadyRun
from fieldsim.circuit.meters import (
    MeterReadings,
    meter_readings,
    with_meter,
    with_meter_behind_bridge,
)
from fieldsim.circuit.multimeter import Meter
from fieldsim.circuit.network import Circuit
from fieldsim.circuit.reduced_loads import has_bridge, without_users
from fieldsim.circuit.results import CircuitResult, LampReport, PartTrace
from fieldsim.circuit.solver import periodic_steady_state
from fieldsim.machine.load.circuit_parts import Capacitor, Open
from fieldsim.operation.coil_heat import CoilHeat, coil_heat
from fieldsim.operation.iron_loss import NO_LOSS, IronLoss
from fieldsim.operation.machine_at_speed import MachineAtSpeed
from fieldsim.operation.opposed_coils import opposed_coil_cautions

__all__ = ["LightReport", "MeterRow", "light", "lighting"]

Array = NDArray[np.float64]

_METER_TOLERANCE = 1e-3  # of readings: a meter's own error is larger


@dataclass(frozen=True)
class MeterRow:
    """What meters show between two points.

    Parameters
    ----------
    where
        The points, in words.
    loaded
        Whether the load is connected.
    readings
        Of all kinds of meter.
    """

    where: str
    loaded: bool
    readings: MeterReadings


@dataclass(frozen=True)
class LightReport:
    """What a builder wants to know of a machine at a speed.

    Parameters
    ----------
    title
        Of the machine.
    load_across
        What the load hangs across; empty without a load.
    has_load
        Whether the machine has a load.
    run
        The periodic steady state.
    meter
        What the readings are of.
    meters
        Its readings, coils first, open before loaded.
    coils
        Those that carry current.
    cautions
        Each once.
    lamp_speeds
        From which speed on each lamp lights, where one stays dark now; else empty.
    iron_loss
        What eddy currents in iron take; not asked for without meters.
    """

    title: str
    load_across: str
    has_load: bool
    run: SteadyRun
    meter: Meter
    meters: tuple[MeterRow, ...]
    coils: tuple[CoilHeat, ...]
    cautions: tuple[Caution, ...]
    lamp_speeds: tuple[LampSpeed, ...] = ()
    iron_loss: IronLoss = NO_LOSS

    @property
    def result(self) -> CircuitResult:
        """The solved circuit."""
        return self.run.result

    @property
    def lamps(self) -> tuple[LampReport, ...]:
        """Its lamps."""
        return self.run.result.lamps


def lighting(point: MachineAtSpeed) -> LightReport:
    """Return what lights at a speed, without what meters show.

    Parameters
    ----------
    point
        Of a machine with the wire of every coil of the load; without a load all coils stand open.

    Raises
    ------
    ImpossibleError
        If a coil of the load has no wire, or the rotors never come back together.
    """
    machine, result = point.machine, point.circuit_result
    steady = point.circuit_emf
    needed: tuple[LampSpeed, ...] = ()
    if steady.emf_V.any() and not all(lamp.lights for lamp in result.lamps):
        needed = point.lamp_speeds
    heats = tuple(
        heat for trace in result.coils.values() if (heat := coil_heat(trace, machine)) is not None
    )
    cautions = (
        *circuit_cautions(result),
        *_coil_cautions(heats),
        *opposed_coil_cautions(machine, point.waveform),
    )
    return LightReport(
        machine.title,
        machine.load.across,
        bool(machine.load),
        point.steady_state,
        Meter(),
        (),
        heats,
        cautions,
        needed,
    )


def light(point: MachineAtSpeed, seen: LightReport, meter: Meter | None = None) -> LightReport:
    """Return what lights at a speed, and what meters show; its iron is not looked at.

    Parameters
    ----------
    point
        The machine at its speed.
    seen
        From `lighting`.
    meter
        What the readings are taken with; 10 megohm and 0.4 s by default.
    """
    meter = meter or Meter()
    meters, idle = _meters(point.coil_circuit, point.circuit_emf, seen.result, meter)
    known = {(caution.kind, caution.where) for caution in seen.cautions}
    unused = tuple(
        replace(caution, facts={**caution.facts, "lamps_off": 1.0})
        for caution in (circuit_cautions(idle) if idle is not None else ())
        if caution.kind is Hazard.CAPACITOR_VOLTAGE and (caution.kind, caution.where) not in known
    )
    return replace(
        seen,
        meter=meter,
        meters=meters,
        cautions=(*seen.cautions, *unused),
    )


def _coil_cautions(heats: tuple[CoilHeat, ...]) -> list[Caution]:
    found = []
    for coil in heats:
        if coil.rms_current_A > coil.recommended_current_A:
            found.append(
                Caution(
                    Hazard.COIL_CURRENT, coil.name, coil.rms_current_A, coil.recommended_current_A
                )
            )
        if coil.caution is not None:
            found.append(coil.caution)
    return found


def _meters(
    coils: CoilCircuit, periodic: PeriodicEmf, result: CircuitResult, meter: Meter
) -> tuple[tuple[MeterRow, ...], CircuitResult | None]:
    """Return the readings across every outlet, open and loaded, and across what it feeds.

    With them, the circuit with its bridge and capacitors but nothing that uses their charge.
    """

    def solved(circuit: Circuit, near: CircuitResult | None = None) -> CircuitResult:
        return periodic_steady_state(circuit, periodic, tolerance=_METER_TOLERANCE, near=near)

    def row(where: str, loaded: bool, of: CircuitResult, voltage_V: Array) -> MeterRow:
        return MeterRow(where, loaded, meter_readings(of, voltage_V, meter.update_s))

    rows: list[MeterRow] = []
    unused: CircuitResult | None = None
    circuit = coils.circuit
    opened = circuit.opened()
    for outlet in circuit.outlets:
        name = outlet.name
        open_result = solved(with_meter(opened, name, meter.input_ohm))
        rows.append(row(f"{name}, ends", False, open_result, open_result.outlets[name].voltage_V))
        if isinstance(outlet.load, Open):
            continue
        metered = solved(with_meter(circuit, name, meter.input_ohm), result)
        rows.append(row(f"{name}, ends", True, metered, metered.outlets[name].voltage_V))
        if has_bridge(outlet.load):
            idle = circuit.with_load(name, without_users(outlet.load))
            for is_loaded, chosen, near in ((False, idle, None), (True, circuit, result)):
                found = solved(with_meter_behind_bridge(chosen, name, meter.input_ohm), near)
                unused = unused if is_loaded else found
                dc = found.outlets[name].dc_voltage_V
                if dc is not None:
                    rows.append(row("bridge output", is_loaded, found, dc))
        else:
            rows += [
                row(f"across {trace.label}", True, result, trace.voltage_V * trace.series)
                for trace in result.parts
                if trace.outlet == name and _worth_reading(trace, result)
            ]
    return tuple(rows), unused


def _worth_reading(trace: PartTrace, result: CircuitResult) -> bool:
    """Return whether a part behind a single diode is what a builder would measure across."""
    behind = [t for t in result.parts if t.outlet == trace.outlet]
    capacitors = [t for t in behind if isinstance(t.part, Capacitor)]
    return bool(capacitors) and trace is capacitors[0]
