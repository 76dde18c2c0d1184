"""Solve circuits in time: to the periodic steady state, or from the start.

The steady state is solved as such: the end of the period is joined to its beginning and all times
are found together by Newton's method, so there is nothing to settle. It counts as found when the
last Newton update is below 1e-7 of the peak EMF (currents times the coils' mean resistance), and
there are more steps, where the solution bends, until more of them move no average power by more
than ``tolerance`` of the source power and no average current by more than that of the coils'.
One circuit is the special case of many, `fieldsim.circuit.steady_states`; what that leaves over is
finished here, one after the other.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from fieldsim.cautions import Doubt, Note
from fieldsim.circuit.collocation import STAGES, WEIGHTS, Stretch
from fieldsim.circuit.emf_source import PeriodicEmf
from fieldsim.circuit.equations import Equations, circuit_equations, many_equations
from fieldsim.circuit.extraction import circuit_result
from fieldsim.circuit.network import Circuit
from fieldsim.circuit.newton import Solution, nearer, solve_stretch
from fieldsim.circuit.port_network import PortNetworks
from fieldsim.circuit.results import CircuitResult
from fieldsim.circuit.steady_states import Driven, steady_waves
from fieldsim.circuit.steady_waves import SteadyWaves
from fieldsim.circuit.tolerances import TOLERANCE
from fieldsim.circuit.warm_wire import settled_together, with_doubt
from fieldsim.circuit.wave_laws import WaveLaws

__all__ = [
    "driven",
    "periodic_steady_state",
    "periodic_steady_states",
    "settled_state",
    "start_up",
]

Array = NDArray[np.float64]
Emf = Callable[[Array], Array]
Progress = Callable[[int, int], None]

BALANCE_LIMIT = 1e-4
_LEAST_V = 1e-6  # of an EMF that counts; rounding leaves less where an EMF cancels
_FEWEST_STEPS = 64
_MOST_STEPS = 20_000
_MOST_ROUNDS = 10
_WINDOW = 128
_WINDOW_ROUNDS = 6


@dataclass(frozen=True)
class _Scales:
    """Sizes typical of a circuit, for weighing errors."""

    voltage_V: float
    wave_ohm: float


def periodic_steady_state(
    circuit: Circuit,
    emf: PeriodicEmf,
    *,
    tolerance: float = TOLERANCE,
    near: CircuitResult | None = None,
) -> CircuitResult:
    """Return the state that repeats itself every period.

    Parameters
    ----------
    circuit
        Coils and loads; the coils' resistances are those of wire without current.
    emf
        EMF of each coil, in the order of ``circuit.coils.names``.
    tolerance
        Of the average powers and currents, relative to source power and coil current.
    near
        A steady state much like the one sought, to start from. The answer is the same.

    Raises
    ------
    ValueError
        If the EMF has another number of coils than the circuit, or ``near`` does not repeat itself.

    Notes
    -----
    Radau IIA collocation with two stages; see `fieldsim.circuit.port_collocation`. Coils that warm
    are as warm as they get in the end; see `fieldsim.circuit.warm_wire`.

    Examples
    --------
    >>> from fieldsim.machine.load.circuit_parts import Resistor
    >>> from fieldsim.circuit.network import one_coil_circuit
    >>> t = np.arange(64) / 64
    >>> emf = PeriodicEmf(0.02, 10.0 * np.sin(2 * np.pi * t))
    >>> result = periodic_steady_state(one_coil_circuit(50.0, Resistor(50.0)), emf)
    >>> round(result.load_W, 5)  # emf_rms^2 / 4R, the most this coil can give
    0.25
    """
    return periodic_steady_states([circuit], [emf], tolerance=tolerance, near=[near])[0]


def periodic_steady_states(
    circuits: Sequence[Circuit],
    emfs: Sequence[PeriodicEmf],
    *,
    tolerance: float = TOLERANCE,
    near: Sequence[CircuitResult | None] = (),
    progress: Progress | None = None,
) -> list[CircuitResult]:
    """Return the states of many circuits that repeat themselves every period.

    Parameters
    ----------
    circuits, emfs
        As for `periodic_steady_state`. Circuits of one topology share the work, their answers do
        not depend on each other.
    tolerance
        Of the average powers and currents, relative to source power and coil current.
    near
        For each, a steady state much like the one sought or None; empty for none.
    progress
        Called with (circuits done, circuits in all).

    Raises
    ------
    ValueError
        As of `periodic_steady_state`.
    """
    near = near or [None] * len(circuits)
    for circuit, emf, neighbour in zip(circuits, emfs, near, strict=True):
        _check_coils(circuit, emf.coils)
        if neighbour is not None and neighbour.period_s is None:
            raise ValueError("what to take the steps from does not repeat itself")

    def solve(
        which: Sequence[int],
        held: Sequence[Circuit],
        beside: Sequence[CircuitResult | None],
        again: bool,
    ) -> list[CircuitResult]:
        waves_beside = [None if other is None else other.waves for other in beside]
        drives = driven(held, [emfs[i] for i in which], waves_beside, again)
        found = steady_waves(drives, tolerance, None if again else progress)
        return [
            settled_state(circuit, drive.emf, tolerance, other)
            if waves is None
            else _from_waves(circuit, drive, waves, tolerance)
            for circuit, drive, waves, other in zip(held, drives, found, beside, strict=True)
        ]

    def heat_W(result: CircuitResult) -> Array:
        return np.array([result.coils[name].heat_W for name in result.circuit.coils.names])

    return [
        result if missed is None else with_doubt(result, missed, tolerance)
        for result, missed in settled_together(circuits, solve, heat_W, tolerance, near)
    ]


def driven(
    circuits: Sequence[Circuit],
    emfs: Sequence[PeriodicEmf],
    near: Sequence[SteadyWaves | None],
    same_steps: bool = False,
) -> list[Driven]:
    """Return the equations of circuits with what drives them.

    Parameters
    ----------
    circuits, emfs
        Coils and loads, and the EMF of each coil.
    near, same_steps
        As of `fieldsim.circuit.steady_states.Driven`.

    Raises
    ------
    ValueError
        If an EMF has another number of coils than its circuit.
    """
    made = []
    for circuit, emf, equations, beside in zip(
        circuits, emfs, many_equations(circuits), near, strict=True
    ):
        _check_coils(circuit, emf.coils)
        scales = _scales(circuit, emf.peak_V)
        made.append(Driven(equations, emf, scales.wave_ohm, scales.voltage_V, beside, same_steps))
    return made


def _from_waves(
    circuit: Circuit, drive: Driven, waves: SteadyWaves, tolerance: float
) -> CircuitResult:
    """Return the full result of a state that is known by its waves."""
    equations = drive.equations
    networks = PortNetworks((equations,), np.array([drive.wave_ohm]))
    times_s, t, reactive_V = waves.whole()
    stretch = Stretch(times_s, None)
    d, points = len(t), 2 * t.shape[2]
    junction_V = networks.junction_waves(t.reshape(d, 1, points)).back_V[:, 0]
    back_V = np.concatenate([junction_V, reactive_V.reshape(-1, points)])
    stage_s = stretch.stage_times_s.T.ravel()  # all first stages, then all second ones
    x = networks.unknowns(0, back_V, drive.emf(stage_s))
    x[:, equations.columns("wave", d)] = networks.wave_V(t[:, None])[:, 0].reshape(d, points).T
    x = np.ascontiguousarray(x.reshape(2, -1, equations.size).transpose(1, 0, 2))
    ends = x[-1, 1] @ equations.mass[equations.stored].T
    solution = Solution(x, waves.update_V, waves.iterations, True)
    junctions = WaveLaws.from_laws(equations.laws, drive.wave_ohm)
    result = _finished(
        circuit, equations, junctions, drive.emf, [(stretch, solution)], (ends, ends),
        drive.emf.period_s, waves.change, tolerance, waves.iterations,
    )  # fmt: skip
    return replace(result, waves=waves)


def settled_state(
    circuit: Circuit,
    emf: PeriodicEmf,
    tolerance: float = TOLERANCE,
    near: CircuitResult | None = None,
) -> CircuitResult:
    """Return the same as `periodic_steady_state` by a slower way, which always gets there.

    All unknowns of all times together, time marched through where Newton's method does not help.
    The coils keep their resistances.
    """
    equations = circuit_equations(circuit)
    scales = _scales(circuit, emf.peak_V)
    junctions = WaveLaws.from_laws(equations.laws, scales.wave_ohm)
    guess: Array | None = None
    iterations = 0
    # so few that there is room for finer ones to compare with
    first = min(max(_FEWEST_STEPS, 4 * emf.bandwidth), _MOST_STEPS // 2)
    mesh = np.linspace(0.0, emf.period_s, first + 1)
    if near is not None and len(near.time_s) <= _MOST_STEPS:  # two times a step
        finer = _steps_of(near, emf.period_s)
        guess, iterations = _guess_on(finer, mesh, equations, emf, scales)
        mesh = finer
    before: _Averages | None = None
    change = math.inf
    for round_ in range(_MOST_ROUNDS):
        stretch = Stretch(mesh, None)
        solution = solve_stretch(equations, stretch, emf, guess, scales.wave_ohm, scales.voltage_V)
        iterations += solution.iterations
        averages = _averages(equations, junctions, emf, stretch, solution, scales)
        if before is not None:
            change = averages.moved_from(before)
        bends = _bends(equations, junctions, emf, stretch, solution, scales)
        finer = _refined(mesh, bends, tolerance)
        if before is None and len(finer) > _MOST_STEPS:
            finer = _halved(mesh)
        last = round_ == _MOST_ROUNDS - 1 or len(finer) - 1 > _MOST_STEPS
        if change <= tolerance or last:
            ends = solution.x[-1, 1] @ equations.mass[equations.stored].T
            result = _finished(
                circuit, equations, junctions, emf, [(stretch, solution)], (ends, ends),
                emf.period_s, change, tolerance, iterations,
            )  # fmt: skip
            if last or result.balance.energy < 0.5 * BALANCE_LIMIT:
                break
        if len(finer) == len(mesh):
            finer = _refined(mesh, bends, tolerance / 8)
        if len(finer) == len(mesh):
            finer = _halved(mesh)
        before = averages
        guess = _moved(stretch, solution.x, Stretch(finer, None))
        mesh = finer
    return result


def _steps_of(near: CircuitResult, period_s: float) -> Array:
    """Return a steady state's steps, stretched to a period."""
    mesh = np.concatenate([[0.0], near.time_s[1::2] * (period_s / near.duration_s)])
    mesh[-1] = period_s
    return mesh


