"""The equations of a circuit as matrices: nodes, junctions, coils, capacitors.

Unknowns, in this order: node voltages [V], wave variables of the junctions [V], coil currents [A],
currents of low resistors [A], capacitor voltages [V], capacitor currents [A].
The equations are ``M x' + K x + junctions(x) = B emf(t)``; rows of ``M`` that are zero are
algebraic.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from fieldsim.circuit.netlist import GROUND, Branch, CoilBranch, Counts, Netlist
from fieldsim.circuit.network import Circuit, Outlet
from fieldsim.errors import ImpossibleError
from fieldsim.machine.load.diode_law import JunctionLaw

__all__ = ["INSULATION_S", "Equations", "circuit_equations", "many_equations"]

Array = NDArray[np.float64]

_MOST_JUNCTIONS = 40
_MOST_CAPACITORS = 12

INSULATION_S = 1e-12
"""Conductance from every node to its outlet's second end: no node is ever left floating."""


@dataclass(frozen=True, eq=False)
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
    mass: Array = field(repr=False)
    linear: Array = field(repr=False)
    emf_rows: NDArray[np.intp] = field(repr=False)
    stored: NDArray[np.intp] = field(repr=False)
    junction_nodes: Array = field(repr=False)
    laws: tuple[JunctionLaw, ...]
    coil_branches: tuple[CoilBranch, ...]
    branches: tuple[Branch, ...]
    terminals: dict[str, tuple[int, int]]
    dc_terminals: dict[str, tuple[int, int]]
    offsets: dict[str, int]
    initial: Array = field(repr=False)

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
        return np.zeros(x.shape[:-1]) if node == GROUND else x[..., node]

    def between(self, x: Array, start: int, end: int) -> Array:
        """Return the voltage from node ``start`` to node ``end`` [V]."""
        return self.node_voltage(x, start) - self.node_voltage(x, end)


def circuit_equations(circuit: Circuit) -> Equations:
    """Return the equations of a circuit.

    Raises
    ------
    ImpossibleError
        If it has more lamps, diodes or capacitors that differ than can be solved in seconds.

    Examples
    --------
    >>> from fieldsim.machine.load.circuit_parts import Resistor
    >>> from fieldsim.circuit.network import one_coil_circuit
    >>> equations = circuit_equations(one_coil_circuit(50.0, Resistor(100.0)))
    >>> equations.size, equations.nodes
    (3, 1)
    """
    return many_equations([circuit])[0]


def many_equations(circuits: Sequence[Circuit]) -> list[Equations]:
    """Return the equations of circuits; those that differ in their coils alone share all else.

    Errors as of `circuit_equations`.
    """
    alike: dict[tuple[tuple[str, ...], tuple[Outlet, ...]], list[int]] = {}
    for i, circuit in enumerate(circuits):
        alike.setdefault((circuit.coils.names, circuit.outlets), []).append(i)
    found: dict[int, Equations] = {}
    for places in alike.values():
        some = [circuits[i] for i in places]
        found.update(zip(places, _with_coils(_without_coils(some[0]), some), strict=True))
    return [found[i] for i in range(len(circuits))]


def _without_coils(circuit: Circuit) -> Equations:
    """Return the equations of a circuit as if its coils were wire without resistance."""
    build = Netlist(prefixed=len(circuit.outlets) > 1)
    terminals = {}
    for outlet in circuit.complete_outlets():
        start = build.node()
        terminals[outlet.name] = (start, GROUND)
        build.source(outlet.source, start, GROUND)
        build.load(outlet.name, outlet.load, start, GROUND, Counts(), False)
    _refuse_too_many(build)
    return _assembled(circuit, build, terminals)


def _with_coils(equations: Equations, circuits: Sequence[Circuit]) -> list[Equations]:
    at = equations.emf_rows
    linear = np.repeat(equations.linear[None], len(circuits), axis=0)
    linear[:, at, at] += np.array([circuit.coils.whole_ohm for circuit in circuits])
    mass = np.repeat(equations.mass[None], len(circuits), axis=0)
    mass[:, at[:, None], at] = [circuit.coils.inductance_H for circuit in circuits]
    stores = np.asarray(mass.any(axis=2))
    return [
        replace(equations, mass=M, linear=K, stored=np.flatnonzero(rows))
        for M, K, rows in zip(mass, linear, stores, strict=True)
    ]


def _refuse_too_many(build: Netlist) -> None:
    for what, found, most in (
        ("lamps and diodes", len(build.junctions), _MOST_JUNCTIONS),
        ("capacitors", len(build.capacitors), _MOST_CAPACITORS),
    ):
        if found > most:
            raise ImpossibleError(
                f"load.parts: {found} {what} that differ in kind or place would take minutes; at "
                f"most {most} are allowed (those alike in one string or side by side count once)"
            )


def _assembled(
    circuit: Circuit, build: Netlist, terminals: dict[str, tuple[int, int]]
) -> Equations:
    n, d, c = build.nodes, len(build.junctions), len(build.coils)
    w, k = len(build.wires), len(build.capacitors)
    names = ("node", "wave", "coil", "wire", "capacitor", "charging")
    starts = np.cumsum([0, n, d, c, w, k, k]).tolist()
    offsets = dict(zip(names, starts[:-1], strict=True))
    size = starts[-1]
    M, K = np.zeros((size, size)), np.zeros((size, size))

    def add(row: int, column: int, value: float) -> None:
        if row != GROUND and column != GROUND:
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
        if branch.start != GROUND:
            incidence[branch.start, i] += 1.0
        if branch.end != GROUND:
            incidence[branch.end, i] -= 1.0

    order = [circuit.coils.names.index(branch.coil) for branch in build.coils]
    emf_rows = np.empty(c, dtype=np.intp)
    for i, coil in enumerate(build.coils):
        row = offsets["coil"] + i
        voltage_row(row, coil.start, coil.end)
        # the coil's current leaves through its start terminal into the load
        current_column(row, coil.end, coil.start)
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
        stored=np.flatnonzero(M.any(axis=1)),
        junction_nodes=incidence,
        laws=tuple(law for _, law in build.junctions),
        coil_branches=tuple(build.coils[i] for i in in_order),
        branches=build.branches(),
        terminals=terminals,
        dc_terminals=build.dc,
        offsets=offsets,
        initial=initial,
    )
