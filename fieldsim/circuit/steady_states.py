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
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fieldsim.circuit.emf_source import PeriodicEmf, emfs_at
from fieldsim.circuit.equations import Equations
from fieldsim.circuit.half_wave import Turn, repeats, turn_of
from fieldsim.circuit.port_collocation import PortSystem, stage_times
from fieldsim.circuit.port_measures import Measures
from fieldsim.circuit.port_network import PortNetworks, same_topology
from fieldsim.circuit.port_newton import newton
from fieldsim.circuit.steady_waves import SteadyWaves

__all__ = ["Driven", "steady_waves"]

Array = NDArray[np.float64]
Progress = Callable[[int, int], None]

_FIRST_STEPS = 64
_LADDER = 4  # numbers of steps to a doubling
_MOST_STEPS = 20_000
_MOST_ROUNDS = 10
_LEAST_FINER = 1.4  # times as many steps, for the change to tell the error
_BOLD = 0.65  # of the steps that bends ask for will mostly do
_AT_ONCE = 6000  # steps of all circuits of a group: its arrays stay in the caches
_SOFTENINGS = (64.0, 8.0)
_UPDATE = 1e-7  # of the peak EMF, at which a solution is found
_ROUGH = 1e-5  # the same for steps that are only to start from
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
    near
        The state of a circuit of the same topology to start from; None to start from nothing.
    same_steps
        Whether that circuit is the same but for a little, so that its steps do here too.
    """

    equations: Equations
    emf: PeriodicEmf
    wave_ohm: float
    scale_V: float
    near: SteadyWaves | None = None
    same_steps: bool = False


@dataclass(frozen=True, eq=False)
class _Trial:
    """What is known of a circuit that is not solved yet."""

    index: int
    circuit: Driven
    times_s: Array
    guess: tuple[Array, Array] | None = None
    averages: Array | None = None
    iterations: int = 0
    rounds: int = 0
    change: float = math.inf

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
    for kind in _kinds(circuits):
        waiting = _begun(kind, circuits)
        while waiting:
            coming: list[_Trial] = []
            for group in _groups(waiting):
                for trial, outcome in zip(group, _advanced(group, kind, tolerance), strict=True):
                    if isinstance(outcome, _Trial):
                        coming.append(outcome)
                        continue
                    found[trial.index] = outcome
                    done += 1
                    if progress is not None:
                        progress(done, len(circuits))
            waiting = coming
    return found


def _begun(kind: _Kind, circuits: Sequence[Driven]) -> list[_Trial]:
    """Return first trials; what starts from nothing starts from a rough solution of one of them."""
    parts = kind.turn.stretches
    trials = []
    for index in kind.place:
        circuit = circuits[index]
        emf, near = circuit.emf, _fitting(circuit.near, kind.networks)
        trial = _first(index, circuit, parts)
        known = None if near is None or not circuit.same_steps else _stretch_of(near, parts)
        if near is not None and known is not None:
            trials.append(_Trial(index, circuit, *known, change=near.change))
            continue
        if near is not None:
            trial = _beside(trial, near, near.period_s / emf.period_s, near.scale_V)
        trials.append(trial)
    cold = [trial for trial in trials if trial.guess is None]
    if len(cold) < 2:
        return trials
    by_size = sorted(cold, key=lambda trial: trial.circuit.scale_V / trial.circuit.wave_ohm)
    lead = by_size[len(by_size) // 2]
    system = kind.system([lead])
    scale_V = np.array([lead.circuit.scale_V])
    solved = newton(system, *_softly(system, scale_V), scale_V, _ROUGH)
    if not solved.converged[0]:
        return trials
    found = SteadyWaves(
        lead.times_s, solved.t[0], solved.back_V[0], lead.circuit.emf.period_s, float(scale_V[0])
    )
    return [
        _beside(trial, found, found.period_s / trial.circuit.emf.period_s, found.scale_V)
        if trial.guess is None
        else trial
        for trial in trials
    ]


def _fitting(near: SteadyWaves | None, networks: PortNetworks) -> SteadyWaves | None:
    """Return a state if it has the unknowns of these networks: another circuit's may not."""
    if near is None or len(near.t) != networks.junctions:
        return None
    return near if len(near.back_V) == networks.coils + networks.capacitors else None


