"""Radau collocation of many circuits' waves over one period each, and its Newton step.

The scheme is that of `fieldsim.circuit.collocation`; unknowns are those of the junctions and the
waves into coils and capacitors (`fieldsim.circuit.port_network`), two stages a step. A Newton step
eliminates the junctions of every stage, then the two stages of every step, which leaves a recursion
for the stored fluxes and charges; closed round the period, it gives all.

Arrays have shapes (circuits, rows, 2 stages, steps), matrices (rows, columns, circuits, 2, steps):
the same sum for all points is one operation.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fieldsim.circuit.collocation import STAGES, WEIGHTS
from fieldsim.circuit.half_wave import WHOLE, Turn
from fieldsim.circuit.port_network import JunctionWaves, PortNetworks

__all__ = ["PortState", "PortSystem", "stage_times"]

Array = NDArray[np.float64]

_INVERSE = np.array([[1.5, 0.5], [-4.5, 2.5]])  # of the Butcher matrix [[5, -1], [9, 3]] / 12
_FROM_START = _INVERSE.sum(axis=1)


def stage_times(times_s: Array) -> Array:
    """Return the times of the stages, (circuits, 2, steps), from the ends of the steps."""
    h = np.diff(times_s)
    return np.asarray(times_s[:, None, :-1] + STAGES[:, None] * h[:, None])


@dataclass(frozen=True, eq=False)
class PortState:
    """Unknowns, and by how much they miss the equations.

    Parameters
    ----------
    t
        Of the junctions, (circuits, junctions, 2, steps).
    back_V
        Waves into coils' and capacitors' ports, (circuits, reactive, 2, steps).
    waves
        At the junctions, of the same shape as ``t``.
    out_V
        Waves out of coils' and capacitors' ports.
    junction_V, rate_V
        What is left over of the junctions' equations and of the coils' and capacitors'.
    """

    t: Array = field(repr=False)
    back_V: Array = field(repr=False)
    waves: JunctionWaves = field(repr=False)
    out_V: Array = field(repr=False)
    junction_V: Array = field(repr=False)
    rate_V: Array = field(repr=False)
    size_V: Array = field(repr=False)

    def chosen(self, which: NDArray[np.intp]) -> PortState:
        """Return the state of some circuits."""
        return PortState(
            self.t[which], self.back_V[which], JunctionWaves(*(w[which] for w in self.waves)),
            self.out_V[which], self.junction_V[which], self.rate_V[which], self.size_V[which],
        )  # fmt: skip

    def replaced(self, which: NDArray[Any], others: PortState) -> PortState:
        """Return the state with that of some circuits from another.

        Parameters
        ----------
        which
            Places, with ``others`` of as many; or true where to take it from ``others`` of all.
        """
        made = PortState(
            self.t.copy(), self.back_V.copy(), JunctionWaves(*(w.copy() for w in self.waves)),
            self.out_V.copy(), self.junction_V.copy(), self.rate_V.copy(), self.size_V.copy(),
        )  # fmt: skip
        pairs = [(getattr(made, n), getattr(others, n)) for n in _PLAIN]
        for kept, taken in (*pairs, *zip(made.waves, others.waves, strict=True)):
            kept[which] = taken[which] if which.dtype == bool else taken
        return made


_PLAIN = ("t", "back_V", "out_V", "junction_V", "rate_V", "size_V")


class PortSystem:
    """The discretised equations of circuits with equally many steps.

    Parameters
    ----------
    networks
        The circuits.
    times_s
        Ends of the steps, (circuits, steps + 1), rising over one period or half of it.
    emf_V
        At the stages, (circuits, coils, 2, steps).
    turn
        What the end of the stretch is at its beginning.
    """

    def __init__(
        self, networks: PortNetworks, times_s: Array, emf_V: Array, turn: Turn = WHOLE
    ) -> None:
        self.networks, self.times_s, self.emf_V, self.turn = networks, times_s, emf_V, turn
        self.h = np.diff(times_s)
        self.d, self.r = networks.junctions, networks.coils + networks.capacitors
        S, flat = networks.scattering, emf_V.reshape(*emf_V.shape[:2], -1)
        self.driven_V = (networks.sources @ flat).reshape(len(S), -1, *emf_V.shape[2:])
        # coils count as +1: the rate of what they store is a voltage; capacitors as -1
        self.sign = np.repeat([1.0, -1.0], [networks.coils, networks.capacitors])
        R = networks.wave_ohm[:, None, None]
        self.turned = np.array(turn.signs or (1,) * self.r, dtype=float)
        self.store = np.zeros((len(S), self.r, self.r))  # stored [V s] by a - sign b, doubled
        c = networks.coils
        self.store[:, :c, :c] = networks.inductance_H / R
        at = np.arange(c, self.r)
        self.store[:, at, at] = networks.capacitance_F * R[:, 0]

        # a rate that is off by little over a short step is off by little
        own = np.diagonal(self.store, axis1=1, axis2=2)[..., None, None]
        self.rate_weight = 1.0 / (1.0 + own / self.h[:, None, None])

    def chosen(self, which: NDArray[np.intp]) -> PortSystem:
        """Return the equations of some of the circuits."""
        return PortSystem(
            self.networks.chosen(which), self.times_s[which], self.emf_V[which], self.turn
        )

    def stored_Vs(self, out_V: Array, back_V: Array) -> Array:
        """Return fluxes over, and charges times, the wave resistance; shape as of the waves."""
        apart = out_V - self.sign[:, None, None] * back_V
        flat = apart.reshape(*apart.shape[:2], -1)
        return np.asarray(0.5 * (self.store @ flat).reshape(apart.shape))

    def at(self, t: Array, back_V: Array, softening: float = 1.0) -> PortState:
        """Return the state of some unknowns."""
        b, d, _, n = t.shape
        flat = t.reshape(b, d, 2 * n).transpose(1, 0, 2)
        shaped = [
            w.transpose(1, 0, 2).reshape(t.shape)
            for w in self.networks.junction_waves(flat, softening)
        ]
        waves = JunctionWaves(*shaped)
        into = np.concatenate([waves.back_V, back_V], axis=1).reshape(b, d + self.r, 2 * n)
        out = (self.networks.scattering @ into).reshape(b, d + self.r, 2, n) + self.driven_V
        out_V = out[:, d:]
        stored = self.stored_Vs(out_V, back_V)
        before = np.empty_like(stored[:, :, 1])
        before[..., 1:] = stored[:, :, 1, :-1]
        before[..., 0] = self.turned * stored[:, :, 1, -1]
        rate = 0.5 * (out_V + self.sign[:, None, None] * back_V)
        h = self.h[:, None]
        for s in range(2):
            grown = _INVERSE[s, 0] * stored[:, :, 0] + _INVERSE[s, 1] * stored[:, :, 1]
            rate[:, :, s] -= (grown - _FROM_START[s] * before) / h
        left = waves.out_V - out[:, :d]
        weighed = rate * self.rate_weight
        square = np.einsum("bdsn,bdsn->b", left, left)
        square += np.einsum("brsn,brsn->b", weighed, weighed)
        return PortState(t, back_V, waves, out_V, left, rate, np.sqrt(square))

    def newton_step(self, state: PortState) -> tuple[Array, Array]:
        """Return the changes of ``t`` and ``back_V``."""
        d, r = self.d, self.r
        b, n = self.h.shape
        S = self.networks.scattering.transpose(1, 2, 0)[..., None, None]
        slope = state.waves.back_slope.transpose(1, 0, 2, 3)
        # junctions: columns of the reactive ports' waves, then the rest
        W = np.empty((d, d + r + 1, b, 2, n))
        np.multiply(S[:d, :d], -slope, out=W[:, :d])
        at = np.arange(d)
        W[at, at] += state.waves.out_slope.transpose(1, 0, 2, 3)
        W[:, d : d + r] = S[:d, d:]
        np.negative(state.junction_V.transpose(1, 0, 2, 3), out=W[:, d + r])
        moved = _solved(W)  # (d, r + 1, b, 2, n)
        # what the reactive ports then see: a = P b + p
        through = slope[:, None] * moved
        P = np.zeros((r, r + 1, b, 2, n))
        P[:, :r] = S[d:, d:]
        for j in range(d):
            P += S[d:, j][:, None] * through[j]
        # of each stage what is stored, and its rate
        sign = self.sign
        rate = 0.5 * P
        apart = P
        for x in range(r):
            rate[x, x] += 0.5 * sign[x]
            apart[x, x] -= sign[x]
        if np.count_nonzero(self.store) == 0 or _is_diagonal(self.store):
            store = np.diagonal(self.store, axis1=1, axis2=2).T
            stored = apart * (0.5 * store)[:, None, :, None, None]
        else:
            store = self.store.transpose(1, 2, 0)[..., None, None]
            stored = 0.5 * sum(store[:, x, None] * apart[x] for x in range(r))
        # both stages of a step together; then the stored state it starts from, and the rest
        V = np.empty((2, r, 2 * r + r + 1, b, n))
        per_s = 1.0 / self.h
        left = state.rate_V.transpose(1, 0, 2, 3)
        for s in range(2):
            rest = -left[:, :, s] - rate[:, r, :, s]
            for j in range(2):
                gain = _INVERSE[s, j] * per_s
                block = V[s, :, j * r : (j + 1) * r]
                np.multiply(stored[:, :r, :, j], -gain, out=block)
                rest += gain * stored[:, r, :, j]
            V[s, :, s * r : (s + 1) * r] += rate[:, :r, :, s]
            V[s, :, 2 * r : 3 * r] = 0.0
            for x in range(r):
                V[s, x, 2 * r + x] = -_FROM_START[s] * per_s
            V[s, :, 3 * r] = rest
        answer = _solved(V.reshape(2 * r, 3 * r + 1, b, n))  # (2 r, r + 1, b, n)
        # the stored state at the end of each step
        end = answer[r:]
        A = np.zeros((r, r + 1, b, n))
        for x in range(r):
            A += stored[:, x, None, :, 1] * end[x]
        A[:, r] += stored[:, r, :, 1]
        start = _closed(A[:, :r], A[:, r], self.store, self.turned)
        change = answer[:, r]
        for x in range(r):
            change = change + answer[:, x] * start[x]
        change = change.reshape(2, r, b, n)
        dt = moved[:, r].copy()
        for x in range(r):
            dt += moved[:, x] * change[:, x].transpose(1, 0, 2)
        return dt.transpose(1, 0, 2, 3), change.transpose(2, 1, 0, 3)

    def update_V(self, state: PortState, dt: Array, dback_V: Array) -> Array:
        """Return the size of a change of the unknowns in each circuit, as a voltage."""
        slope = np.maximum(np.abs(state.waves.out_slope), np.abs(state.waves.back_slope))
        first = np.abs(dt * slope).max(axis=(1, 2, 3), initial=0.0)
        return np.asarray(np.maximum(first, np.abs(dback_V).max(axis=(1, 2, 3), initial=0.0)))

    @property
    def weights(self) -> Array:
        """Share of each stage in an average over the period, (circuits, 2, steps)."""
        h = self.h / self.h.sum(axis=1, keepdims=True)
        return np.asarray(WEIGHTS[:, None] * h[:, None])


def _is_diagonal(store: Array) -> bool:
    r = store.shape[1]
    return r < 2 or not store[:, ~np.eye(r, dtype=bool)].any()


def _solved(W: Array) -> Array:
    """Return the answers of small systems, (n, right sides, ...), from (n, n + right sides, ...).

    By elimination without pivoting, in place: the diagonal is that of passive networks.
    """
    n = len(W)
    for p in range(n):
        W[p, p + 1 :] /= W[p, p].copy()
        for row in range(p + 1, n):
            W[row, p + 1 :] -= W[row, p] * W[p, p + 1 :]
    for p in range(n - 1, 0, -1):
        for row in range(p):
            W[row, n:] -= W[row, p] * W[p, n:]
    return W[:, n:]


def _closed(A: Array, b: Array, store: Array, turned: Array) -> Array:
    """Return the change of the stored state at the start of each step, (r, circuits, steps).

    Parameters
    ----------
    A, b
        Step by step, ``end = A start + b``: (r, r, circuits, steps) and (r, circuits, steps).
    store
        What each port stores: the scale of its state, (circuits, r, r).
    turned
        Signs by which the end becomes the beginning, (r,).
    """
    A, b = _chained(A, b)
    r = len(b)
    # Least squares: charge that nothing can move (two capacitors in series) stays put.
    scale = np.sqrt(np.diagonal(store, axis1=1, axis2=2))
    scale = np.where(scale > 0, scale, 1.0)
    whole = np.eye(r) - A[..., -1].transpose(2, 0, 1) * turned[:, None]
    whole = whole * scale[:, None] / scale[:, :, None]
    sound = np.abs(np.linalg.det(whole)).min(initial=1.0) > 1e-6
    inverse = np.linalg.inv(whole) if sound else np.linalg.pinv(whole, rcond=1e-9)
    first = np.einsum("bxy,by->bx", inverse, b[..., -1].T * turned / scale) * scale
    start = np.empty_like(b)
    start[..., 0] = first.T
    start[..., 1:] = b[..., :-1]
    for x in range(r):
        start[..., 1:] += A[:, x, :, :-1] * first[:, x, None]
    return start


def _chained(A: Array, b: Array) -> tuple[Array, Array]:
    """Return the maps from the first state to that after each step, given those of single steps.

    Parameters
    ----------
    A, b
        Step by step, ``end = A start + b``: (r, r, circuits, steps) and (r, circuits, steps).

    Notes
    -----
    Runs of steps are chained side by side, step after step; then the runs.

    Examples
    --------
    >>> A, b = _chained(np.full((1, 1, 1, 3), 2.0), np.ones((1, 1, 3)))
    >>> A.ravel().tolist(), b.ravel().tolist()
    ([2.0, 4.0, 8.0], [1.0, 3.0, 7.0])
    """
    r, circuits, n = b.shape
    length = 1 << n.bit_length() // 2
    runs = -(-n // length)
    # one map a column, its last column what is added; steps lead, so that each is one array
    maps = np.zeros((length, r, r + 1, circuits, runs))
    filled = np.zeros((r, r + 1, circuits, runs * length))
    filled[:, :r, :, :n], filled[:, r, :, :n] = A, b
    maps[:] = np.moveaxis(filled.reshape(r, r + 1, circuits, runs, length), -1, 0)
    for k in range(1, length):
        _follow(maps[k], maps[k - 1])
    ends = np.moveaxis(maps[-1], -1, 0).copy()
    for k in range(1, runs):
        _follow(ends[k], ends[k - 1])
    if runs > 1:
        before = np.moveaxis(ends[:-1], 0, -1)
        later = maps[..., 1:]
        chained = later[:, :, 0, None] * before[0]
        for x in range(1, r):
            chained += later[:, :, x, None] * before[x]
        chained[:, :, r] += later[:, :, r]
        maps[..., 1:] = chained
    whole = np.moveaxis(maps, 0, -1).reshape(r, r + 1, circuits, runs * length)[..., :n]
    return whole[:, :r], whole[:, r]


def _follow(after: Array, before: Array) -> None:
    """Chain maps (r, r + 1, ...) onto those before them, in place."""
    r = len(after)
    chained = after[:, 0, None] * before[0]
    for x in range(1, r):
        chained += after[:, x, None] * before[x]
    chained[:, r] += after[:, r]
    after[:] = chained
