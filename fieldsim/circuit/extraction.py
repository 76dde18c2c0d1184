"""From the solved unknowns to waveforms, averages and balances."""

from __future__ import annotations

from collections.abc import Callable
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from fieldsim.cautions import Note
from fieldsim.circuit.equations import INSULATION_S, Equations
from fieldsim.circuit.flicker import flashes, flicker_Hz
from fieldsim.circuit.netlist import Branch, CoilBranch
from fieldsim.circuit.network import Circuit
from fieldsim.circuit.results import (
    Balance,
    CircuitResult,
    CoilTrace,
    LampReport,
    OutletTrace,
    PartTrace,
)
from fieldsim.circuit.wave_laws import WaveLaws
from fieldsim.machine.connections import CoilRef, InParallel, Source
from fieldsim.machine.load.circuit_parts import Capacitor, Diode, Led, Open, Resistor

__all__ = ["METER_NAME", "circuit_result"]

Array = NDArray[np.float64]

METER_NAME = "meter"
"""Parts of this name load the circuit but are not counted as useful load."""


def circuit_result(
    circuit: Circuit,
    equations: Equations,
    junctions: WaveLaws,
    emf: Callable[[Array], Array],
    time_s: Array,
    weight_s: Array,
    x: Array,
    stored: tuple[Array, Array],
    period_s: float | None,
    discretisation: float,
    warnings: tuple[Note, ...],
    steps: int,
    iterations: int,
) -> CircuitResult:
    """Return the result of a solution.

    Parameters
    ----------
    x
        Unknowns at ``time_s``, (points, unknowns).
    stored
        Stored fluxes and charges at the beginning and at the end, each (stored,).
    """
    length = float(weight_s.sum())

    def mean(values: Array) -> float:
        return float(weight_s @ values / length)

    emf_V = emf(time_s)
    coils = {
        branch.coil: _coil_trace(circuit, equations, branch, emf_V[i], x, mean)
        for i, branch in enumerate(equations.coil_branches)
    }
    parts = tuple(_part_trace(equations, junctions, b, x, mean) for b in equations.branches)
    outlets = _outlets(circuit, equations, coils, x, mean)
    source_W = sum(mean(c.emf_V * c.current_A) for c in coils.values())
    lamps = tuple(
        _lamp(t, t.part, time_s, weight_s, mean, period_s) for t in parts if isinstance(t.part, Led)
    )
    ohm = np.array(circuit.coils.resistance_ohm)
    shorted_C = float((np.abs(emf_V) @ weight_s / ohm).max(initial=0.0))
    shorted_J = float((emf_V**2 @ weight_s / ohm).sum())
    balance = Balance(
        _charge_error(equations, junctions, x, weight_s, stored, shorted_C),
        _energy_error(
            equations,
            source_W * length,
            coils,
            parts,
            _insulation_J(equations, x, weight_s),
            stored,
            length,
            shorted_J,
        ),
        discretisation,
    )
    for array in (time_s, weight_s, x):
        array.setflags(write=False)
    return CircuitResult(
        circuit,
        period_s,
        time_s,
        weight_s,
        MappingProxyType(coils),
        parts,
        MappingProxyType(outlets),
        lamps,
        source_W,
        _useful_W(parts),
        balance,
        warnings,
        steps,
        iterations,
    )


def _fixed(values: Array) -> Array:
    values = np.ascontiguousarray(values)
    values.setflags(write=False)
    return values


def _coil_trace(
    circuit: Circuit,
    equations: Equations,
    branch: CoilBranch,
    emf_V: Array,
    x: Array,
    mean: Callable[[Array], float],
) -> CoilTrace:
    current = x[:, equations.offsets["coil"] + branch.index]
    voltage = equations.between(x, branch.start, branch.end)
    row = circuit.coils.names.index(branch.coil)
    ohm, whole_ohm = circuit.coils.resistance_ohm[row], circuit.coils.whole_ohm[row]
    square = mean(current**2)
    return CoilTrace(
        branch.coil,
        _fixed(emf_V),
        _fixed(current),
        _fixed(voltage),
        float(np.sqrt(square)),
        ohm,
        ohm * square,
        mean(voltage * current),
        (whole_ohm - ohm) * square,
    )


def _branch_current(equations: Equations, junctions: WaveLaws, branch: Branch, x: Array) -> Array:
    """Return the current through all branches that are solved as one, (points,) [A]."""
    part = branch.part
    if isinstance(part, Open):
        return np.zeros(len(x))
    if isinstance(part, Diode | Led):
        u = x[:, equations.columns("wave", len(equations.laws))]
        return np.asarray(junctions.at(u).current_A[:, branch.index])
    if isinstance(part, Capacitor):
        return np.asarray(x[:, equations.offsets["charging"] + branch.index])
    if branch.in_wires:
        return np.asarray(x[:, equations.offsets["wire"] + branch.index])
    whole_ohm = part.resistance_ohm * branch.solved_series / branch.solved_parallel
    return np.asarray(equations.between(x, branch.start, branch.end) / whole_ohm)


