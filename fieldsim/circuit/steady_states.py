"""The periodic steady states of many circuits, solved side by side.

Circuits whose equations differ in numbers alone are solved in groups with equally many time steps,
each on steps of its own. What a circuit gives depends on no other: groups only share the work.
Newton's method starts from nothing, with wide knees first; steps are then spread where the solution
bends until the averages stay the same, as `fieldsim.circuit.solver` says. Circuits whose Newton
steps do not find the way are left for it to finish.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from fieldsim.circuit.emf_source import PeriodicEmf, emfs_at
from fieldsim.circuit.equations import Equations
from fieldsim.circuit.port_collocation import PortSystem, stage_times
from fieldsim.circuit.port_measures import Measures
from fieldsim.circuit.port_network import PortNetworks, same_topology
from fieldsim.circuit.port_newton import newton

__all__ = ["Driven", "SteadyWaves", "steady_waves"]

Array = NDArray[np.float64]
Progress = Callable[[int, int], None]

_FIRST_STEPS = 64
_LADDER = 8  # numbers of steps to a doubling
_MOST_STEPS = 20_000
_MOST_ROUNDS = 10
_LEAST_FINER = 1.4  # times as many steps, for the change to tell the error
_AT_ONCE = 3000  # steps of all circuits of a group: its arrays stay in the caches
_SOFTENINGS = (64.0, 8.0)
_UPDATE = 1e-7  # of the peak EMF, at which a solution is found
_ROUGH = 1e-3  # the same for steps that are only to start from
_ENERGY = 5e-5


@dataclass(frozen=True, eq=False)
class Driven:
    """A circuit and what drives it.

    Parameters
    ----------
    equations
        Of the circuit.
    emf
        In the order of its coils.
    wave_ohm, scale_V
        A resistance and a voltage typical of it.
    """

    equations: Equations
    emf: PeriodicEmf
    wave_ohm: float
    scale_V: float


@dataclass(frozen=True, eq=False)
class SteadyWaves:
    """A steady state as its waves.

    Parameters
    ----------
    times_s
        Ends of the steps, (steps + 1,).
    t, back_V
        Unknowns, (junctions, 2, steps) and (reactive ports, 2, steps).
    change
        Of averages by the last refinement of the steps.
    iterations
        Newton iterations in all.
    update_V
        Size of the last one.
    """

    times_s: Array = field(repr=False)
    t: Array = field(repr=False)
    back_V: Array = field(repr=False)
    change: float
    iterations: int
    update_V: float


@dataclass(frozen=True, eq=False)
class _Trial:
    """What is known of a circuit that is not solved yet."""

    index: int
    times_s: Array
    guess: tuple[Array, Array] | None
    averages: Array | None = None
    iterations: int = 0

    @property
    def steps(self) -> int:
        return len(self.times_s) - 1


def steady_waves(
    circuits: Sequence[Driven], tolerance: float, progress: Progress | None = None
) -> list[SteadyWaves | None]:
    """Return the steady state of each circuit, or None where it is left to another method.

    Parameters
    ----------
    circuits
        Of any kinds; alike ones share the work.
    tolerance
        Of average powers and currents, relative to source power and coil current.
    progress
        Called with (circuits done, circuits in all).
    """
    found: list[SteadyWaves | None] = [None] * len(circuits)
    done = 0
    for alike in _alike(circuits):
        networks = PortNetworks(
            tuple(circuits[i].equations for i in alike),
            np.array([circuits[i].wave_ohm for i in alike]),
        )
        place = {index: k for k, index in enumerate(alike)}
        waiting = [_begun(i, circuits[i]) for i in alike]
        for round_ in range(_MOST_ROUNDS):
            coming: list[_Trial] = []
            for group in _groups(waiting):
                members = [circuits[trial.index] for trial in group]
                chosen = networks.chosen([place[trial.index] for trial in group])
                last = round_ == _MOST_ROUNDS - 1
                for trial, outcome in zip(
                    group, _advanced(group, members, chosen, tolerance, last), strict=True
                ):
                    if isinstance(outcome, _Trial):
                        coming.append(outcome)
                    else:
                        found[trial.index] = outcome
                        done += 1
                        if progress is not None:
                            progress(done, len(circuits))
            waiting = coming
    return found


def _begun(index: int, circuit: Driven) -> _Trial:
    steps = _on_ladder(min(max(_FIRST_STEPS, 4 * circuit.emf.bandwidth), _MOST_STEPS // 2))
    return _Trial(index, np.linspace(0.0, circuit.emf.period_s, steps + 1), None)


def _on_ladder(steps: float) -> int:
    """Return the next of the numbers of steps in use."""
    octave = 2 ** math.floor(math.log2(steps / _LADDER))
    return math.ceil(steps / octave) * octave


def _alike(circuits: Sequence[Driven]) -> list[list[int]]:
    """Return the circuits' places, those of one topology and fineness of EMF together."""
    kinds: list[tuple[Driven, list[int]]] = []
    for i, circuit in enumerate(circuits):
        for first, places in kinds:
            if first.emf.filled[0].shape == circuit.emf.filled[0].shape and same_topology(
                first.equations, circuit.equations
            ):
                places.append(i)
                break
        else:
            kinds.append((circuit, [i]))
    return [places for _, places in kinds]


