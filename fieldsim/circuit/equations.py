"""The equations of a circuit as matrices: nodes, junctions, coils, capacitors.

Unknowns, in this order: node voltages [V], wave variables of the junctions [V], coil currents [A],
currents of low resistors [A], capacitor voltages [V], capacitor currents [A].
The equations are ``M x' + K x + junctions(x) = B emf(t)``; rows of ``M`` that are zero are
algebraic.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fieldsim.circuit.diode_law import JunctionLaw
from fieldsim.circuit.loads import (
    Bridge,
    Capacitor,
    Diode,
    Led,
    Load,
    Open,
    Resistor,
    Series,
    Short,
)
from fieldsim.circuit.network import Circuit, CoilRef, InSeries, Source

__all__ = ["Branch", "Equations", "circuit_equations"]

Array = NDArray[np.float64]

INSULATION_S = 1e-12
"""Conductance from every node to its outlet's second end: no node is ever left floating."""

_LOW_OHM = 100.0
# Below it a resistor's current is an unknown of its own: were it voltage over resistance, the
# voltage's rounding would drown the nanoamperes that set the voltages between blocking diodes.
_GROUND = -1


@dataclass(frozen=True)
class Branch:
    """A solved branch: one part, or a group of equal parts taken together.

    Parameters
    ----------
    outlet, label
        Where it hangs, and a name unique in the circuit.
    part
        The part, or None for a coil.
    series, parallel
        How many equal parts it stands for: in a string, and strings.
    start, end
        Node numbers, in the part's forward direction; -1 is ground.
    index
        Position among its own kind, or -1 for an open branch.
    on_dc
        Whether it stands behind a bridge.
    in_wires
        Whether it is a resistor whose current is an unknown of its own.
    """

    outlet: str
    label: str
    part: Load | None
    series: int
    parallel: int
    start: int
    end: int
    index: int
    on_dc: bool = False
    in_wires: bool = False


@dataclass(frozen=True)
class Equations:
    """Matrices and index maps of a circuit; see the module's text.

    Parameters
    ----------
    mass, linear
        ``M`` and ``K``, each (unknowns, unknowns).
    emf_rows
        Row of each coil's equation, (coils,).
    stored
        Rows of ``M`` that are not algebraic, (stored,).
    junction_nodes
        Incidence of junctions on nodes: +1 at the start, -1 at the end; (nodes, junctions).
    laws
        Of the junctions, groups taken together.
    """

    nodes: int
    mass: Array
    linear: Array
    emf_rows: NDArray[np.intp]
    stored: NDArray[np.intp]
    junction_nodes: Array
    laws: tuple[JunctionLaw, ...]
    coil_branches: tuple[Branch, ...]
    branches: tuple[Branch, ...]
    terminals: dict[str, tuple[int, int]]
    dc_terminals: dict[str, tuple[int, int]]
    offsets: dict[str, int]
    initial: Array

    @property
    def size(self) -> int:
        """Number of unknowns."""
        return len(self.mass)

    def columns(self, kind: str, count: int) -> slice:
        """Return where ``count`` unknowns of a kind stand."""
        start = self.offsets[kind]
        return slice(start, start + count)

    def node_voltage(self, x: Array, node: int) -> Array:
        """Return the voltage of a node, (...,), from unknowns (..., unknowns)."""
        return np.zeros(x.shape[:-1]) if node == _GROUND else x[..., node]

    def between(self, x: Array, start: int, end: int) -> Array:
        """Return the voltage from node ``start`` to node ``end`` [V]."""
        return self.node_voltage(x, start) - self.node_voltage(x, end)


