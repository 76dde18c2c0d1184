"""What each wire gives in the same winding section: turns, resistance, voltage, current, power."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fieldsim.circuit.equivalent import equivalent_resistance_ohm
from fieldsim.circuit.results import CircuitResult
from fieldsim.circuit.solver import periodic_steady_state
from fieldsim.circuit.tolerances import TABLE_TOLERANCE
from fieldsim.errors import ImpossibleError
from fieldsim.machine.coil_wire import CoilWire, Gauge
from fieldsim.machine.coils import Coil
from fieldsim.machine.connections import coil_refs
from fieldsim.machine.machine import Machine
from fieldsim.machine.part import PartError
from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.studies.rewinding import filled_with
from fieldsim.wire.enamel import Enamel, overall_diameter_m
from fieldsim.wire.resistance import recommended_current_A
from fieldsim.wire.round_wire import Wire, awg_number, awg_wire
from fieldsim.wire.winding import Winding

__all__ = ["GaugeRow", "GaugeStudy", "enamel_like", "gauge_study", "gauges_about"]

Array = NDArray[np.float64]

_THICKEST, _THINNEST = 10, 46  # AWG
_ABOUT = 3  # neighbours on each side


@dataclass(frozen=True)
class GaugeRow:
    """One wire in the section of each coil.

    Parameters
    ----------
    wire
        The wire.
    windings
        By coil: the section filled with it.
    resistance_ohm
        Of the joined coils, as warm as the load makes them [ohm].
    open_circuit_peak_V, open_circuit_rms_V
        Between their ends with nothing connected [V].
    coil_current_rms_A
        Largest RMS current in a coil [A].
    current_rms_A
        RMS current into the load [A].
    lamp_current_average_A
        Average current of a lamp, the brightest group's [A]; None without lamps.
    load_power_W
        Average power into the lamps, or into the resistors if there are none [W].
    coil_heat_W
        Average loss in all coils [W].
    recommended_current_A
        RMS current that the wire may carry for long [A].
    """

    wire: Wire
    windings: dict[str, Winding]
    resistance_ohm: float
    open_circuit_peak_V: float
    open_circuit_rms_V: float
    coil_current_rms_A: float
    current_rms_A: float
    lamp_current_average_A: float | None
    load_power_W: float
    coil_heat_W: float
    recommended_current_A: float

    @property
    def turns(self) -> dict[str, int]:
        """Turns by coil."""
        return {coil: winding.turns for coil, winding in self.windings.items()}

    @property
    def turns_in_all(self) -> int:
        """Turns of all the coils together."""
        return sum(self.turns.values())

    @property
    def wire_length_m(self) -> float:
        """Wire in all the coils together [m]."""
        return sum(winding.wire_length_m for winding in self.windings.values())


@dataclass(frozen=True)
class GaugeStudy:
    """Wires in the order given.

    Parameters
    ----------
    across
        Coil or connection that the voltages are of.
    coils
        Coils that are wound with each wire.
    loaded
        Whether the file has a load.
    rows
        One for each wire that the sections hold.
    left_out
        Why a wire has no row, one line each.
    """

    across: str
    coils: tuple[str, ...]
    loaded: bool
    rows: tuple[GaugeRow, ...]
    left_out: tuple[str, ...]

    @property
    def best(self) -> GaugeRow | None:
        """The wire that puts most power into the load, or None if none puts any."""
        lit = [row for row in self.rows if row.load_power_W > 1e-9]
        return max(lit, key=lambda row: row.load_power_W, default=None)


def enamel_like(wire: Wire) -> Enamel:
    """Return the grade whose enamel is nearest in thickness.

    Examples
    --------
    >>> from fieldsim.wire.round_wire import awg_wire
    >>> enamel_like(awg_wire(30, Enamel.HEAVY))
    <Enamel.HEAVY: 'heavy'>
    """
    return min(
        Enamel,
        key=lambda grade: abs(
            float(overall_diameter_m(wire.bare_diameter_m, grade)) - wire.overall_diameter_m
        ),
    )


def gauges_about(machine: Machine) -> tuple[int, ...]:
    """Return the AWG numbers of the first wound coil's wire, or nearest to it, and about it.

    Examples
    --------
    >>> from fieldsim.machine_file.reader import read
    >>> gauges_about(read("geometries/lamp_ring.yaml"))
    (29, 30, 31, 32, 33, 34, 35)
    """
    wire = next(iter(machine.windings.values())).wire
    own = round(float(awg_number(wire.bare_diameter_m)))
    return tuple(range(max(own - _ABOUT, _THICKEST), min(own + _ABOUT, _THINNEST) + 1))


def gauge_study(
    point: OperatingPoint,
    gauges: Sequence[int],
    progress: Callable[[int, int], None] | None = None,
) -> GaugeStudy:
    """Return what each gauge gives if it fills the sections of the loaded coils.

    Parameters
    ----------
    point
        Of a machine with wire in every coil of the load; without a load its first coil or
        connection counts.
    gauges
        AWG numbers.
    progress
        Called with (gauges done, gauges in all).

    Raises
    ------
    ImpossibleError
        If a gauge does not exist, a coil has no wire, or the sections hold none of the gauges.

    Notes
    -----
    The section, opening and packing stay, the enamel is of the grade nearest to the wire's own.
    Every row is a machine of its own, wound with that wire.
    """
    machine = point.machine
    if not machine.windings:
        raise ImpossibleError("no coil has wire; add for instance wire: {gauge: AWG 32} to one")
    base = point.coil_circuit
    wound = (o.name for o in base.circuit.outlets if o.name not in base.assumed)
    name = machine.load.across or next(wound)
    coils = tuple(ref.coil for ref in coil_refs(machine.wiring.source(name)))
    table = replace(point, circuit_tolerance=TABLE_TOLERANCE)
    rows, left_out = [], []
    for done, gauge in enumerate(gauges):
        try:
            rewound = _rewound(machine, coils, gauge)
        except ImpossibleError as error:
            left_out.append(f"AWG {gauge}: {_bare_problem(error)}")
            continue
        rows.append(_row(table.moved_to(rewound), name, coils))
        if progress is not None:
            progress(done + 1, len(gauges))
    if not rows:
        raise ImpossibleError(left_out[0] if left_out else "there are no gauges; give at least one")
    return GaugeStudy(name, coils, bool(machine.load), tuple(rows), tuple(left_out))


def _bare_problem(error: ImpossibleError) -> str:
    return error.problem if isinstance(error, PartError) else str(error)


def _rewound(machine: Machine, coils: Sequence[str], gauge: int) -> Machine:
    """Return the machine with some coils' sections filled with wire of a gauge."""

    def filled(coil: Coil) -> Coil:
        if coil.name not in coils:
            return coil
        bare = awg_wire(gauge).bare_diameter_m
        wire = CoilWire(Gauge(gauge, bare), enamel=enamel_like(coil.winding.wire))
        return filled_with(coil, wire)

    return replace(machine, coils=tuple(filled(coil) for coil in machine.coils))