def _part_trace(
    equations: Equations,
    junctions: WaveLaws,
    branch: Branch,
    x: Array,
    mean: Callable[[Array], float],
) -> PartTrace:
    part = branch.part
    voltage = equations.between(x, branch.start, branch.end) / branch.solved_series
    current = _branch_current(equations, junctions, branch, x) / branch.solved_parallel
    power = mean(voltage * current)
    loss = part.esr_ohm * mean(current**2) if isinstance(part, Capacitor) else power
    return PartTrace(
        branch.outlet,
        branch.label,
        part,
        branch.series,
        branch.parallel,
        _fixed(voltage),
        _fixed(current),
        mean(current),
        float(np.abs(current).max(initial=0.0)),
        power,
        loss,
        branch.on_dc,
    )


def _outlets(
    circuit: Circuit,
    equations: Equations,
    coils: dict[str, CoilTrace],
    x: Array,
    mean: Callable[[Array], float],
) -> dict[str, OutletTrace]:
    traces = {}
    for outlet in circuit.complete_outlets():
        start, end = equations.terminals[outlet.name]
        voltage = equations.between(x, start, end)
        current = _source_current(outlet.source, coils)
        dc = equations.dc_terminals.get(outlet.name)
        traces[outlet.name] = OutletTrace(
            outlet.name,
            _fixed(voltage),
            _fixed(current),
            None if dc is None else _fixed(equations.between(x, *dc)),
            mean(voltage * current),
            float(np.abs(_open_emf(outlet.source, coils)).max()),
        )
    return traces


def _source_current(source: Source, coils: dict[str, CoilTrace]) -> Array:
    sign = -1.0 if source.reverse else 1.0
    if isinstance(source, CoilRef):
        return sign * coils[source.coil].current_A
    if isinstance(source, InParallel):
        total = sum((_source_current(m, coils) for m in source.members), np.zeros(1))
        return sign * np.asarray(total)
    return sign * _source_current(source.members[0], coils)


def _open_emf(source: Source, coils: dict[str, CoilTrace]) -> Array:
    sign = -1.0 if source.reverse else 1.0
    if isinstance(source, CoilRef):
        return sign * coils[source.coil].emf_V
    members = [_open_emf(m, coils) for m in source.members]
    if isinstance(source, InParallel):
        return sign * max(members, key=lambda e: float(np.abs(e).max()))
    return sign * np.asarray(sum(members))


def _useful_W(parts: tuple[PartTrace, ...]) -> float:
    lamps = [t for t in parts if isinstance(t.part, Led)]
    chosen = lamps or [
        t for t in parts if isinstance(t.part, Resistor) and t.part.name != METER_NAME
    ]
    return sum(t.total_power_W for t in chosen)


def _lamp(
    trace: PartTrace,
    led: Led,
    time_s: Array,
    weight_s: Array,
    mean: Callable[[Array], float],
    period_s: float | None,
) -> LampReport:
    light = np.maximum(trace.current_A, 0.0)
    highest, lowest = float(light.max()), float(light.min())
    seen = flashes(light, weight_s, led.visible_A)
    return LampReport(
        trace.label,
        led.colour,
        trace.count,
        mean(light),
        highest,
        led.visible_A,
        led.rated_A,
        max(0.0, float(-trace.voltage_V.min())),
        trace.power_W,
        None if period_s is None else flicker_Hz(light, time_s, period_s),
        100.0 * (highest - lowest) / (highest + lowest) if highest > 0 else 0.0,
        seen.peak,
        None if period_s is None else seen.rate_Hz,
    )


def _charge_error(
    equations: Equations,
    junctions: WaveLaws,
    x: Array,
    weight_s: Array,
    stored: tuple[Array, Array],
    shorted_C: float,
) -> float:
    n, c = equations.nodes, len(equations.coil_branches)
    moved = float((weight_s @ np.abs(x[:, equations.columns("coil", c)])).max(initial=0.0))
    moved = max(moved, 1e-4 * shorted_C)
    if moved < 1e-18:
        return 0.0
    u = x[:, equations.columns("wave", len(equations.laws))]
    at_nodes = x @ equations.linear[:n].T + junctions.at(u).current_A @ equations.junction_nodes.T
    worst = float(np.abs(weight_s @ at_nodes).max(initial=0.0))
    rows = equations.stored
    first = equations.offsets["capacitor"]
    for position, row in enumerate(rows):
        if row >= first:
            charging = x[:, equations.offsets["charging"] + (row - first)]
            change = float(stored[1][position] - stored[0][position])
            worst = max(worst, abs(float(weight_s @ charging) - change))
    return worst / moved


def _insulation_J(equations: Equations, x: Array, weight_s: Array) -> float:
    squares = (x[:, : equations.nodes] ** 2).sum(axis=1)
    return INSULATION_S * float(weight_s @ squares)


def _energy_error(
    equations: Equations,
    source_J: float,
    coils: dict[str, CoilTrace],
    parts: tuple[PartTrace, ...],
    insulation_J: float,
    stored: tuple[Array, Array],
    length_s: float,
    shorted_J: float,
) -> float:
    lost_J = insulation_J + length_s * sum(c.heat_W + c.iron_W for c in coils.values())
    lost_J += length_s * sum(t.power_of_all_W for t in parts)
    # energy of linked fluxes and charges y = M x: (1/2) y . x, whatever part of x is undetermined
    inverse = np.linalg.pinv(equations.mass[np.ix_(equations.stored, equations.stored)])
    before, after = (0.5 * float(y @ inverse @ y) for y in stored)
    # where only leakage flows, a millionth of what the coils can give is small enough
    scale = max(abs(source_J), lost_J, before, after, 1e-6 * shorted_J)
    return abs(source_J - lost_J - (after - before)) / scale if scale > 1e-18 else 0.0