def _guess_on(
    fine: Array, coarse: Array, equations: Equations, emf: PeriodicEmf, scales: _Scales
) -> tuple[Array, int]:
    """Return unknowns to begin from on fine steps: solved on few, then roughly on all.

    With them comes the number of Newton iterations.
    """
    few, all_ = Stretch(coarse, None), Stretch(fine, None)
    solution = solve_stretch(equations, few, emf, None, scales.wave_ohm, scales.voltage_V)
    guess = _moved(few, solution.x, all_)
    guess, used = nearer(equations, all_, emf, guess, scales.wave_ohm, scales.voltage_V)
    return guess, solution.iterations + used


def start_up(
    circuit: Circuit,
    emf: Emf,
    duration_s: float,
    longest_step_s: float,
    *,
    tolerance: float = TOLERANCE,
) -> CircuitResult:
    """Return what happens from time zero, coils without current and capacitors as they are stated.

    Wire stays as cold as it is without current: a winding takes minutes to warm.

    Parameters
    ----------
    emf
        From times (n,) to the EMF of each coil, (coils, n) [V]; see
        `fieldsim.circuit.emf_source.emf_while_turning`.
    duration_s
        How long to follow it [s].
    longest_step_s
        Longest time step [s]: short enough to see every pulse of the EMF, about a hundredth of
        the fastest rotor turn. Steps are halved further where the solution bends.
    tolerance
        Of the averages over the whole stretch, as an aim for the steps.

    Raises
    ------
    ValueError
        If the times are not above zero, or give more than a million steps.
    """
    if not (duration_s > 0 and longest_step_s > 0):
        raise ValueError("the duration and the longest step must be above zero")
    count = math.ceil(duration_s / longest_step_s)
    if count > 1_000_000:
        raise ValueError(f"{count} steps; at most a million are allowed: follow a shorter time")
    sample_V = emf(np.linspace(0.0, duration_s, 20_001))
    _check_coils(circuit, len(sample_V))
    equations = circuit_equations(circuit)
    scales = _scales(circuit, float(np.abs(sample_V).max()))
    junctions = WaveLaws.from_laws(equations.laws, scales.wave_ohm)
    edges = np.linspace(0.0, duration_s, count + 1)
    stored = (equations.mass @ equations.initial)[equations.stored]
    begin = stored
    solved: list[tuple[Stretch, Solution]] = []
    change, iterations = 0.0, 0
    last: Array | None = None
    for first in range(0, count, _WINDOW):
        mesh = edges[first : min(first + _WINDOW, count) + 1]
        stretch, solution, used, moved = _solved_window(
            equations, junctions, emf, mesh, stored, last, scales, tolerance
        )
        iterations += used
        change = max(change, moved)
        solved.append((stretch, solution))
        last = solution.x[-1, 1]
        stored = equations.mass[equations.stored] @ last
    return _finished(
        circuit, equations, junctions, emf, solved, (begin, stored), None, change, tolerance,
        iterations,
    )  # fmt: skip