def _row(point: OperatingPoint, outlet: str, coils: Sequence[str]) -> GaugeRow:
    circuit, machine = point.coil_circuit.circuit, point.machine
    source = next(o.source for o in circuit.outlets if o.name == outlet)
    loaded = opened = periodic_steady_state(
        circuit.opened(), point.circuit_emf, tolerance=point.circuit_tolerance
    )
    if machine.load:
        loaded = point.circuit_result
    voltage = opened.outlets[outlet].voltage_V
    lamps = [lamp.average_current_A for lamp in loaded.lamps]
    windings = {coil: machine.windings[coil] for coil in coils}
    wire = windings[coils[0]].wire
    warm = loaded.circuit.coils
    return GaugeRow(
        wire,
        windings,
        equivalent_resistance_ohm(source, warm.names, warm.resistance_ohm),
        float(np.abs(voltage).max()),
        _rms(opened, voltage),
        max(loaded.coils[coil].rms_current_A for coil in coils),
        _rms(loaded, loaded.outlets[outlet].current_A),
        max(lamps) if lamps else None,
        loaded.useful_power_W,
        sum(c.heat_W for c in loaded.coils.values()),
        float(recommended_current_A(wire.bare_diameter_m)),
    )


def _rms(result: CircuitResult, values: Array) -> float:
    return math.sqrt(result.average(values**2))
