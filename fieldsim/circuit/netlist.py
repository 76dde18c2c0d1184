"""Walk through coils and loads and lay every branch between two nodes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

from fieldsim.machine.connections import CoilRef, InSeries, Source
from fieldsim.machine.load.circuit_parts import (
    Bridge,
    Capacitor,
    Diode,
    Leaf,
    Led,
    Load,
    Parallel,
    Resistor,
    Series,
    Short,
)
from fieldsim.machine.load.diode_law import JunctionLaw

__all__ = ["GROUND", "Branch", "CoilBranch", "Counts", "Netlist"]

GROUND = -1

_LOW_OHM = 1e5
# Below it a resistor's current is an unknown of its own: were it voltage over resistance, the
# voltage's rounding would drown the nanoamperes that set the voltages between blocking diodes.


@dataclass(frozen=True)
class CoilBranch:
    """A coil between two nodes: its current leaves it through ``start``."""

    coil: str
    start: int
    end: int
    index: int


@dataclass(frozen=True)
class Branch:
    """A solved branch: one part, or a group of equal parts taken together.

    Parameters
    ----------
    outlet, label
        Where it hangs, and a name unique in the circuit.
    part
        The part.
    series, parallel
        How many equal parts it stands for: in a string, and strings.
    solved_series, solved_parallel
        The same of all branches that are solved as one with it, because they are alike.
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
    part: Leaf
    series: int
    parallel: int
    solved_series: int
    solved_parallel: int
    start: int
    end: int
    index: int
    on_dc: bool = False
    in_wires: bool = False

    @property
    def share(self) -> float:
        """Its part of all branches that are solved as one."""
        return self.series * self.parallel / (self.solved_series * self.solved_parallel)


@dataclass(frozen=True)
class Counts:
    """How many equal parts a part stands for: in a string, and strings; and those solved with it.

    Parts that are alike in one string carry the same current, and side by side they have the same
    voltage: they are solved once.
    """

    series: int = 1
    parallel: int = 1
    solved_series: int = 1
    solved_parallel: int = 1

    def in_series(self, count: int) -> Counts:
        """Return the counts of what comes so many times in a string."""
        return replace(self, series=self.series * count, solved_series=self.solved_series * count)

    def in_parallel(self, count: int) -> Counts:
        """Return the counts of what comes so many times side by side."""
        return replace(
            self, parallel=self.parallel * count, solved_parallel=self.solved_parallel * count
        )

    def shared_in_series(self, others: int) -> Counts:
        """Return the counts where so many alike stand in one string, solved together."""
        return replace(self, solved_series=self.solved_series * others)

    def shared_in_parallel(self, others: int) -> Counts:
        """Return the counts where so many alike stand side by side, solved together."""
        return replace(self, solved_parallel=self.solved_parallel * others)