def _groups(waiting: list[_Trial]) -> list[list[_Trial]]:
    """Return trials with equally many steps, as many together as keep in the caches."""
    kinds: dict[tuple[int, bool], list[_Trial]] = {}
    for trial in waiting:
        kinds.setdefault((trial.steps, trial.guess is None), []).append(trial)
    groups = []
    for (steps, _), trials in kinds.items():
        size = max(1, _AT_ONCE // steps)
        groups += [trials[i : i + size] for i in range(0, len(trials), size)]
    return groups


def _advanced(
    group: list[_Trial],
    circuits: list[Driven],
    networks: PortNetworks,
    tolerance: float,
    last: bool,
) -> list[_Trial | SteadyWaves | None]:
    """Return what has become of a group: solved, to be solved on finer steps, or given up."""
    times = np.stack([trial.times_s for trial in group])
    emf_V = emfs_at([c.emf for c in circuits], stage_times(times))
    system = PortSystem(networks, times, emf_V)
    scale_V = np.array([c.scale_V for c in circuits])
    guesses = [trial.guess for trial in group if trial.guess is not None]
    if guesses:
        t, back_V = (np.stack([guess[i] for guess in guesses]) for i in (0, 1))
        solved = newton(system, t, back_V, scale_V, _UPDATE)
    else:
        t, back_V, used = _softly(system, scale_V)
        solved = newton(system, t, back_V, scale_V, _ROUGH)
        solved = replace(solved, iterations=solved.iterations + used)
    measures = Measures(system, system.at(solved.t, solved.back_V), scale_V)
    averages, density, energy = measures.averages, measures.density(tolerance), measures.energy
    outcomes: list[_Trial | SteadyWaves | None] = []
    for k, trial in enumerate(group):
        iterations = trial.iterations + int(solved.iterations[k])
        before = trial.averages
        change = math.inf if before is None else float(np.abs(averages[k] - before).max())
        if not solved.converged[k]:
            outcomes.append(None)
            continue
        if change <= tolerance and energy[k] < _ENERGY:
            update_V = float(solved.update_V[k])
            outcomes.append(
                SteadyWaves(
                    trial.times_s, solved.t[k], solved.back_V[k], change, iterations, update_V
                )
            )
            continue
        wanted = float((density[k] * system.h[k]).sum())
        steps = _on_ladder(max(wanted, _LEAST_FINER * trial.steps))
        if last or steps > _MOST_STEPS:
            outcomes.append(None)
            continue
        mesh = _spread(trial.times_s, density[k], steps)
        guess = _moved(trial.times_s, mesh, solved.t[k], solved.back_V[k])
        outcomes.append(_Trial(trial.index, mesh, guess, averages[k], iterations))
    return outcomes


def _spread(times_s: Array, density: Array, steps: int) -> Array:
    """Return ends of steps that share a density evenly."""
    share = np.concatenate([[0.0], np.cumsum(density * np.diff(times_s))])
    mesh = np.interp(np.linspace(0.0, share[-1], steps + 1), share, times_s)
    mesh[0], mesh[-1] = times_s[0], times_s[-1]
    return np.asarray(mesh)


def _moved(old_s: Array, new_s: Array, t: Array, back_V: Array) -> tuple[Array, Array]:
    """Return unknowns (rows, 2, steps) on other steps, by the parabola of each old step."""
    at = stage_times(new_s[None])[0]
    which = np.clip(np.searchsorted(old_s, at, side="right") - 1, 0, len(old_s) - 2)
    p = (at - old_s[which]) / np.diff(old_s)[which]
    a, b, c = (p - 1 / 3) * (p - 1) * 3, p * (p - 1) * -4.5, p * (p - 1 / 3) * 1.5

    def moved(v: Array) -> Array:
        start, middle, end = np.roll(v[:, 1], 1, axis=-1), v[:, 0], v[:, 1]
        return np.asarray(a * start[:, which] + b * middle[:, which] + c * end[:, which])

    return moved(t), moved(back_V)


def _softly(system: PortSystem, scale_V: Array) -> tuple[Array, Array, NDArray[np.int_]]:
    """Return a rough solution from nothing, wide knees first, and the iterations it took."""
    networks = system.networks
    b, n = system.h.shape
    back_V = np.zeros((b, system.r, 2, n))
    used = np.zeros(b, dtype=int)
    before = _SOFTENINGS[0]
    t = np.zeros((b, system.d, 2, n)) + networks.at_rest(before)[:, :, None, None]
    if system.d:
        for softening in _SOFTENINGS:
            t = networks.sharpened(t, before, softening)
            solved = newton(system, t, back_V, scale_V, _ROUGH, softening)
            t, back_V, before = solved.t, solved.back_V, softening
            used += solved.iterations
        t = networks.sharpened(t, before, 1.0)
    return t, back_V, used
