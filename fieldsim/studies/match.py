"""What matches a coil: load and gauge for most power or light, the speed that lamps need."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fieldsim.cautions import Note
from fieldsim.circuit.emf_source import PeriodicEmf
from fieldsim.circuit.equivalent import equivalent_resistance_ohm
from fieldsim.circuit.lamp_speeds import LampSpeed
from fieldsim.circuit.network import Circuit, Outlet
from fieldsim.circuit.reduced_loads import with_resistor
from fieldsim.circuit.results import CircuitResult
from fieldsim.circuit.solver import periodic_steady_state
from fieldsim.circuit.tolerances import TABLE_TOLERANCE
from fieldsim.errors import ImpossibleError
from fieldsim.machine.gauge import Gauge, gauges_of
from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.studies.gauges import GaugeStudy, gauge_in_use, gauge_study
from fieldsim.studies.joint_match import JointMatch, joint_match
from fieldsim.studies.lamp_counts import LampCount, lamp_counts
from fieldsim.waveform.emf import Speed

__all__ = ["MatchStudy", "ResistanceCurve", "match"]

Array = NDArray[np.float64]
Progress = Callable[[int, int], None]

GAUGES = "24..44"  # in the series of the file's own wire

_POINTS = 13
_COUNTED = 30  # circuits, about, until it is known how many lamps light
_JOINT = 20  # circuits that machines of all together cost, about: many at once
_DECADES_DOWN, _DECADES_UP = 1.0, 1.5  # of the coil's own resistance


@dataclass(frozen=True, eq=False)
class ResistanceCurve:
    """Power into a resistor in place of the load's users, against its resistance.

    Parameters
    ----------
    load_resistance_ohm, power_W
        The curve, each (points,); resistances rise.
    best_load_resistance_ohm, best_load_power_W
        Its top.
    own_load_resistance_ohm, own_load_power_W
        What the file's own load comes to: the resistance that takes its current at its voltage, and
        its power. None where the load takes none.
    """

    load_resistance_ohm: Array = field(repr=False)
    power_W: Array = field(repr=False)
    best_load_resistance_ohm: float
    best_load_power_W: float
    own_load_resistance_ohm: float | None
    own_load_power_W: float


@dataclass(frozen=True)
class MatchStudy:
    """What matches a machine's coils at a speed.

    Parameters
    ----------
    title, load_across
        Of the machine, and what the load hangs across.
    speed
        Of the rotors.
    coil_resistance_ohm
        Resistance of the joined coils, as warm as the file's own load makes them [ohm].
    curve
        Over load resistance.
    gauges
        Over wire gauge, each filling the section.
    lamps
        In the order of the circuit.
    lamp_counts
        How many lamps of this kind light, for each number in series; empty without ``load.lamps``.
    together
        What gives most where gauge, turns and load are varied together; None where that is nothing
        or cannot be told.
    notes
        What to know about the period.
    """

    title: str
    load_across: str
    speed: Speed
    coil_resistance_ohm: float
    curve: ResistanceCurve
    gauges: GaugeStudy
    lamps: tuple[LampSpeed, ...]
    lamp_counts: tuple[LampCount, ...]
    together: JointMatch | None
    notes: tuple[Note, ...]


def match(
    point: OperatingPoint,
    gauges: Iterable[int | str | Gauge] | None = None,
    progress: Progress | None = None,
) -> MatchStudy:
    """Return the load for most power, the gauge for most light, and the speeds that lamps need.

    Parameters
    ----------
    point
        Of a machine with wire and a load, at the speed at which power is compared.
    gauges
        Wire sizes to try, as for `gauge_study`; by default those between AWG 24 and AWG 44.
    progress
        Called with (solutions done, solutions in all, as far as is known).

    Raises
    ------
    ImpossibleError
        If there is no load, or a coil of it has no wire.
    """
    machine = point.machine
    if not machine.load:
        raise ImpossibleError(
            "there is no load to match; add for instance load: {across: "
            f"{machine.coils[0].name}, lamps: {{colour: white}}}}"
        )
    coils, emf, steady = point.coil_circuit, point.machine_emf, point.circuit_emf
    outlet = next(o for o in coils.circuit.outlets if o.name == machine.load.across)
    sizes = list(gauges_of(GAUGES, gauge_in_use(machine)) if gauges is None else gauges)
    in_all = len(sizes) + _POINTS + _COUNTED + _JOINT

    def step(done: int) -> None:
        if progress is not None:
            progress(min(done, in_all), in_all)

    warm = point.circuit_result.circuit.coils
    coil_ohm = equivalent_resistance_ohm(outlet.source, warm.names, warm.resistance_ohm)
    curve = _curve(coils.circuit, outlet, steady, coil_ohm)
    step(_POINTS)
    study = gauge_study(point, sizes, lambda done, _: step(_POINTS + done))
    lamps = point.lamp_speeds
    counts = lamp_counts(point, lambda done: step(_POINTS + len(sizes) + done))
    before = in_all - _JOINT
    together = joint_match(point, study, lambda done, of: step(before + _JOINT * done // of))
    step(in_all)
    return MatchStudy(
        machine.title,
        outlet.name,
        emf.waveform.speed,
        coil_ohm,
        curve,
        study,
        lamps,
        counts,
        together,
        emf.notes,
    )


def _solved(circuit: Circuit, emf: PeriodicEmf) -> CircuitResult:
    return periodic_steady_state(circuit, emf, tolerance=TABLE_TOLERANCE)


def _curve(circuit: Circuit, outlet: Outlet, emf: PeriodicEmf, coil_ohm: float) -> ResistanceCurve:
    from scipy.optimize import minimize_scalar

    def power_W(log_ohm: float) -> float:
        load = with_resistor(outlet.load, 10.0**log_ohm)
        return _solved(circuit.with_load(outlet.name, load), emf).useful_power_W

    middle = math.log10(coil_ohm)
    logs = np.linspace(middle - _DECADES_DOWN, middle + _DECADES_UP, _POINTS)
    powers = np.array([power_W(x) for x in logs])
    # A top at the edge: rectifier drops move it up where the EMF barely passes them.
    while powers.argmax() == len(powers) - 1 and len(logs) < 4 * _POINTS and powers.max() > 0:
        logs = np.append(logs, logs[-1] + (logs[1] - logs[0]))
        powers = np.append(powers, power_W(logs[-1]))
    top = int(np.clip(powers.argmax(), 1, len(logs) - 2))
    found = minimize_scalar(
        lambda x: -power_W(x), bounds=(logs[top - 1], logs[top + 1]), method="bounded",
        options={"xatol": 0.01, "maxiter": 12},
    )  # fmt: skip
    best = (float(found.x), float(-found.fun))
    if best[1] < powers[top]:
        best = (float(logs[top]), float(powers[top]))
    logs, powers = np.append(logs, best[0]), np.append(powers, best[1])
    order = np.argsort(logs)
    own = _solved(circuit, emf)
    return ResistanceCurve(
        10.0 ** logs[order],
        powers[order],
        10.0 ** best[0],
        best[1],
        _load_ohm(own, outlet.name),
        own.useful_power_W,
    )


def _load_ohm(result: CircuitResult, outlet: str) -> float | None:
    """Return the resistance that takes the users' power at the voltage behind the rectifier."""
    trace = result.outlets[outlet]
    if result.useful_power_W <= 0:
        return None
    voltage = trace.voltage_V if trace.dc_voltage_V is None else trace.dc_voltage_V
    square = result.average(voltage**2)
    return square / result.useful_power_W if square > 0 else None
