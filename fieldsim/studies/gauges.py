"""What each wire gives in the same winding section: turns, resistance, voltage, current, power."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fieldsim.cautions import Caution
from fieldsim.circuit.cautions import BEYOND_RATINGS, circuit_cautions
from fieldsim.circuit.equivalent import equivalent_resistance_ohm
from fieldsim.circuit.results import CircuitResult
from fieldsim.circuit.solver import periodic_steady_state
from fieldsim.circuit.tolerances import TABLE_TOLERANCE
from fieldsim.errors import ImpossibleError
from fieldsim.machine.coil_wire import CoilWire
from fieldsim.machine.coils import Coil
from fieldsim.machine.connections import coil_refs
from fieldsim.machine.gauge import Gauge, gauge_from, neighbours
from fieldsim.machine.machine import Machine
from fieldsim.machine.part import PartError, replaced
from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.studies.rewinding import filled_with
from fieldsim.waveform.machine_size import refuse_many
from fieldsim.wire.enamel import Enamel, overall_diameter_m
from fieldsim.wire.resistance import recommended_current_A
from fieldsim.wire.round_wire import Wire
from fieldsim.wire.winding import Winding

__all__ = [
    "GaugeRow",
    "GaugeStudy",
    "enamel_like",
    "gauge_in_use",
    "gauge_study",
    "gauges_about",
    "rewound",
]

Array = NDArray[np.float64]

_LEAST_W = 1e-9
_AMERICAN = (Enamel.SINGLE, Enamel.HEAVY)
_METRIC = (Enamel.GRADE_1, Enamel.GRADE_2)
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
    lamp_current_total_A
        Average current of all lamps together [A]; None without lamps.
    lit
        How many lamps plainly glow.
    overdriven
        What parts of the load it drives beyond their ratings.
    own
        Whether the coils are wound with it as the file is.
    gauge
        As it was asked for.
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
    lamp_current_total_A: float | None
    lit: int
    overdriven: tuple[Caution, ...]
    own: bool
    gauge: Gauge

    @property
    def overloaded(self) -> bool:
        """Whether the wire itself carries more than it bears for long."""
        return self.coil_current_rms_A > self.recommended_current_A

    @property
    def within_ratings(self) -> bool:
        """Whether all parts of the load, and the wire itself, bear it for long."""
        return not self.overdriven and not self.overloaded

    @property
    def gives(self) -> float:
        """What wires are compared by: light, as the lamps' current [A]; without lamps power [W]."""
        light = self.lamp_current_total_A
        return self.load_power_W if light is None else light

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
    def lamps(self) -> bool:
        """Whether the load has lamps, so that light is what counts."""
        return any(row.lamp_current_total_A is not None for row in self.rows)

    @property
    def best(self) -> GaugeRow | None:
        """The wire that gives most within the ratings of the load's parts and its own.

        That is light, or power without lamps; rows closer than they are solved count as level, and
        of these the one that heats the coils least is taken. None if none gives any.
        """
        return _most([row for row in self.rows if row.within_ratings])

    @property
    def most_power(self) -> GaugeRow | None:
        """The wire that puts most power into the load, whatever that does to it; or None."""
        rows = [row for row in self.rows if row.load_power_W > _LEAST_W]
        return max(rows, key=lambda row: row.load_power_W, default=None)

    @property
    def brightest(self) -> GaugeRow | None:
        """The wire that gives most, whatever that does to the load; or None."""
        return _most(self.rows)


def _most(rows: Sequence[GaugeRow]) -> GaugeRow | None:
    giving = [row for row in rows if row.load_power_W > _LEAST_W]
    most = max((row.gives for row in giving), default=0.0)
    level = [row for row in giving if row.gives >= (1 - TABLE_TOLERANCE) * most]
    return min(level, key=lambda row: row.coil_heat_W, default=None)


def enamel_like(wire: Wire, grades: Iterable[Enamel] = tuple(Enamel)) -> Enamel:
    """Return the grade whose enamel is nearest in thickness.

    Parameters
    ----------
    wire
        To be like.
    grades
        To choose from.

    Examples
    --------
    >>> from fieldsim.wire.round_wire import awg_wire
    >>> enamel_like(awg_wire(30, Enamel.HEAVY))
    <Enamel.HEAVY: 'heavy'>
    """
    return min(
        grades,
        key=lambda grade: abs(
            float(overall_diameter_m(wire.bare_diameter_m, grade)) - wire.overall_diameter_m
        ),
    )


