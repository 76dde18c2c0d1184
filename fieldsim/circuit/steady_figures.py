"""What a circuit's steady state comes to in a few numbers, for many circuits at once."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fieldsim.circuit.emf_source import PeriodicEmf
from fieldsim.circuit.extraction import METER_NAME
from fieldsim.circuit.netlist import Branch
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
        waves_near = [None if other is None else other.waves for other in near]
        drives = driven(held, [emfs[i] for i in which], waves_near, again)
        found = steady_waves(drives, tolerance, None if again else progress)
        solved = [i for i, waves in enumerate(found) if waves is not None]
        figures = _of_moments(
            [held[i] for i in solved],
            [drives[i] for i in solved],
            [waves.moments for waves in found if waves is not None],
        )
        by_place = dict(zip(solved, figures, strict=True))
        return [
            _Found(by_place[i], waves)
            if i in by_place
            else _Found(figures_of(settled_state(held[i], drives[i].emf, tolerance)), None)
            for i, waves in enumerate(found)
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


def _of_moments(
    circuits: Sequence[Circuit], drives: Sequence[Driven], moments: Sequence[WaveMoments]
) -> list[SteadyFigures]:
    """Return the figures of circuits; those with the same branches are worked out together."""
    alike: dict[int, list[int]] = {}
    for i, drive in enumerate(drives):
        alike.setdefault(id(drive.equations.branches), []).append(i)
    found: dict[int, SteadyFigures] = {}
    for places in alike.values():
        some = _of_alike(
            [circuits[i] for i in places], [drives[i] for i in places], [moments[i] for i in places]
        )
        found.update(zip(places, some, strict=True))
    return [found[i] for i in range(len(circuits))]


def _of_alike(
    circuits: list[Circuit], drives: list[Driven], moments: list[WaveMoments]
) -> list[SteadyFigures]:
    equations = drives[0].equations
    networks = PortNetworks(
        tuple(drive.equations for drive in drives), np.array([drive.wave_ohm for drive in drives])
    )
    of_waves = networks.unknown_maps
    count, unknowns, waves = of_waves.shape
    coils = len(equations.coil_branches)
    # all unknowns, the EMFs, and last, where the number of the ground points, nothing
    rows = np.zeros((count, unknowns + coils + 1, waves))
    rows[:, :unknowns] = of_waves
    rows[:, unknowns:-1] = np.eye(waves)[waves - coils :]
    mean = (rows @ np.stack([each.mean_V for each in moments])[..., None])[..., 0]
    square = rows @ np.stack([each.square_V2 for each in moments]) @ rows.transpose(0, 2, 1)

    def square_V2(start: int, end: int) -> Array:
        found = square[:, start, start] - 2.0 * square[:, start, end] + square[:, end, end]
        return np.asarray(found)

    def into(branch: Branch) -> Array:
        """Return the average power into a branch [W]."""
        part, start, end = branch.part, branch.start, branch.end
        if isinstance(part, Led) or branch.in_wires:
            kind = "wave" if isinstance(part, Led) else "wire"
            current = equations.offsets[kind] + branch.index
            return np.asarray(branch.share * (square[:, start, current] - square[:, end, current]))
        assert isinstance(part, Resistor)  # noqa: S101  (what else is useful)
        ohm = part.resistance_ohm * branch.solved_series / branch.solved_parallel
        return branch.share / ohm * square_V2(start, end)

    lamps = [b for b in equations.branches if isinstance(b.part, Led)]
    parts = [b.part for b in lamps if isinstance(b.part, Led)]
    useful = lamps or [
        b for b in equations.branches if isinstance(b.part, Resistor) and b.part.name != METER_NAME
    ]
    which, share = [b.index for b in lamps], np.array([b.solved_parallel for b in lamps])
    labels, outlets = tuple(b.label for b in lamps), tuple(equations.terminals)
    visible_A = np.array([part.visible_A for part in parts])
    rated_A = np.array([part.rated_A for part in parts])
    at = equations.offsets["coil"] + np.array([b.index for b in equations.coil_branches])
    squares = np.maximum(square[:, at, at], 0.0)
    heat_W = squares * np.array([circuit.coils.resistance_ohm for circuit in circuits])
    lost_W = (squares * np.array([circuit.coils.whole_ohm for circuit in circuits])).sum(axis=1)
    source_W = square[:, at, unknowns + np.arange(coils)].sum(axis=1)
    useful_W = sum((into(branch) for branch in useful), np.zeros(count))
    none = np.full(count, np.nan)
    terminal_V2 = np.stack([square_V2(*ends) for ends in equations.terminals.values()], axis=1)
    terminal_V = np.sqrt(np.maximum(terminal_V2, 0.0))
    direct = [equations.dc_terminals.get(name) for name in equations.terminals]
    dc_V = np.stack([none if e is None else mean[:, e[0]] - mean[:, e[1]] for e in direct], axis=1)
    current_A = np.sqrt(squares)
    return [
        SteadyFigures(
            labels, each.forward_A[which] / share, each.peak_A[which] / share, visible_A, rated_A,
            current_A[k], heat_W[k], float(source_W[k]), float(source_W[k] - lost_W[k]),
            float(useful_W[k]), outlets, terminal_V[k], dc_V[k],
        )
        for k, each in enumerate(moments)
    ]  # fmt: skip