def _solved_window(
    equations: Equations,
    junctions: WaveLaws,
    emf: Emf,
    mesh: Array,
    stored: Array,
    last: Array | None,
    scales: _Scales,
    tolerance: float,
) -> tuple[Stretch, Solution, int, float]:
    """Solve one window of a transient, with steps halved where it bends."""
    stretch = Stretch(mesh, stored)
    guess = None if last is None else np.tile(last, (len(mesh) - 1, 2, 1))
    before: _Averages | None = None
    iterations, change = 0, 0.0
    for round_ in range(_WINDOW_ROUNDS):
        solution = solve_stretch(equations, stretch, emf, guess, scales.wave_ohm, scales.voltage_V)
        iterations += solution.iterations
        averages = _averages(equations, junctions, emf, stretch, solution, scales)
        if before is not None:
            change = averages.moved_from(before)
        bends = _bends(equations, junctions, emf, stretch, solution, scales)
        finer = _refined(stretch.times_s, bends, tolerance)
        if len(finer) == len(stretch.times_s) or round_ == _WINDOW_ROUNDS - 1:
            break
        before = averages
        next_stretch = Stretch(finer, stored)
        guess = _moved(stretch, solution.x, next_stretch)
        stretch = next_stretch
    return stretch, solution, iterations, change


