"""The periodic steady states of many circuits, solved side by side.

Circuits whose equations differ in numbers alone are solved in groups with equally many time steps,
each on steps of its own. What a circuit gives depends on no other: groups only share the work.
Newton's method starts from nothing, with wide knees first; steps are then spread where the solution
bends until the averages stay the same, as `fieldsim.circuit.solver` says. Circuits whose Newton
steps do not find the way are left for it to finish.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fieldsim.circuit.emf_source import EmfTables, PeriodicEmf
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
_RUNGS = 2  # numbers of steps in use to a doubling
_MOST_STEPS = 20_000
_MOST_ROUNDS = 10
_LEAST_FINER = 1.4  # times as many steps, for the change to tell the error
_BOLD = 0.65  # of the steps that bends ask for will mostly do
_FIRST_CHANGE = 0.5  # of the tolerance
_CLOSE = 0.05  # by which what drives circuits differs whose currents bend in the same places
_AT_ONCE = 12_000  # steps of all circuits of a group: its arrays stay in the caches
_SOFTENINGS = (64.0, 8.0)
_UPDATE = 1e-7  # of the peak EMF, at which a solution is found
_ROUGH = 1e-5  # the same for steps that are only to start from
_SOFT = 1e-2  # and for knees that are wide
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
        for place, waves in kind.solved(tolerance):
            found[kind.index[place]] = waves
            done += 1
            if progress is not None:
                progress(done, len(circuits))
    return found


@dataclass(frozen=True, eq=False)
class _Group:
    """Circuits of a kind with equally many steps, and what they start from, if anything.

    Places are those in the kind, (circuits,); the ends of steps (circuits, steps + 1); unknowns
    as of `PortState`.
    """

    places: NDArray[np.intp]
    times_s: Array
    guess: tuple[Array, Array] | None

    def chosen(self, which: slice | NDArray[np.intp]) -> _Group:
        guess = None if self.guess is None else (self.guess[0][:, which], self.guess[1][:, which])
        return _Group(self.places[which], self.times_s[which], guess)

    @staticmethod
    def joined(groups: Sequence[_Group]) -> _Group:
        guesses = [group.guess for group in groups if group.guess is not None]
        t, back_V = ([guess[i] for guess in guesses] for i in (0, 1))
        return _Group(
            np.concatenate([group.places for group in groups]),
            np.concatenate([group.times_s for group in groups]),
            (np.concatenate(t, axis=1), np.concatenate(back_V, axis=1)) if guesses else None,
        )


@dataclass(frozen=True, eq=False)
class _Known:
    """What is known so far of the circuits of a kind, in arrays that change as they are solved.

    Averages are infinite before the first, and so is their change unless another state tells it.
    """

    averages: Array
    change: Array
    iterations: NDArray[np.int_]
    rounds: NDArray[np.int_]

    def is_new(self, place: int) -> bool:
        """Return whether nothing is known of a circuit, whose steps then only serve to start."""
        return bool(np.isinf(self.change[place]) and np.isinf(self.averages[place, 0]))


def _sized(groups: list[_Group], known: _Known) -> list[_Group]:
    """Return groups with equally many steps, as many circuits together as keep in the caches."""
    alike: dict[tuple[int, bool, bool], list[_Group]] = {}
    for group in groups:
        new = known.is_new(group.places[0])
        key = (group.times_s.shape[1], group.guess is None, new)
        alike.setdefault(key, []).append(group)
    sized = []
    for (ends, *_), some in alike.items():
        whole, size = _Group.joined(some), max(1, _AT_ONCE // (ends - 1))
        sized += [whole.chosen(slice(i, i + size)) for i in range(0, len(whole.places), size)]
    return sized


def _on_ladder(steps: ArrayLike) -> NDArray[np.int_]:
    """Return the next of the numbers of steps in use."""
    # those in use are rounded, which must not lead to the one after the next
    rung = np.ceil(_RUNGS * np.log2(steps) - 0.02)
    return np.asarray(np.round(2.0 ** (rung / _RUNGS)), dtype=int)


class _Kind:
    """Circuits of one topology, driven alike.

    Parameters
    ----------
    index, circuits
        Which they are, and they themselves.
    often
        How their EMFs repeat, from `repeats`.
    """

    def __init__(self, index: list[int], circuits: list[Driven], often: tuple[int, bool]) -> None:
        self.index, self.circuits = index, circuits
        self.networks = PortNetworks(
            tuple(circuit.equations for circuit in circuits),
            np.array([circuit.wave_ohm for circuit in circuits]),
        ).with_alike_together()
        self.turn = turn_of(self.networks, *often)
        self.emfs = EmfTables([circuit.emf for circuit in circuits])
        self.scale_V = np.array([circuit.scale_V for circuit in circuits])
        self.stretch_s = np.array([c.emf.period_s for c in circuits]) / self.turn.stretches

    def system(self, group: _Group) -> PortSystem:
        """Return the equations of some circuits."""
        emf_V = self.emfs.at(group.places, stage_times(group.times_s))
        return PortSystem(self.networks.chosen(group.places), group.times_s, emf_V, self.turn)

    @cached_property
    def whole_turn(self) -> Turn:
        """The turn of all junctions, where that of the networks counts alike ones once."""
        if not self.turn.signs:
            return self.turn
        after = np.array(self._of_alike)[list(self.turn.junctions)][self.networks.place_of]
        return replace(self.turn, junctions=tuple(after.tolist()))

    def solved(self, tolerance: float) -> Iterator[tuple[int, SteadyWaves | None]]:
        """Yield each circuit's place with its state, or None where it is given up."""
        count = len(self.circuits)
        averages = 2 * (self.networks.coils + self.networks.junctions)
        known = _Known(
            np.full((count, averages), math.inf), np.full(count, math.inf),
            np.zeros(count, dtype=int), np.zeros(count, dtype=int),
        )  # fmt: skip
        near = [self._fitting(circuit.near) for circuit in self.circuits]
        cold = np.array([place for place, other in enumerate(near) if other is None], dtype=int)
        groups = []
        for place, other in enumerate(near):
            if other is None:
                continue
            if other.turn != self.whole_turn or not self._is_close(place, other):
                old_s, t, back_V = other.whole()
                rows = t[self._of_alike][:, None], back_V[:, None] / other.scale_V
                ends = old_s * (self.turn.stretches / other.period_s)
                groups += self._beside(np.array([place]), ends, *rows)
            elif self.circuits[place].same_steps:
                known.change[place] = other.change
                groups.append(self._on_steps_of(place, other, other.times_s))
            else:
                # about half of its steps: the next round then tells the error
                count = int(_on_ladder(len(other.times_s) / 2))
                spread = np.linspace(0.0, 1.0, count + 1)
                at = np.linspace(0.0, 1.0, len(other.times_s))
                groups.append(self._on_steps_of(place, other, np.interp(spread, at, other.times_s)))
        lead = self._rough(cold) if len(cold) > 1 else None
        groups += self._first(cold) if lead is None else self._beside(cold, *lead)
        yield from self._finished(groups, known, tolerance)

    def _finished(
        self, groups: list[_Group], known: _Known, tolerance: float
    ) -> Iterator[tuple[int, SteadyWaves | None]]:
        while groups:
            coming: list[_Group] = []
            for group in _sized(groups, known):
                finished, finer = self._advanced(group, known, tolerance)
                yield from finished
                coming += finer
            groups = coming

    def _fitting(self, near: SteadyWaves | None) -> SteadyWaves | None:
        """Return a state if it has the unknowns of these networks: another circuit's may not."""
        networks = self.networks
        if near is None or len(near.t) != len(networks.place_of):
            return None
        return near if len(near.back_V) == networks.coils + networks.capacitors else None

    @property
    def _of_alike(self) -> list[int]:
        """The first junction of all that count as one."""
        first = np.unique(self.networks.place_of, return_index=True)[1]
        return [int(place) for place in first]

    def _on_steps_of(self, place: int, near: SteadyWaves, ends_s: Array) -> _Group:
        """Return a circuit that starts from another's state, on steps of that one's stretch."""
        old = near.t[self._of_alike][:, None], near.back_V[:, None]
        t, back_V = _moved(near.times_s[None], ends_s[None], *old)
        slower = self.stretch_s[place] / near.times_s[-1]
        larger = self.scale_V[place] / near.scale_V
        return _Group(np.array([place]), ends_s[None] * slower, (t, back_V * larger))

    def _is_close(self, place: int, near: SteadyWaves) -> bool:
        """Return whether what drives a circuit is nearly as fast and strong as elsewhere."""
        circuit = self.circuits[place]
        apart = circuit.emf.period_s / near.period_s, circuit.scale_V / near.scale_V
        return all(abs(ratio - 1.0) < _CLOSE for ratio in apart)

    def _rough(self, places: NDArray[np.intp]) -> tuple[Array, Array, Array] | None:
        """Return a rough state of one of some circuits, as `_beside` takes it."""
        size_A = self.scale_V[places] / self.networks.wave_ohm[places]
        middle = np.argsort(size_A, kind="stable")[len(places) // 2]
        (lead,) = self._first(places[[middle]])
        system, scale_V = self.system(lead), self.scale_V[lead.places]
        solved = newton(system, *_softly(system, scale_V), scale_V, _ROUGH)
        if not solved.converged[0]:
            return None
        return (
            lead.times_s[0] / self.stretch_s[lead.places],
            solved.state.t,
            solved.state.back_V / scale_V,
        )

    def _beside(self, places: NDArray[np.intp], ends: Array, t: Array, back: Array) -> list[_Group]:
        """Return first groups of circuits that start from the state of another one.

        Parameters
        ----------
        places
            Of the circuits.
        ends, t, back
            Ends of its steps in stretches, and its unknowns, waves over its scale.
        """
        groups = []
        for group in self._first(places):
            some = group.places
            mesh = group.times_s[:1] / self.stretch_s[some[0]]
            new_t, new_back = _moved(ends[None], mesh, t, back)
            guess = np.repeat(new_t, len(some), axis=1), new_back * self.scale_V[some, None, None]
            groups.append(replace(group, guess=guess))
        return groups

    def _first(self, places: NDArray[np.intp]) -> list[_Group]:
        """Return circuits on their first steps, without anything to start from."""
        parts = self.turn.stretches
        harmonics = np.array([self.circuits[place].emf.bandwidth for place in places])
        least = np.maximum(_FIRST_STEPS // min(parts, 4), 4 * harmonics // parts)
        steps = _on_ladder(np.minimum(least, _MOST_STEPS // 2))
        groups = []
        for count in np.unique(steps):
            some = places[steps == count]
            ends = np.linspace(0.0, 1.0, count + 1)
            groups.append(_Group(some, self.stretch_s[some, None] * ends, None))
        return groups

    def _advanced(
        self, group: _Group, known: _Known, tolerance: float
    ) -> tuple[list[tuple[int, SteadyWaves | None]], list[_Group]]:
        """Return what is done of a group, or given up as None, and what goes on to finer steps."""
        places, system, scale_V = group.places, self.system(group), self.scale_V[group.places]
        rough = known.is_new(places[0])
        guess = _softly(system, scale_V) if group.guess is None else group.guess
        cold = rough or group.guess is None
        solved = newton(system, *guess, scale_V, _ROUGH if cold else _UPDATE)
        state = solved.state
        measures = Measures(system, state, scale_V)
        averages = measures.averages
        known.iterations[places] += solved.iterations
        moved = np.abs(averages - known.averages[places]).max(axis=1)
        change = np.where(np.isinf(moved), known.change[places], moved)
        # One refinement of steps that were not spread for this very circuit tells less.
        allowed = np.where(known.rounds[places] == 1, _FIRST_CHANGE, 1.0) * tolerance
        good = solved.converged & (change <= allowed) & (measures.energy < _ENERGY)
        finer = solved.converged & ~good
        density = measures.density(tolerance)
        wanted = _BOLD * (density * system.h).sum(axis=1)
        steps = _on_ladder(np.maximum(wanted, _LEAST_FINER * system.h.shape[1]))
        finer &= (known.rounds[places] < _MOST_ROUNDS) & (steps <= _MOST_STEPS)
        # from nothing instead, if it was from another's
        again = ~solved.converged & np.isinf(moved) & (group.guess is not None)
        known.change[places[again]] = math.inf
        coming = self._first(places[again])
        for count in np.unique(steps[finer]):
            some = np.flatnonzero(finer & (steps == count))
            old_s = group.times_s[some]
            mesh = _spread(old_s, density[some], count)
            coming.append(
                _Group(
                    places[some], mesh,
                    _moved(old_s, mesh, state.t[:, some], state.back_V[:, some]),
                )
            )  # fmt: skip
        known.averages[places] = averages
        known.rounds[places] += 1
        done: list[tuple[int, SteadyWaves | None]] = []
        if good.any():
            moments, t = measures.moments(), state.t[self.networks.place_of]
        for k in np.flatnonzero(~finer & ~again).tolist():
            place = int(places[k])
            waves = None
            if good[k]:
                # of its own: one state must not keep those of the whole group
                waves = SteadyWaves(
                    group.times_s[k].copy(), t[:, k].copy(), state.back_V[:, k].copy(),
                    self.whole_turn, self.circuits[place].emf.period_s,
                    self.circuits[place].scale_V, moments[k], float(change[k]),
                    int(known.iterations[place]), float(solved.update_V[k]),
                )  # fmt: skip
            done.append((place, waves))
        return done, coming


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
    return [_Kind(places, [circuits[i] for i in places], often) for _, often, places in alike]


def _spread(times_s: Array, density: Array, steps: int) -> Array:
    """Return ends of steps that share a density evenly, (circuits, steps + 1)."""
    share = np.cumsum(density * np.diff(times_s), axis=1)
    share = np.concatenate([np.zeros((len(share), 1)), share / share[:, -1:]], axis=1)
    wanted = np.broadcast_to(np.linspace(0.0, 1.0, steps + 1)[1:-1], (len(share), steps - 1))
    which = _places(share, wanted)
    low, high, start, end = (
        np.take_along_axis(each, which + i, axis=1) for each in (share, times_s) for i in (0, 1)
    )
    inner = start + (end - start) * ((wanted - low) / (high - low))
    return np.concatenate([times_s[:, :1], inner, times_s[:, -1:]], axis=1)


def _places(ends: Array, at: Array) -> NDArray[np.intp]:
    """Return in which step each place is: of ends (circuits, steps + 1) from 0 to 1 each."""
    row = np.arange(len(ends))[:, None]
    flat = np.searchsorted((ends + row).ravel(), (at + row).ravel(), side="right") - 1
    inside = flat.reshape(at.shape) - row * ends.shape[1]
    return np.asarray(np.clip(inside, 0, ends.shape[1] - 2))


def _moved(old_s: Array, new_s: Array, t: Array, back_V: Array) -> tuple[Array, Array]:
    """Return unknowns (rows, circuits, 2, steps) on other steps, by the parabola of each old step.

    Parameters
    ----------
    old_s, new_s
        Ends of steps, (circuits, steps + 1), those of the new ones within those of the old.
    """
    b, n = len(old_s), old_s.shape[1] - 1
    at = stage_times(new_s).reshape(b, -1)
    whole_s = old_s[:, -1:]
    which = _places(old_s / whole_s, at / whole_s)
    h = np.diff(old_s)
    p = (at - np.take_along_axis(old_s, which, axis=1)) / np.take_along_axis(h, which, axis=1)
    values = np.concatenate([t, back_V])
    middle, end = values[:, :, 0], values[:, :, 1]
    start = np.empty_like(end)
    start[..., 1:] = end[..., :-1]
    start[..., 0] = 1.5 * middle[..., 0] - 0.5 * end[..., 0]
    # start + p (slope + p bend)
    bend = 3.0 * start - 4.5 * middle + 1.5 * end
    slope = end - start - bend
    which += np.arange(b)[:, None] * n
    moved = bend.reshape(-1, b * n)[:, which]
    moved *= p
    moved += slope.reshape(-1, b * n)[:, which]
    moved *= p
    moved += start.reshape(-1, b * n)[:, which]
    moved = moved.reshape(len(values), b, 2, -1)
    return moved[: len(t)], moved[len(t) :]


def _softly(system: PortSystem, scale_V: Array) -> tuple[Array, Array]:
    """Return a rough solution from nothing, wide knees first."""
    networks = system.networks
    b, n = system.h.shape
    back_V = np.zeros((system.r, b, 2, n))
    before = _SOFTENINGS[0]
    t = np.zeros((system.d, b, 2, n)) + networks.at_rest(before)[..., None, None]
    if system.d:
        for softening in _SOFTENINGS:
            t = networks.sharpened(t, before, softening)
            solved = newton(system, t, back_V, scale_V, _SOFT, softening)
            t, back_V, before = solved.state.t, solved.state.back_V, softening
        t = networks.sharpened(t, before, 1.0)
    return t, back_V