@dataclass
class Netlist:
    """Collects nodes and branches while it walks through sources and loads."""

    nodes: int = 0
    junctions: list[tuple[Branch, JunctionLaw]] = field(default_factory=list)
    coils: list[CoilBranch] = field(default_factory=list)
    resistors: list[tuple[Branch, float]] = field(default_factory=list)
    wires: list[tuple[Branch, float]] = field(default_factory=list)
    capacitors: list[tuple[Branch, Capacitor]] = field(default_factory=list)
    order: list[Branch] = field(default_factory=list)
    dc: dict[str, tuple[int, int]] = field(default_factory=dict)
    labels: dict[str, int] = field(default_factory=dict)
    prefixed: bool = False

    def node(self) -> int:
        """Return a new node."""
        self.nodes += 1
        return self.nodes - 1

    def label(self, outlet: str, name: str) -> str:
        """Return a label that no other branch has."""
        name = f"{outlet}: {name}" if self.prefixed else name
        self.labels[name] = self.labels.get(name, 0) + 1
        return name if self.labels[name] == 1 else f"{name} {self.labels[name]}"

    def source(self, source: Source, start: int, end: int) -> None:
        """Place coils between two nodes; the source drives current out of ``start``."""
        if source.reverse:
            start, end = end, start
        if isinstance(source, CoilRef):
            self.coils.append(CoilBranch(source.coil, start, end, len(self.coils)))
        elif isinstance(source, InSeries):
            chain = [start, *(self.node() for _ in source.members[1:]), end]
            for member, a, b in zip(source.members, chain, chain[1:], strict=False):
                self.source(member, a, b)
        else:
            for member in source.members:
                self.source(member, start, end)

    def load(
        self, outlet: str, load: Load, start: int, end: int, counts: Counts, on_dc: bool
    ) -> None:
        """Place a load between two nodes, standing for as many equal ones as are counted."""
        if isinstance(load, Series):
            inside = counts.in_series(load.count)
            groups = _alike(load.parts)
            chain = [start, *(self.node() for _ in groups[1:]), end]
            ends = list(pairwise(chain))
            shared = [inside.shared_in_series(len(group)) for group in groups]
        elif isinstance(load, Parallel):
            inside = counts.in_parallel(load.count)
            groups = _alike(load.parts)
            ends = [(start, end)] * len(groups)
            shared = [inside.shared_in_parallel(len(group)) for group in groups]
        elif isinstance(load, Bridge):
            self.bridge(outlet, load, start, end, counts)
            return
        else:
            self.leaf(outlet, load, start, end, counts, on_dc)
            return
        first = len(self.order)
        places: dict[int, list[Branch]] = {}
        for group, (a, b), counted in zip(groups, ends, shared, strict=True):
            before = len(self.order)
            self.load(outlet, load.parts[group[0]], a, b, counted, on_dc)
            made = self.order[before:]
            for i in group:
                places[i] = [_named_like(branch, load.parts[i]) for branch in made]
        self.order[first:] = [branch for i in sorted(places) for branch in places[i]]

    def bridge(self, outlet: str, bridge: Bridge, start: int, end: int, counts: Counts) -> None:
        """Place a bridge and the load behind it."""
        plus, minus = self.node(), self.node()
        self.dc.setdefault(outlet, (plus, minus))
        diode = bridge.diode
        for a, b in ((start, plus), (end, plus), (minus, start), (minus, end)):
            self.leaf(outlet, diode, a, b, counts, False, "bridge diode")
        self.load(outlet, bridge.load, plus, minus, counts, True)

    def leaf(
        self,
        outlet: str,
        part: Leaf,
        start: int,
        end: int,
        counts: Counts,
        on_dc: bool,
        name: str = "",
    ) -> None:
        """Place one part; a reversed diode is turned to its forward direction."""
        if isinstance(part, Diode | Led) and part.reverse:
            start, end = end, start
        series, parallel = counts.solved_series, counts.solved_parallel

        def branch(index: int, in_wires: bool = False) -> Branch:
            made = Branch(
                outlet, name or _name_of(part), part, counts.series, counts.parallel, series,
                parallel, start, end, index, on_dc, in_wires,
            )  # fmt: skip
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
            branch(-1)  # open terminals carry nothing, but have a voltage

    def branches(self) -> tuple[Branch, ...]:
        """Return all branches in order, each with a label of its own."""
        return tuple(replace(b, label=self.label(b.outlet, b.label)) for b in self.order)


def _alike(parts: Sequence[Load]) -> list[list[int]]:
    """Return the numbers of parts, those together that are alike but for their names."""
    groups: dict[Load, list[int]] = {}
    for i, part in enumerate(parts):
        groups.setdefault(_nameless(part), []).append(i)
    return list(groups.values())


def _nameless(part: Load) -> Load:
    return part if isinstance(part, Series | Parallel | Bridge) else replace(part, name="")


def _named_like(branch: Branch, part: Load) -> Branch:
    """Return a branch as that of a part like its own, which may have another name."""
    if isinstance(part, Series | Parallel | Bridge):
        return branch
    return replace(branch, part=part, label=_name_of(part))


def _name_of(part: Leaf) -> str:
    if part.name:
        return part.name
    if isinstance(part, Led):
        name = f"{part.colour} LED" if part.colour else "LED"
        return f"reversed {name}" if part.reverse else name
    return type(part).__name__.lower()