def _check_coils(circuit: Circuit, given: int) -> None:
    if given != len(circuit.coils.names):
        raise ValueError(f"EMF of {given} coils for a circuit of {len(circuit.coils.names)}")


def _scales(circuit: Circuit, peak_V: float) -> _Scales:
    ohm = 10.0 * sum(circuit.coils.resistance_ohm) / len(circuit.coils.resistance_ohm)
    return _Scales(max(peak_V, _LEAST_V), ohm)


@dataclass(frozen=True, eq=False)
class _Averages:
    """Average powers and junction currents over a stretch, and what they are weighed by."""

    powers_W: Array = field(repr=False)
    currents_A: Array = field(repr=False)
    source_W: float
    current_A: float

    def moved_from(self, other: _Averages) -> float:
        """Return the greatest change, relative to source power or coil current."""
        power = float(np.abs(self.powers_W - other.powers_W).max(initial=0.0))
        current = float(np.abs(self.currents_A - other.currents_A).max(initial=0.0))
        return max(power / self.source_W, current / self.current_A)


def _averages(
    equations: Equations,
    junctions: WaveLaws,
    emf: Emf,
    stretch: Stretch,
    solution: Solution,
    scales: _Scales,
) -> _Averages:
    x = solution.x.reshape(-1, equations.size)
    weights = (stretch.steps_s[:, None] * WEIGHTS).ravel()
    weights = weights / weights.sum()
    columns = equations.columns("coil", len(equations.coil_branches))
    coils = x[:, columns]
    order = [branch.index for branch in equations.coil_branches]
    sources = emf(stretch.stage_times_s.ravel()).T * coils[:, order]
    point = junctions.at(x[:, equations.columns("wave", len(equations.laws))])
    # where only leakage flows, a millionth of what the coils can give is small enough
    small_A = 1e-5 * scales.voltage_V / scales.wave_ohm
    heats = (weights @ coils**2) * np.diag(equations.linear)[columns]
    powers = [weights @ sources, weights @ (point.voltage_V * point.current_A), heats]
    return _Averages(
        np.concatenate(powers),
        weights @ point.current_A,
        max(float(weights @ np.abs(sources).sum(axis=1)), small_A * scales.voltage_V),
        max(float(weights @ np.abs(coils).max(axis=1, initial=0.0)), small_A),
    )