@dataclass
class _Builder:
    """Collects branches while it walks the tree; nothing outside this module sees it."""

    nodes: int = 0
    grounds: dict[int, int] = field(default_factory=dict)
    junctions: list[tuple[Branch, JunctionLaw]] = field(default_factory=list)
    coils: list[Branch] = field(default_factory=list)
    resistors: list[tuple[Branch, float]] = field(default_factory=list)
    wires: list[tuple[Branch, float]] = field(default_factory=list)
    capacitors: list[tuple[Branch, Capacitor]] = field(default_factory=list)
    opens: list[Branch] = field(default_factory=list)
    order: list[Branch] = field(default_factory=list)
    dc: dict[str, tuple[int, int]] = field(default_factory=dict)
    labels: dict[str, int] = field(default_factory=dict)
    prefixed: bool = False

    def node(self) -> int:
        self.nodes += 1
        return self.nodes - 1

    def label(self, outlet: str, name: str) -> str:
        name = f"{outlet}: {name}" if self.prefixed else name
        self.labels[name] = self.labels.get(name, 0) + 1
        return name if self.labels[name] == 1 else f"{name} {self.labels[name]}"

    def source(self, outlet: str, source: Source, start: int, end: int) -> None:
        """Place coils between two nodes; the source drives current out of ``start``."""
        if source.reverse:
            start, end = end, start
        if isinstance(source, CoilRef):
            self.coils.append(Branch(outlet, source.coil, None, 1, 1, start, end, len(self.coils)))
        elif isinstance(source, InSeries):
            chain = [start, *(self.node() for _ in source.members[1:]), end]
            for member, a, b in zip(source.members, chain, chain[1:], strict=False):
                self.source(outlet, member, a, b)
        else:
            for member in source.members:
                self.source(outlet, member, start, end)

    def load(
        self, outlet: str, load: Load, start: int, end: int, series: int, parallel: int, on_dc: bool
    ) -> None:
        """Place a load between two nodes, standing for series x parallel equal ones."""
        if isinstance(load, Series):
            chain = [start, *(self.node() for _ in load.parts[1:]), end]
            for part, a, b in zip(load.parts, chain, chain[1:], strict=False):
                self.load(outlet, part, a, b, series * load.count, parallel, on_dc)
        elif isinstance(load, Bridge):
            self.bridge(outlet, load, start, end, series, parallel)
        elif isinstance(load, Resistor | Open | Short | Capacitor | Diode | Led):
            self.leaf(outlet, load, start, end, series, parallel, on_dc)
        else:
            for part in load.parts:
                self.load(outlet, part, start, end, series, parallel * load.count, on_dc)

    def bridge(
        self, outlet: str, bridge: Bridge, start: int, end: int, series: int, parallel: int
    ) -> None:
        plus, minus = self.node(), self.node()
        self.dc.setdefault(outlet, (plus, minus))
        diode = bridge.diode
        for a, b in ((start, plus), (end, plus), (minus, start), (minus, end)):
            self.leaf(outlet, diode, a, b, series, parallel, False, "bridge diode")
        self.load(outlet, bridge.load, plus, minus, series, parallel, True)

    def leaf(
        self,
        outlet: str,
        part: Load,
        start: int,
        end: int,
        series: int,
        parallel: int,
        on_dc: bool,
        name: str = "",
    ) -> None:
        if isinstance(part, Diode | Led) and part.reverse:
            start, end = end, start
        name = name or getattr(part, "name", "") or _plain_name(part)
        label = self.label(outlet, name)

        def branch(index: int, in_wires: bool = False) -> Branch:
            made = Branch(outlet, label, part, series, parallel, start, end, index, on_dc, in_wires)
            self.order.append(made)
            return made

        if isinstance(part, Diode | Led):
            law = part.law.grouped(series, parallel)
            self.junctions.append((branch(len(self.junctions)), law))
        elif isinstance(part, Resistor | Short):
            ohm = part.resistance_ohm * series / parallel
            low = ohm < _LOW_OHM
            group = self.wires if low else self.resistors
            group.append((branch(len(group), low), ohm))
        elif isinstance(part, Capacitor):
            scale = series / parallel
            whole = Capacitor(
                part.capacitance_F / scale, part.esr_ohm * scale, part.initial_V * series
            )
            self.capacitors.append((branch(len(self.capacitors)), whole))
        else:
            self.opens.append(branch(-1))


def _plain_name(part: Load) -> str:
    if isinstance(part, Led) and part.colour:
        return f"{part.colour} LED"
    return "LED" if isinstance(part, Led) else type(part).__name__.lower()


