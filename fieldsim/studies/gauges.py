"""What each wire gives in the same winding section: turns, resistance, voltage, current, power."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fieldsim.circuit.emf_source import PeriodicEmf
from fieldsim.circuit.equivalent import equivalent_resistance_ohm
from fieldsim.circuit.machine_circuit import CoilCircuit, MachineEmf, circuit_emf, coil_circuit
from fieldsim.circuit.network import CoilSet
from fieldsim.circuit.results import CircuitResult
from fieldsim.circuit.solver import TABLE_TOLERANCE, periodic_steady_state
from fieldsim.errors import ImpossibleError
from fieldsim.machine.connections import coil_refs
from fieldsim.machine.load.circuit_parts import Open
from fieldsim.machine.machine import Machine
from fieldsim.wire.enamel import Enamel, overall_diameter_m
from fieldsim.wire.resistance import recommended_current_A, wire_resistance_ohm
from fieldsim.wire.round_wire import Wire, awg_wire
from fieldsim.wire.winding import Winding

__all__ = ["GaugeRow", "GaugeStudy", "enamel_like", "gauge_study", "gauge_wires"]

Array = NDArray[np.float64]


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
        Of the joined coils [ohm].
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
    >>> enamel_like(awg_wire(30, Enamel.HEAVY))
    <Enamel.HEAVY: 'heavy'>
    """
    return min(
        Enamel,
        key=lambda grade: abs(
            float(overall_diameter_m(wire.bare_diameter_m, grade)) - wire.overall_diameter_m
        ),
    )


def gauge_wires(gauges: Sequence[int], like: Wire) -> tuple[Wire, ...]:
    """Return wires of American gauges, with enamel of the grade nearest to that of ``like``."""
    grade = enamel_like(like)
    return tuple(awg_wire(gauge, grade) for gauge in gauges)


def gauge_study(
    geometry: Machine,
    emf: MachineEmf,
    gauges: Sequence[int],
    progress: Callable[[int, int], None] | None = None,
) -> GaugeStudy:
    """Return what each gauge gives if it fills the sections of the loaded coils.

    Parameters
    ----------
    geometry
        With wire in every coil of the load; without a load its first coil or connection counts.
    emf
        At the speed, from `fieldsim.circuit.machine_circuit.machine_emf`.
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
    The section, opening and packing stay. Linkage per turn is that of the file's winding, so that
    EMF goes with turns and inductance with turns squared; resistance is that of the wire wound.
    """
    base = coil_circuit(geometry)
    fittings = geometry.fittings
    if fittings is None or not fittings.windings:
        raise ImpossibleError("no coil has wire; add for instance wire: {gauge: AWG 32} to one")
    wound = (o.name for o in base.circuit.outlets if o.name not in base.assumed)
    name = fittings.across or next(wound)
    source = next(o.source for o in base.circuit.outlets if o.name == name)
    coils = tuple(ref.coil for ref in coil_refs(source))
    periodic = circuit_emf(base, emf)
    rows, left_out = [], []
    for done, gauge in enumerate(gauges):
        wires = {c: gauge_wires([gauge], fittings.windings[c].wire)[0] for c in coils}
        try:
            windings = {c: fittings.windings[c].refilled(wires[c]) for c in coils}
        except ImpossibleError as error:
            left_out.append(f"AWG {gauge}: {error}")
            continue
        rewound, factor = _rewound(base, windings, fittings.windings, fittings.temperature_K)
        rows.append(_row(rewound, periodic.scaled(factor), name, wires[coils[0]], windings))
        if progress is not None:
            progress(done + 1, len(gauges))
    if not rows:
        raise ImpossibleError(left_out[0] if left_out else "there are no gauges; give at least one")
    return GaugeStudy(name, coils, fittings.load is not None, tuple(rows), tuple(left_out))


def _rewound(
    base: CoilCircuit,
    windings: Mapping[str, Winding],
    before: Mapping[str, Winding],
    temperature_K: float,
) -> tuple[CoilCircuit, Array]:
    """Return the circuit with other windings, and by what the EMF of each coil grows."""
    factor, resistance = np.ones(len(base.names)), base.resistance_ohm
    for i, coil in enumerate(base.names):
        if coil in windings:
            new = windings[coil]
            factor[i] = new.turns / before[coil].turns
            bare = new.wire.bare_diameter_m
            resistance[i] = wire_resistance_ohm(new.wire_length_m, bare, temperature_K)
    inductance = base.inductance_H * np.outer(factor, factor)
    coil_set = CoilSet.from_arrays(base.names, resistance, inductance)
    return replace(base, circuit=base.circuit.with_coils(coil_set)), factor


def _row(
    coils: CoilCircuit,
    emf: PeriodicEmf,
    outlet: str,
    wire: Wire,
    windings: dict[str, Winding],
) -> GaugeRow:
    circuit = coils.circuit
    source = next(o.source for o in circuit.outlets if o.name == outlet)
    opened = periodic_steady_state(circuit.opened(), emf, tolerance=TABLE_TOLERANCE)
    voltage = opened.outlets[outlet].voltage_V
    loaded = opened
    if any(not isinstance(o.load, Open) for o in circuit.outlets):
        loaded = periodic_steady_state(circuit, emf, tolerance=TABLE_TOLERANCE)
    lamps = [lamp.average_current_A for lamp in loaded.lamps]
    return GaugeRow(
        wire,
        windings,
        equivalent_resistance_ohm(source, coils.names, coils.resistance_ohm),
        float(np.abs(voltage).max()),
        _rms(opened, voltage),
        max(loaded.coils[c].rms_current_A for c in windings),
        _rms(loaded, loaded.outlets[outlet].current_A),
        max(lamps) if lamps else None,
        loaded.useful_power_W,
        sum(c.heat_W for c in loaded.coils.values()),
        float(recommended_current_A(wire.bare_diameter_m)),
    )


def _rms(result: CircuitResult, values: Array) -> float:
    return math.sqrt(result.average(values**2))