def _bends(
    equations: Equations,
    junctions: WaveLaws,
    emf: Emf,
    stretch: Stretch,
    solution: Solution,
    scales: _Scales,
) -> Array:
    """Return how far each step departs from the parabola through the one before, (steps,).

    Relative to the greatest current or voltage; the first step takes its neighbour's value.
    """
    x = solution.x
    coils = x[..., equations.columns("coil", len(equations.coil_branches))]
    point = junctions.at(x[..., equations.columns("wave", len(equations.laws))])
    currents = np.concatenate([coils, point.current_A], axis=-1)
    # leakage alone is no current worth following
    floor_A = 1e-6 * scales.voltage_V / scales.wave_ohm
    largest_A = max(float(np.abs(coils).max(initial=0.0)), floor_A)
    currents = currents / largest_A
    times = stretch.stage_times_s
    emf_V = emf(times.ravel()).T.reshape(*times.shape, -1) / scales.voltage_V
    driving = _driving_voltages(equations, x, float(stretch.times_s[-1] - stretch.times_s[0]))
    values = np.concatenate(
        [currents, emf_V, driving / max(largest_A, 1e-3 * scales.voltage_V / scales.wave_ohm)],
        axis=-1,
    )
    h = stretch.steps_s
    departure = np.zeros(len(h))
    # parabola through the start, the stage and the end of step k - 1, continued into step k
    start, middle, end = values[:-2, 1], values[1:-1, 0], values[1:-1, 1]
    for stage, s in enumerate(STAGES):
        p = 1.0 + s * h[2:] / h[1:-1]
        a, b, c = (p - 1 / 3) * (p - 1) * 3, p * (p - 1) * -4.5, p * (p - 1 / 3) * 1.5
        ahead = a[:, None] * start + b[:, None] * middle + c[:, None] * end
        miss = np.abs(values[2:, stage] - ahead).max(axis=1, initial=0.0)
        # a long step after a short one is judged by what the short one can foresee
        departure[2:] = np.maximum(departure[2:], miss / np.maximum(p * p, 1.0))
    both = departure.copy()
    both[:-1] = np.maximum(both[:-1], departure[1:])
    both[0] = max(both[0], both[1] if len(both) > 1 else 0.0)
    return both


