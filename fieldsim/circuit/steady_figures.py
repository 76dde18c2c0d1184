"""What a circuit's steady state comes to in a few numbers, for many circuits at once."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fieldsim.circuit.emf_source import PeriodicEmf
from fieldsim.circuit.extraction import METER_NAME
from fieldsim.circuit.netlist import GROUND, Branch
from fieldsim.circuit.network import Circuit
from fieldsim.circuit.port_network import PortNetworks
from fieldsim.circuit.results import CircuitResult
from fieldsim.circuit.solver import driven, settled_state
from fieldsim.circuit.steady_states import Driven, steady_waves
from fieldsim.circuit.steady_waves import SteadyWaves, WaveMoments
from fieldsim.circuit.tolerances import TOLERANCE
from fieldsim.circuit.warm_wire import settled_together
from fieldsim.machine.load.circuit_parts import Led, Resistor

__all__ = ["SteadyFigures", "figures_of", "steady_figures"]

Array = NDArray[np.float64]
Progress = Callable[[int, int], None]


@dataclass(frozen=True, eq=False)
class SteadyFigures:
    """A steady state's averages.

    Parameters
    ----------
    lamps
        Labels of the groups of equal lamps.
    lamp_current_A, lamp_peak_current_A
        Average forward current and greatest current of each lamp of a group, (lamps,).
    visible_current_A, rated_current_A
        From which it is plainly seen, and what it bears for long, (lamps,).
    coil_current_A, coil_heat_W
        RMS current and average loss of each coil, in the circuit's order, (coils,).
    source_power_W, load_W, useful_power_W
        Average power of all EMFs, out of the coils' terminals, and into lamps (resistors if there
        are none).
    outlets
        Names.
    terminal_rms_V, dc_voltage_V
        At each outlet; behind its bridge on average, NaN without one; (outlets,).
    """

    lamps: tuple[str, ...]
    lamp_current_A: Array = field(repr=False)
    lamp_peak_current_A: Array = field(repr=False)
    visible_current_A: Array = field(repr=False)
    rated_current_A: Array = field(repr=False)
    coil_current_A: Array = field(repr=False)
    coil_heat_W: Array = field(repr=False)
    source_power_W: float
    load_W: float
    useful_power_W: float
    outlets: tuple[str, ...]
    terminal_rms_V: Array = field(repr=False)
    dc_voltage_V: Array = field(repr=False)


def steady_figures(
    circuits: Sequence[Circuit],
    emfs: Sequence[PeriodicEmf],
    *,
    tolerance: float = TOLERANCE,
    progress: Progress | None = None,
) -> list[SteadyFigures]:
    """Return the figures of many circuits that repeat themselves every period.

    Parameters and errors as of `fieldsim.circuit.solver.periodic_steady_states`, whose waveforms
    these are the averages of; without them it is faster by far.

    Examples
    --------
    >>> from fieldsim.circuit.network import one_coil_circuit
    >>> t = np.arange(64) / 64
    >>> emf = PeriodicEmf(0.02, 10.0 * np.sin(2 * np.pi * t))
    >>> loads = [one_coil_circuit(50.0, Resistor(ohm)) for ohm in (25.0, 50.0, 100.0)]
    >>> [round(each.load_W, 4) for each in steady_figures(loads, [emf] * 3)]
    [0.2222, 0.25, 0.2222]
    """

    def solve(
        which: Sequence[int], held: Sequence[Circuit], near: Sequence[_Found | None], again: bool
    ) -> list[_Found]:
        drives = [
            driven(circuit, emfs[i], None if other is None else other.waves, again)
            for i, circuit, other in zip(which, held, near, strict=True)
        ]
        found = steady_waves(drives, tolerance, None if again else progress)
        return [
            _Found(figures_of(settled_state(circuit, drive.emf, tolerance)), None)
            if waves is None or waves.moments is None
            else _Found(_of_moments(circuit, drive, waves.moments), waves)
            for circuit, drive, waves in zip(held, drives, found, strict=True)
        ]

    settled = settled_together(
        circuits, solve, lambda found: found.figures.coil_heat_W, tolerance, [None] * len(circuits)
    )
    return [found.figures for found, _ in settled]


@dataclass(frozen=True, eq=False)
class _Found:
    figures: SteadyFigures
    waves: SteadyWaves | None


def figures_of(result: CircuitResult) -> SteadyFigures:
    """Return the figures of a result that is known in full."""
    lamps = result.lamps
    coils = [result.coils[name] for name in result.circuit.coils.names]
    outlets = list(result.outlets.values())

    def rms(values: Array) -> float:
        return float(np.sqrt(result.average(values**2)))

    return SteadyFigures(
        tuple(lamp.label for lamp in lamps),
        np.array([lamp.average_current_A for lamp in lamps]),
        np.array([lamp.peak_current_A for lamp in lamps]),
        np.array([lamp.visible_current_A for lamp in lamps]),
        np.array([lamp.rated_current_A for lamp in lamps]),
        np.array([coil.rms_current_A for coil in coils]),
        np.array([coil.heat_W for coil in coils]),
        result.source_power_W,
        result.load_W,
        result.useful_power_W,
        tuple(outlet.name for outlet in outlets),
        np.array([rms(outlet.voltage_V) for outlet in outlets]),
        np.array(
            [
                np.nan if outlet.dc_voltage_V is None else result.average(outlet.dc_voltage_V)
                for outlet in outlets
            ]
        ),
    )


def _of_moments(circuit: Circuit, drive: Driven, moments: WaveMoments) -> SteadyFigures:
    equations = drive.equations
    unknown = PortNetworks((equations,), np.array([drive.wave_ohm])).unknown_maps[0]
    mean, square = moments.mean_V, moments.square_V2

    def between(start: int, end: int) -> Array:
        none = np.zeros(unknown.shape[1])
        return (none if start == GROUND else unknown[start]) - (
            none if end == GROUND else unknown[end]
        )

    def product(one: Array, other: Array) -> float:
        return float(one @ square @ other)

    def into(branch: Branch) -> float:
        """Return the average power into a branch [W]."""
        voltage = between(branch.start, branch.end)
        part = branch.part
        if isinstance(part, Led):
            current = unknown[equations.offsets["wave"] + branch.index]
        elif branch.in_wires:
            current = unknown[equations.offsets["wire"] + branch.index]
        else:
            assert isinstance(part, Resistor)  # noqa: S101  (what else is useful)
            current = voltage / (
                part.resistance_ohm * branch.solved_series / branch.solved_parallel
            )
        return branch.share * product(voltage, current)

    lamps = [b for b in equations.branches if isinstance(b.part, Led)]
    parts = [b.part for b in lamps if isinstance(b.part, Led)]
    useful = lamps or [
        b for b in equations.branches if isinstance(b.part, Resistor) and b.part.name != METER_NAME
    ]
    which, share = [b.index for b in lamps], np.array([b.solved_parallel for b in lamps])
    first = equations.offsets["coil"]
    coils = [unknown[first + branch.index] for branch in equations.coil_branches]
    ohm = np.array(circuit.coils.resistance_ohm)
    squares = np.array([max(product(coil, coil), 0.0) for coil in coils])
    emf = np.eye(unknown.shape[1])[unknown.shape[1] - len(coils) :]
    source_W = sum(product(coil, e) for coil, e in zip(coils, emf, strict=True))
    terminals = [between(*ends) for ends in equations.terminals.values()]
    direct = [equations.dc_terminals.get(name) for name in equations.terminals]
    return SteadyFigures(
        tuple(b.label for b in lamps),
        moments.forward_A[which] / share,
        moments.peak_A[which] / share,
        np.array([part.visible_A for part in parts]),
        np.array([part.rated_A for part in parts]),
        np.sqrt(squares),
        squares * ohm,
        source_W,
        source_W - float(squares @ circuit.coils.whole_ohm),
        sum(into(branch) for branch in useful),
        tuple(equations.terminals),
        np.sqrt([max(product(v, v), 0.0) for v in terminals]),
        np.array([np.nan if ends is None else float(between(*ends) @ mean) for ends in direct]),
    )