def circuit_equations(circuit: Circuit) -> Equations:
    """Return the equations of a circuit.

    Examples
    --------
    >>> from fieldsim.circuit.network import one_coil_circuit
    >>> equations = circuit_equations(one_coil_circuit(50.0, Resistor(100.0)))
    >>> equations.size, equations.nodes
    (2, 1)
    """
    build = _Builder(prefixed=len(circuit.outlets) > 1)
    terminals = {}
    for outlet in circuit.complete_outlets():
        start = build.node()
        terminals[outlet.name] = (start, _GROUND)
        build.source(outlet.name, outlet.source, start, _GROUND)
        build.load(outlet.name, outlet.load, start, _GROUND, 1, 1, False)
    return _assembled(circuit, build, terminals)


def _assembled(
    circuit: Circuit, build: _Builder, terminals: dict[str, tuple[int, int]]
) -> Equations:
    n, d, c = build.nodes, len(build.junctions), len(build.coils)
    w, k = len(build.wires), len(build.capacitors)
    names = ("node", "wave", "coil", "wire", "capacitor", "charging")
    starts = np.cumsum([0, n, d, c, w, k, k]).tolist()
    offsets = dict(zip(names, starts[:-1], strict=True))
    size = starts[-1]
    M, K = np.zeros((size, size)), np.zeros((size, size))

    def add(row: int, column: int, value: float) -> None:
        if row != _GROUND and column != _GROUND:
            K[row, column] += value

    def conductance(a: int, b: int, siemens: float) -> None:
        add(a, a, siemens)
        add(b, b, siemens)
        add(a, b, -siemens)
        add(b, a, -siemens)

    def voltage_row(row: int, a: int, b: int) -> None:
        add(row, a, 1.0)
        add(row, b, -1.0)

    def current_column(column: int, a: int, b: int) -> None:
        add(a, column, 1.0)
        add(b, column, -1.0)

    for node in range(n):
        add(node, node, INSULATION_S)
    for branch, ohm in build.resistors:
        conductance(branch.start, branch.end, 1.0 / ohm)
    for i, (branch, ohm) in enumerate(build.wires):
        row = offsets["wire"] + i
        voltage_row(row, branch.start, branch.end)
        current_column(row, branch.start, branch.end)
        K[row, row] -= ohm

    incidence = np.zeros((n, d))
    for i, (branch, _) in enumerate(build.junctions):
        row = offsets["wave"] + i
        voltage_row(row, branch.start, branch.end)
        if branch.start != _GROUND:
            incidence[branch.start, i] += 1.0
        if branch.end != _GROUND:
            incidence[branch.end, i] -= 1.0

    order = [circuit.coils.names.index(branch.label) for branch in build.coils]
    L = np.array(circuit.coils.inductance_H, dtype=float).reshape(c, c)[np.ix_(order, order)]
    rows = offsets["coil"] + np.arange(c)
    M[np.ix_(rows, rows)] = L
    emf_rows = np.empty(c, dtype=np.intp)
    for i, branch in enumerate(build.coils):
        row = offsets["coil"] + i
        voltage_row(row, branch.start, branch.end)
        # the coil's current leaves through its start terminal into the load
        current_column(row, branch.end, branch.start)
        K[row, row] += circuit.coils.resistance_ohm[order[i]]
        emf_rows[order[i]] = row

    initial = np.zeros(size)
    for i, (branch, cap) in enumerate(build.capacitors):
        row = offsets["capacitor"] + i
        M[row, row] = cap.capacitance_F
        initial[row] = cap.initial_V
        column = offsets["charging"] + i
        current_column(column, branch.start, branch.end)
        K[row, column] -= 1.0
        voltage_row(column, branch.start, branch.end)
        K[column, row] -= 1.0
        K[column, column] -= cap.esr_ohm

    in_order = np.argsort(order)
    return Equations(
        nodes=n,
        mass=M,
        linear=K,
        emf_rows=emf_rows,
        stored=np.flatnonzero(np.abs(M).sum(axis=1) > 0),
        junction_nodes=incidence,
        laws=tuple(law for _, law in build.junctions),
        coil_branches=tuple(build.coils[i] for i in in_order),
        branches=tuple(build.order),
        terminals=terminals,
        dc_terminals=build.dc,
        offsets=offsets,
        initial=initial,
    )