def _stretch_of(near: SteadyWaves, parts: int) -> tuple[Array, tuple[Array, Array]] | None:
    """Return steps and unknowns of the first stretch of a state; None if it has no such part."""
    steps, rest = divmod(near.t.shape[2], parts)
    end_s = near.period_s / parts
    if rest or abs(near.times_s[steps] - end_s) > 1e-9 * end_s:
        return None
    return near.times_s[: steps + 1], (near.t[..., :steps], near.back_V[..., :steps])


def _beside(trial: _Trial, near: SteadyWaves, slower: float, scale_V: float) -> _Trial:
    """Return a trial that starts from another circuit's state, ``slower`` times as long."""
    t, back_V = _moved(near.times_s, trial.times_s * slower, near.t, near.back_V)
    return replace(trial, guess=(t, back_V * (trial.circuit.scale_V / scale_V)))


def _on_ladder(steps: float) -> int:
    """Return the next of the numbers of steps in use."""
    octave = 2.0 ** math.floor(math.log2(steps / _LADDER))
    return int(math.ceil(steps / octave) * octave)


@dataclass(frozen=True, eq=False)
class _Kind:
    """Circuits of one topology, driven alike."""

    networks: PortNetworks
    place: dict[int, int]  # of each circuit in the networks
    turn: Turn

    def system(self, trials: list[_Trial]) -> PortSystem:
        """Return the equations of some trials with equally many steps."""
        times = np.stack([trial.times_s for trial in trials])
        emf_V = emfs_at([trial.circuit.emf for trial in trials], stage_times(times))
        chosen = self.networks.chosen([self.place[trial.index] for trial in trials])
        return PortSystem(chosen, times, emf_V, self.turn)


def _kinds(circuits: Sequence[Driven]) -> list[_Kind]:
    """Return the circuits sorted by topology, fineness of EMF and symmetry."""
    alike: list[tuple[Driven, tuple[int, bool], list[int]]] = []
    for i, circuit in enumerate(circuits):
        often = repeats(circuit.emf)
        for first, of_first, places in alike:
            if (
                often == of_first
                and first.emf.filled[0].shape == circuit.emf.filled[0].shape
                and same_topology(first.equations, circuit.equations)
            ):
                places.append(i)
                break
        else:
            alike.append((circuit, often, [i]))
    kinds = []
    for _, often, places in alike:
        networks = PortNetworks(
            tuple(circuits[i].equations for i in places),
            np.array([circuits[i].wave_ohm for i in places]),
        )
        turn = turn_of(networks, *often)
        kinds.append(_Kind(networks, {index: k for k, index in enumerate(places)}, turn))
    return kinds