def _driving_voltages(equations: Equations, x: Array, length_s: float) -> Array:
    """Return the voltages at the coils as the currents they drive, (steps, 2, coils) [A].

    A jump of the voltage within a step leaves an error in the coil's current, which lasts for a
    time L/R or for the whole stretch, whichever is shorter. Coils without inductance have none.
    """
    columns = equations.columns("coil", len(equations.coil_branches))
    henry = np.diag(equations.mass)[columns]
    ohm = np.diag(equations.linear)[columns]
    voltage = np.stack(
        [
            equations.between(x, branch.start, branch.end)
            for branch in sorted(equations.coil_branches, key=lambda b: b.index)
        ],
        axis=-1,
    )
    return np.asarray(voltage * (henry > 0) / np.maximum(ohm, henry / length_s))


def _refined(mesh: Array, bends: Array, tolerance: float) -> Array:
    """Return the mesh with steps divided where the solution bends too much."""
    h = np.diff(mesh)
    excess = bends * h / (mesh[-1] - mesh[0]) / tolerance
    # a kink's share of the error falls with the square of its step
    parts = np.clip(np.ceil(np.sqrt(2.0 * excess)), 1, 8).astype(int)
    pieces = [mesh]
    for total in range(2, 9):
        chosen = parts == total
        pieces += [mesh[:-1][chosen] + h[chosen] * (i / total) for i in range(1, total)]
    return np.sort(np.concatenate(pieces))


def _halved(mesh: Array) -> Array:
    return np.sort(np.concatenate([mesh, 0.5 * (mesh[:-1] + mesh[1:])]))


def _moved(old: Stretch, x: Array, new: Stretch) -> Array:
    """Return unknowns on other steps, by the parabola through each old step's three points."""
    begin = x[-1:, 1] if old.start is None else x[:1, 0]
    starts = np.concatenate([begin, x[:-1, 1]])
    at = new.stage_times_s
    which = np.searchsorted(old.times_s, at - 1e-9 * new.steps_s[:, None], side="right") - 1
    which = np.clip(which, 0, len(old.steps_s) - 1)
    p = ((at - old.times_s[which]) / old.steps_s[which])[..., None]
    a, b, c = (p - 1 / 3) * (p - 1) * 3, p * (p - 1) * -4.5, p * (p - 1 / 3) * 1.5
    return np.asarray(a * starts[which] + b * x[which, 0] + c * x[which, 1])


def _finished(
    circuit: Circuit,
    equations: Equations,
    junctions: WaveLaws,
    emf: Emf,
    solved: list[tuple[Stretch, Solution]],
    stored: tuple[Array, Array],
    period_s: float | None,
    change: float,
    tolerance: float,
    iterations: int,
) -> CircuitResult:
    time_s = np.concatenate([stretch.stage_times_s.ravel() for stretch, _ in solved])
    weight_s = np.concatenate([(s.steps_s[:, None] * WEIGHTS).ravel() for s, _ in solved])
    x = np.concatenate([solution.x.reshape(-1, equations.size) for _, solution in solved])

    def result(warnings: tuple[Note, ...]) -> CircuitResult:
        return circuit_result(
            circuit, equations, junctions, emf, time_s, weight_s, x, stored, period_s, change,
            warnings, sum(len(s.steps_s) for s, _ in solved), iterations,
        )  # fmt: skip

    warnings = []
    if not all(solution.converged for _, solution in solved):
        worst_V = max(solution.update for _, solution in solved)
        warnings.append(Note(Doubt.NOT_CONVERGED, float(worst_V)))
    if change > 5 * tolerance:
        warnings.append(Note(Doubt.COARSE_STEPS, float(change), 5 * tolerance))
    draft = result(tuple(warnings))
    balances = {
        Doubt.CHARGE_BALANCE: draft.balance.charge,
        Doubt.ENERGY_BALANCE: draft.balance.energy,
    }
    off = [Note(kind, v, BALANCE_LIMIT) for kind, v in balances.items() if v > BALANCE_LIMIT]
    return result((*warnings, *off)) if off else draft