def gauge_in_use(machine: Machine) -> Gauge | None:
    """Return the wire size of the coils that `gauge_study` winds; None if there is no wire."""
    wound = [coil for coil in machine.coils if coil.wire]
    if machine.load:
        fed = {ref.coil for ref in coil_refs(machine.wiring.source(machine.load.across))}
        wound = [coil for coil in wound if coil.name in fed] or wound
    return wound[0].wire.gauge if wound else None


def gauges_about(machine: Machine) -> list[Gauge]:
    """Return the size of the wire in use and some on either side of it, in its own series.

    Raises
    ------
    ImpossibleError
        If no coil has wire.

    Examples
    --------
    >>> from fieldsim.machine_file.reader import read
    >>> [gauge.number for gauge in gauges_about(read("geometries/lamp_ring.yaml"))]
    [29, 30, 31, 32, 33, 34, 35]
    """
    own = gauge_in_use(machine)
    if own is None:
        raise ImpossibleError("no coil has wire; add for instance wire: {gauge: AWG 32} to one")
    return neighbours(own, _ABOUT)


def gauge_study(
    point: OperatingPoint,
    gauges: Iterable[int | str | Gauge],
    progress: Callable[[int, int], None] | None = None,
) -> GaugeStudy:
    """Return what each gauge gives if it fills the sections of the loaded coils.

    Parameters
    ----------
    point
        Of a machine with wire in every coil of the load; without a load its first coil or
        connection counts.
    gauges
        Wire sizes: AWG numbers, or text as in a file. `fieldsim.machine.gauge.gauges_of` lists
        them from a range.
    progress
        Called with (gauges done, gauges in all).

    Raises
    ------
    ImpossibleError
        If a gauge does not exist, a coil has no wire, or the sections hold none of the gauges.

    Notes
    -----
    The section, opening and packing stay, and the grade of the enamel if the file states it, else
    the one nearest to the wire's own; the coils' own size is their own wire. Every row is a machine
    of its own, wound with that wire.
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
    sizes = [gauge_from(gauge) for gauge in gauges]
    refuse_many(machine, point.tolerance, len(sizes))
    for done, gauge in enumerate(sizes):
        try:
            filled = rewound(machine, coils, gauge)
        except ImpossibleError as error:
            left_out.append(f"{gauge}: {_bare_problem(error)}")
            continue
        own = all(coil.wire.gauge == gauge for coil in machine.coils if coil.name in coils)
        rows.append(_row(table.moved_to(filled), name, coils, own, gauge))
        if progress is not None:
            progress(done + 1, len(sizes))
    if not rows:
        raise ImpossibleError(left_out[0] if left_out else "there are no gauges; give at least one")
    return GaugeStudy(name, coils, bool(machine.load), tuple(rows), tuple(left_out))


def _bare_problem(error: ImpossibleError) -> str:
    return error.problem if isinstance(error, PartError) else str(error)


def rewound(machine: Machine, coils: Sequence[str], gauge: Gauge) -> Machine:
    """Return the machine with some coils' sections filled with wire of a size.

    Parameters
    ----------
    machine
        With wire in these coils.
    coils
        Their names.
    gauge
        Of the wire; its enamel is like now.

    Raises
    ------
    ImpossibleError
        If a section holds no turn of it.
    """

    def filled(coil: Coil) -> Coil:
        if coil.name not in coils:
            return coil
        if gauge == coil.wire.gauge:
            return filled_with(coil, coil.wire)
        grades = _AMERICAN if gauge.series == "AWG" else _METRIC
        enamel = coil.wire.enamel or enamel_like(coil.winding.wire, grades)
        return filled_with(coil, CoilWire(gauge, enamel=enamel))

    return replaced(machine, coils=tuple(filled(coil) for coil in machine.coils))


def _row(
    point: OperatingPoint, outlet: str, coils: Sequence[str], own: bool, gauge: Gauge
) -> GaugeRow:
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
        sum(lamp.count * lamp.average_current_A for lamp in loaded.lamps) if lamps else None,
        sum(lamp.count for lamp in loaded.lamps if lamp.lights),
        tuple(c for c in circuit_cautions(loaded) if c.kind in BEYOND_RATINGS),
        own,
        gauge,
    )


def _rms(result: CircuitResult, values: Array) -> float:
    return math.sqrt(result.average(values**2))
