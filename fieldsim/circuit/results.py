"""What a solved circuit says: waveforms, averages, lamps, balances; immutable."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from fieldsim.circuit.diode_law import WaveLaws
from fieldsim.circuit.equations import INSULATION_S, Branch, Equations
from fieldsim.circuit.loads import Bridge, Capacitor, Diode, Led, Load, Open, Resistor, Short
from fieldsim.circuit.network import Circuit, CoilRef, InParallel, Source

__all__ = [
    "Balance",
    "CircuitResult",
    "CoilTrace",
    "LampReport",
    "OutletTrace",
    "PartTrace",
    "circuit_result",
]

Array = NDArray[np.float64]

METER_NAME = "meter"
"""Parts of this name load the circuit but are not counted as useful load."""


@dataclass(frozen=True)
class Balance:
    """How well the books close; all relative, all to be small.

    Parameters
    ----------
    charge
        Greatest net charge found at any node or lost in any capacitor, over the charge that the
        coils moved.
    energy
        Source energy less all losses and the change of stored energy, over the source energy.
    discretisation
        Change of the average powers and lamp currents by the last refinement of the steps, over the
        source power and the average coil current.
    """

    charge: float
    energy: float
    discretisation: float


@dataclass(frozen=True)
class CoilTrace:
    """One coil.

    Parameters
    ----------
    emf_V, current_A, voltage_V
        Waveforms, (points,); current positive along the axis, voltage at its terminals.
    heat_W
        Average loss in its resistance [W].
    delivered_W
        Average power out of its terminals [W].
    """

    name: str
    emf_V: Array
    current_A: Array
    voltage_V: Array
    rms_current_A: float
    heat_W: float
    delivered_W: float


@dataclass(frozen=True)
class PartTrace:
    """One of ``count`` equal parts that share current and voltage equally.

    Parameters
    ----------
    series, parallel
        How they stand: in a string, and strings.
    voltage_V, current_A
        Waveforms of each of them, (points,), in the part's forward direction.
    power_W
        Average power into each [W].
    loss_W
        Average power turned into heat or light in each [W]; differs from ``power_W`` only where
        energy is stored.
    """

    outlet: str
    label: str
    part: Load
    series: int
    parallel: int
    voltage_V: Array
    current_A: Array
    average_current_A: float
    peak_current_A: float
    power_W: float
    loss_W: float
    on_dc: bool

    @property
    def count(self) -> int:
        """Number of equal parts."""
        return self.series * self.parallel

    @property
    def total_power_W(self) -> float:
        """Average power into all of them [W]."""
        return self.power_W * self.count


@dataclass(frozen=True)
class OutletTrace:
    """A pair of terminals: voltage and current into the load, and what the coils give unloaded.

    Parameters
    ----------
    dc_voltage_V
        Behind the bridge, or None without one.
    open_circuit_peak_V
        Greatest voltage if the load came off [V]; for coils in parallel that of the highest.
    """

    name: str
    voltage_V: Array
    current_A: Array
    dc_voltage_V: Array | None
    power_W: float
    open_circuit_peak_V: float


@dataclass(frozen=True)
class LampReport:
    """Whether a lamp lights, and how.

    Parameters
    ----------
    average_A, peak_A
        Forward current through each lamp of the group [A].
    visible_A, rated_A
        Average current from which it is plainly seen, and the greatest lasting one [A].
    flicker_Hz
        Frequency of the strongest ripple of its light [Hz]; None in a transient.
    flicker_percent
        ``(max - min)/(max + min)`` of the current, percent.
    """

    label: str
    colour: str
    count: int
    average_A: float
    peak_A: float
    visible_A: float
    rated_A: float
    reverse_V: float
    power_W: float
    flicker_Hz: float | None
    flicker_percent: float

    @property
    def lights(self) -> bool:
        """Whether the average current reaches the visible value."""
        return self.average_A >= self.visible_A

    @property
    def share_of_rated(self) -> float:
        """Average current over rated current."""
        return self.average_A / self.rated_A


@dataclass(frozen=True)
class CircuitResult:
    """A solved stretch of time.

    Parameters
    ----------
    time_s
        Times of the waveforms, (points,), unevenly spaced: closer where things change fast.
    weight_s
        Quadrature weights, (points,): ``weight_s @ y / weight_s.sum()`` is the average of ``y``.
    period_s
        The period, or None for a transient.
    warnings
        Why the result may be doubtful, one line each; empty if it is not.
    steps, iterations
        Time steps in the last solution and Newton iterations in all.
    """

    circuit: Circuit
    period_s: float | None
    time_s: Array
    weight_s: Array
    coils: Mapping[str, CoilTrace]
    parts: tuple[PartTrace, ...]
    outlets: Mapping[str, OutletTrace]
    lamps: tuple[LampReport, ...]
    source_W: float
    useful_W: float
    balance: Balance
    warnings: tuple[str, ...]
    steps: int
    iterations: int

    @property
    def duration_s(self) -> float:
        """Length of the stretch [s]."""
        return float(self.weight_s.sum())

    @property
    def load_W(self) -> float:
        """Average power out of the coils' terminals [W]."""
        return sum(outlet.power_W for outlet in self.outlets.values())

    @property
    def efficiency(self) -> float:
        """Useful power (lamps; resistors if there are none) over all electrical power."""
        return self.useful_W / self.source_W if self.source_W > 0 else 0.0

    def average(self, values: Array) -> float:
        """Return the time average of a waveform of this result."""
        return float(self.weight_s @ values / self.weight_s.sum())

    def part(self, label: str) -> PartTrace:
        """Return the part of that label.

        Raises
        ------
        KeyError
            If there is none; the message lists the labels.
        """
        for trace in self.parts:
            if trace.label == label:
                return trace
        known = ", ".join(t.label for t in self.parts)
        raise KeyError(f'no part is called "{label}"; there are: {known}')

    def sampled(self, values: Array, points: int = 512) -> tuple[Array, Array]:
        """Return uniform times (points,) and a waveform at them, by linear interpolation."""
        if self.period_s is None:
            times = np.linspace(self.time_s[0], self.time_s[-1], points)
            return times, np.interp(times, self.time_s, values)
        times = np.arange(points) * (self.period_s / points)
        return times, np.interp(times, self.time_s, values, period=self.period_s)


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
    warnings: tuple[str, ...],
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
        branch.label: _coil_trace(circuit, equations, branch, emf_V[i], x, mean)
        for i, branch in enumerate(equations.coil_branches)
    }
    parts = tuple(_part_trace(equations, junctions, b, x, mean) for b in equations.branches)
    outlets = _outlets(circuit, equations, coils, parts, x, mean)
    source_W = sum(mean(c.emf_V * c.current_A) for c in coils.values())
    lamps = tuple(_lamp(t, time_s, mean, period_s) for t in parts if isinstance(t.part, Led))
    balance = Balance(
        _charge_error(circuit, equations, junctions, x, weight_s, stored),
        _energy_error(
            equations,
            source_W * length,
            coils,
            parts,
            _insulation_J(equations, x, weight_s),
            stored,
            length,
        ),
        discretisation,
    )
    for array in (time_s, weight_s):
        array.setflags(write=False)
    return CircuitResult(
        circuit,
        period_s,
        time_s,
        weight_s,
        MappingProxyType({name: coils[name] for name in circuit.coils.names}),
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
    branch: Branch,
    emf_V: Array,
    x: Array,
    mean: Callable[[Array], float],
) -> CoilTrace:
    current = x[:, equations.offsets["coil"] + branch.index]
    voltage = equations.between(x, branch.start, branch.end)
    ohm = circuit.coils.resistance_ohm[circuit.coils.names.index(branch.label)]
    square = mean(current**2)
    return CoilTrace(
        branch.label,
        _fixed(emf_V),
        _fixed(current),
        _fixed(voltage),
        float(np.sqrt(square)),
        ohm * square,
        mean(voltage * current),
    )


