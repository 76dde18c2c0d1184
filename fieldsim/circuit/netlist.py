"""Walk through coils and loads and lay every branch between two nodes."""

from __future__ import annotations

from dataclasses import dataclass, field

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

__all__ = ["GROUND", "Branch", "CoilBranch", "Netlist"]

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
    start: int
    end: int
    index: int
    on_dc: bool = False
    in_wires: bool = False


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
        self, outlet: str, load: Load, start: int, end: int, series: int, parallel: int, on_dc: bool
    ) -> None:
        """Place a load between two nodes, standing for series x parallel equal ones."""
        if isinstance(load, Series):
            chain = [start, *(self.node() for _ in load.parts[1:]), end]
            for part, a, b in zip(load.parts, chain, chain[1:], strict=False):
                self.load(outlet, part, a, b, series * load.count, parallel, on_dc)
        elif isinstance(load, Bridge):
            self.bridge(outlet, load, start, end, series, parallel)
        elif isinstance(load, Parallel):
            for part in load.parts:
                self.load(outlet, part, start, end, series, parallel * load.count, on_dc)
        else:
            self.leaf(outlet, load, start, end, series, parallel, on_dc)

    def bridge(
        self, outlet: str, bridge: Bridge, start: int, end: int, series: int, parallel: int
    ) -> None:
        """Place a bridge and the load behind it."""
        plus, minus = self.node(), self.node()
        self.dc.setdefault(outlet, (plus, minus))
        diode = bridge.diode
        for a, b in ((start, plus), (end, plus), (minus, start), (minus, end)):
            self.leaf(outlet, diode, a, b, series, parallel, False, "bridge diode")
        self.load(outlet, bridge.load, plus, minus, series, parallel, True)

    def leaf(
        self,
        outlet: str,
        part: Leaf,
        start: int,
        end: int,
        series: int,
        parallel: int,
        on_dc: bool,
        name: str = "",
    ) -> None:
        """Place one part; a reversed diode is turned to its forward direction."""
        if isinstance(part, Diode | Led) and part.reverse:
            start, end = end, start
        name = name or part.name or _plain_name(part)
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
            branch(-1)  # open terminals carry nothing, but have a voltage


def _plain_name(part: Leaf) -> str:
    if isinstance(part, Led):
        name = f"{part.colour} LED" if part.colour else "LED"
        return f"reversed {name}" if part.reverse else name
    return type(part).__name__.lower()