def _groups(waiting: list[_Trial]) -> list[list[_Trial]]:
    """Return trials with equally many steps, as many together as keep in the caches."""
    alike: dict[tuple[int, bool, bool], list[_Trial]] = {}
    for trial in waiting:
        key = (trial.steps, trial.guess is None, math.isfinite(trial.change))
        alike.setdefault(key, []).append(trial)
    groups = []
    for (steps, *_), trials in alike.items():
        size = max(1, _AT_ONCE // steps)
        groups += [trials[i : i + size] for i in range(0, len(trials), size)]
    return groups


def _advanced(
    group: list[_Trial], kind: _Kind, tolerance: float
) -> list[_Trial | SteadyWaves | None]:
    """Return what has become of a group: solved, to be solved on finer steps, or given up."""
    system = kind.system(group)
    scale_V = np.array([trial.circuit.scale_V for trial in group])
    first = group[0].averages is None and not math.isfinite(group[0].change)
    guesses = [trial.guess for trial in group if trial.guess is not None]
    if guesses:
        t, back_V = (np.stack([guess[i] for guess in guesses]) for i in (0, 1))
        solved = newton(system, t, back_V, scale_V, _ROUGH if first else _UPDATE)
    else:
        solved = newton(system, *_softly(system, scale_V), scale_V, _ROUGH)
    measures = Measures(system, system.at(solved.t, solved.back_V), scale_V)
    averages, density, energy = measures.averages, measures.density(tolerance), measures.energy
    moments = None if first else measures.moments()
    outcomes: list[_Trial | SteadyWaves | None] = []
    for k, trial in enumerate(group):
        iterations = trial.iterations + int(solved.iterations[k])
        before = trial.averages
        change = trial.change if before is None else float(np.abs(averages[k] - before).max())
        if not solved.converged[k]:
            # from nothing instead, if it was from another's
            again = before is None and trial.guess is not None
            outcomes.append(_anew(trial, kind) if again else None)
            continue
        if change <= tolerance and energy[k] < _ENERGY:
            circuit = trial.circuit
            outcomes.append(
                SteadyWaves(
                    *_whole(kind.turn, trial.times_s, solved.t[k], solved.back_V[k]),
                    circuit.emf.period_s, circuit.scale_V, change, iterations,
                    float(solved.update_V[k]), moments[k] if moments else None,
                )
            )  # fmt: skip
            continue
        wanted = _BOLD * float((density[k] * system.h[k]).sum())
        steps = _on_ladder(max(wanted, _LEAST_FINER * trial.steps))
        if trial.rounds == _MOST_ROUNDS or steps > _MOST_STEPS:
            outcomes.append(None)
            continue
        mesh = _spread(trial.times_s, density[k], steps)
        guess = _moved(trial.times_s, mesh, solved.t[k], solved.back_V[k])
        outcomes.append(
            replace(
                trial, times_s=mesh, guess=guess, averages=averages[k], iterations=iterations,
                rounds=trial.rounds + 1,
            )
        )  # fmt: skip
    return outcomes


def _whole(turn: Turn, times_s: Array, t: Array, back_V: Array) -> tuple[Array, Array, Array]:
    """Return steps and unknowns of the whole period from those of a stretch of it."""
    if turn.signs:
        later = np.array(turn.signs, dtype=float)[:, None, None] * back_V
        t = np.concatenate([t, t[list(turn.junctions)]], axis=-1)
        back_V = np.concatenate([back_V, later], axis=-1)
    starts = times_s[-1] * np.arange(turn.stretches)
    ends = (starts[:, None] + times_s[1:]).ravel()
    often = turn.stretches // 2 if turn.signs else turn.stretches
    return np.append(0.0, ends), np.tile(t, often), np.tile(back_V, often)


def _anew(trial: _Trial, kind: _Kind) -> _Trial:
    """Return a first trial without anything to start from."""
    return _first(trial.index, trial.circuit, kind.turn.stretches)


def _first(index: int, circuit: Driven, parts: int) -> _Trial:
    steps = max(_FIRST_STEPS // min(parts, 4), 4 * circuit.emf.bandwidth // parts)
    steps = _on_ladder(min(steps, _MOST_STEPS // 2))
    return _Trial(index, circuit, np.linspace(0.0, circuit.emf.period_s / parts, steps + 1))


def _spread(times_s: Array, density: Array, steps: int) -> Array:
    """Return ends of steps that share a density evenly."""
    share = np.concatenate([[0.0], np.cumsum(density * np.diff(times_s))])
    mesh = np.interp(np.linspace(0.0, share[-1], steps + 1), share, times_s)
    mesh[0], mesh[-1] = times_s[0], times_s[-1]
    return np.asarray(mesh)


def _moved(old_s: Array, new_s: Array, t: Array, back_V: Array) -> tuple[Array, Array]:
    """Return unknowns (rows, 2, steps) on other steps, by the parabola of each old step."""
    at = stage_times(new_s[None])[0]
    h = np.diff(old_s)
    which = np.searchsorted(old_s, at, side="right") - 1
    np.clip(which, 0, len(h) - 1, out=which)
    p = (at - old_s[which]) / h[which]
    values = np.concatenate([t, back_V])
    middle, end = values[:, 0], values[:, 1]
    start = np.empty_like(end)
    start[:, 1:] = end[:, :-1]
    start[:, 0] = 1.5 * middle[:, 0] - 0.5 * end[:, 0]
    # start + p (slope + p bend)
    bend = 3.0 * start - 4.5 * middle + 1.5 * end
    slope = end - start - bend
    moved = bend[:, which]
    moved *= p
    moved += slope[:, which]
    moved *= p
    moved += start[:, which]
    return moved[: len(t)], moved[len(t) :]


def _softly(system: PortSystem, scale_V: Array) -> tuple[Array, Array]:
    """Return a rough solution from nothing, wide knees first."""
    networks = system.networks
    b, n = system.h.shape
    back_V = np.zeros((b, system.r, 2, n))
    before = _SOFTENINGS[0]
    t = np.zeros((b, system.d, 2, n)) + networks.at_rest(before)[:, :, None, None]
    if system.d:
        for softening in _SOFTENINGS:
            t = networks.sharpened(t, before, softening)
            solved = newton(system, t, back_V, scale_V, _ROUGH, softening)
            t, back_V, before = solved.t, solved.back_V, softening
        t = networks.sharpened(t, before, 1.0)
    return t, back_V