def branch_current(equations: Equations, junctions: WaveLaws, branch: Branch, x: Array) -> Array:
    """Return the current through a whole branch, (points,) [A]."""
    part = branch.part
    if isinstance(part, Open):
        return np.zeros(len(x))
    if isinstance(part, Diode | Led):
        u = x[:, equations.columns("wave", len(equations.laws))]
        return np.asarray(junctions.at(u).current_A[:, branch.index])
    if isinstance(part, Capacitor):
        return np.asarray(x[:, equations.offsets["charging"] + branch.index])
    assert isinstance(part, Resistor | Short)
    if branch.in_wires:
        return np.asarray(x[:, equations.offsets["wire"] + branch.index])
    whole_ohm = part.resistance_ohm * branch.series / branch.parallel
    return np.asarray(equations.between(x, branch.start, branch.end) / whole_ohm)


def _part_trace(
    equations: Equations,
    junctions: WaveLaws,
    branch: Branch,
    x: Array,
    mean: Callable[[Array], float],
) -> PartTrace:
    part = branch.part
    assert part is not None
    assert not isinstance(part, Bridge)
    voltage = equations.between(x, branch.start, branch.end) / branch.series
    current = branch_current(equations, junctions, branch, x) / branch.parallel
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
    parts: tuple[PartTrace, ...],
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
    trace: PartTrace, time_s: Array, mean: Callable[[Array], float], period_s: float | None
) -> LampReport:
    led = trace.part
    assert isinstance(led, Led)
    light = np.maximum(trace.current_A, 0.0)
    highest, lowest = float(light.max()), float(light.min())
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
        None if period_s is None else _flicker_Hz(light, time_s, period_s),
        100.0 * (highest - lowest) / (highest + lowest) if highest > 0 else 0.0,
    )


def _flicker_Hz(light: Array, time_s: Array, period_s: float) -> float:
    """Return the frequency of the strongest harmonic of the light, zero if it is steady."""
    points = 1 << max(9, int(np.ceil(np.log2(len(time_s)))))
    uniform = np.interp(np.arange(points) * (period_s / points), time_s, light, period=period_s)
    harmonics = np.abs(np.fft.rfft(uniform))
    if harmonics[1:].max() <= 1e-9 * max(harmonics[0], 1e-30):
        return 0.0
    return float(1 + np.argmax(harmonics[1:])) / period_s


def _charge_error(
    circuit: Circuit,
    equations: Equations,
    junctions: WaveLaws,
    x: Array,
    weight_s: Array,
    stored: tuple[Array, Array],
) -> float:
    n, c = equations.nodes, len(equations.coil_branches)
    moved = float((weight_s @ np.abs(x[:, equations.columns("coil", c)])).max(initial=0.0))
    if moved < 1e-15:
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
) -> float:
    lost_J = insulation_J + length_s * sum(c.heat_W for c in coils.values())
    lost_J += length_s * sum(t.loss_W * t.count for t in parts)
    # energy of linked fluxes and charges y = M x: (1/2) y . x, whatever part of x is undetermined
    inverse = np.linalg.pinv(equations.mass[np.ix_(equations.stored, equations.stored)])
    before, after = (0.5 * float(y @ inverse @ y) for y in stored)
    scale = max(abs(source_J), lost_J, before, after)
    return abs(source_J - lost_J - (after - before)) / scale if scale > 1e-18 else 0.0
