"""Radau collocation of many circuits' waves over one period each, and its Newton step.

The scheme is that of `fieldsim.circuit.collocation`; unknowns are those of the junctions and the
waves into coils and capacitors (`fieldsim.circuit.port_network`), two stages a step. A Newton step
eliminates the junctions of every stage, then the two stages of every step, which leaves a recursion
for the stored fluxes and charges; closed round the period, it gives all.

Arrays have shapes (rows, circuits, 2 stages, steps), matrices (rows, columns, circuits, 2, steps):
the same sum for all points is one operation.
"""

from __future__ import annotations

from copy import copy
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fieldsim.circuit.collocation import STAGES, WEIGHTS
from fieldsim.circuit.half_wave import WHOLE, Turn
from fieldsim.circuit.port_network import JunctionWaves, PortNetworks, waves_by

__all__ = ["PortState", "PortSystem", "stage_times"]

Array = NDArray[np.float64]

_INVERSE = np.array([[1.5, 0.5], [-4.5, 2.5]])  # of the Butcher matrix [[5, -1], [9, 3]] / 12
_FROM_START = _INVERSE.sum(axis=1)
_FAR = 0.3  # of the unknown: an e-fold of a small current is 1


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
        Of the junctions, (junctions, circuits, 2, steps).
    back_V
        Waves into coils' and capacitors' ports, (reactive, circuits, 2, steps).
    waves
        At the junctions, of the same shape as ``t``.
    out_V
        Waves out of coils' and capacitors' ports.
    moved
        Changes of ``t`` by the waves into coils and capacitors, then what is left to change while
        these stay, (junctions, reactive + 1, circuits, 2, steps).
    junction_V, rate_V
        What is left over of the junctions' equations and of the coils' and capacitors'.
    size_V
        Of what is left over in all, (circuits,).
    """

    t: Array = field(repr=False)
    back_V: Array = field(repr=False)
    waves: JunctionWaves = field(repr=False)
    out_V: Array = field(repr=False)
    moved: Array = field(repr=False)
    junction_V: Array = field(repr=False)
    rate_V: Array = field(repr=False)
    size_V: Array = field(repr=False)

    def chosen(self, which: NDArray[np.intp]) -> PortState:
        """Return the state of some circuits."""
        by_rows = {name: getattr(self, name).take(which, 1) for name in _BY_ROWS}
        waves = JunctionWaves(*(wave.take(which, 1) for wave in self.waves))
        return PortState(
            waves=waves, moved=self.moved.take(which, 2), size_V=self.size_V[which], **by_rows
        )

    def put(self, which: NDArray[np.intp], others: PortState) -> None:
        """Put in place the state of some circuits."""
        pairs = [(getattr(self, n), getattr(others, n)) for n in _BY_ROWS]
        for kept, taken in (*pairs, *zip(self.waves, others.waves, strict=True)):
            kept[:, which] = taken
        self.moved[:, :, which] = others.moved
        self.size_V[which] = others.size_V


_BY_ROWS = ("t", "back_V", "out_V", "junction_V", "rate_V")


_BY_CIRCUIT = {
    "times_s": 0, "h": 0, "emf_V": 1, "driven_V": 1, "store": 0, "rate_weight": 1, "scale": 0,
    "by_stored": 2, "by_start": 1,
}  # fmt: skip


class PortSystem:
    """The discretised equations of circuits with equally many steps.

    Parameters
    ----------
    networks
        The circuits.
    times_s
        Ends of the steps, (circuits, steps + 1), rising over one period or half of it.
    emf_V
        At the stages, (coils, circuits, 2, steps).
    turn
        What the end of the stretch is at its beginning.
    """

    def __init__(
        self, networks: PortNetworks, times_s: Array, emf_V: Array, turn: Turn = WHOLE
    ) -> None:
        self.networks, self.times_s, self.emf_V, self.turn = networks, times_s, emf_V, turn
        self.h = np.diff(times_s)
        self.d, self.r = networks.junctions, networks.coils + networks.capacitors
        self.driven_V = _mapped(networks.sources, emf_V)
        # coils count as +1: the rate of what they store is a voltage; capacitors as -1
        self.sign = np.repeat([1.0, -1.0], [networks.coils, networks.capacitors])[:, None]
        R = networks.wave_ohm[:, None, None]
        self.turned = np.array(turn.signs or (1,) * self.r, dtype=float)
        # stored [V s] by half of a - sign b
        self.store = np.zeros((len(R), self.r, self.r))
        c = networks.coils
        self.store[:, :c, :c] = networks.inductance_H / R
        at = np.arange(c, self.r)
        self.store[:, at, at] = networks.capacitance_F * R[:, 0]
        # a rate that is off by little over a short step is off by little
        own = np.diagonal(self.store, axis1=1, axis2=2)
        self.rate_weight = 1.0 / (1.0 + own.T[..., None] / self.h)
        self.scale = np.where(own > 0, np.sqrt(own), 1.0)
        self.apart = not self.store[:, ~np.eye(self.r, dtype=bool)].any()
        # rates by what is stored: at the stages, (2, 2, circuits, steps), and at the start
        self.by_stored = -_INVERSE[..., None, None] / self.h
        self.by_start = _FROM_START[:, None, None] / self.h

    def chosen(self, which: NDArray[np.intp]) -> PortSystem:
        """Return the equations of some of the circuits."""
        some = copy(self)
        some.networks = self.networks.chosen(which)
        for name, axis in _BY_CIRCUIT.items():
            setattr(some, name, getattr(self, name).take(which, axis))
        return some

    def _stored_Vs(self, apart_V: Array) -> Array:
        """Return fluxes over, and charges times, the wave resistance.

        Parameters
        ----------
        apart_V
            Half the waves out of coils and capacitors, less ``sign`` times those in:
            (reactive, ..., circuits, 2, steps).
        """
        if self.apart:
            own = np.diagonal(self.store, axis1=1, axis2=2).T
            lead = (self.r,) + (1,) * (apart_V.ndim - 4) + (-1, 1, 1)
            return np.asarray(apart_V * own.reshape(lead))
        of_each = self.store.transpose(1, 2, 0)[..., None, None]
        rows = [sum(of_each[x, y] * apart_V[y] for y in range(self.r)) for x in range(self.r)]
        return np.stack(rows)

    def at(self, t: Array, back_V: Array, softening: float = 1.0, local: int = 0) -> PortState:
        """Return the state of some unknowns.

        Parameters
        ----------
        t, back_V
            As of the state.
        softening
            By how much the junctions' knees are widened.
        local
            In how many steps junctions that are far from what the waves into coils and capacitors
            make of them are brought there at most.
        """
        d, r, t = self.d, self.r, t.copy()
        S = self.networks.scattering
        waves = self.networks.junction_waves(t, softening)
        out = _mapped(S, np.concatenate([waves.back_V, back_V]))
        out += self.driven_V
        left = waves.out_V - out[:d]
        moved = _by_junctions(S.transpose(1, 2, 0)[..., None, None], waves, left)
        far = np.flatnonzero(_is_far(moved[:, r], t)) if local else np.arange(0)
        if len(far):
            self._bring(far, t, waves, out, left, moved, softening, local)
        out_V = out[d:]
        signed = self.sign[..., None, None] * back_V
        stored = self._stored_Vs(0.5 * (out_V - signed))
        before = np.empty_like(stored[:, :, 1])
        before[..., 1:] = stored[:, :, 1, :-1]
        before[..., 0] = self.turned[:, None] * stored[:, :, 1, -1]
        rate = 0.5 * (out_V + signed)
        rate += self.by_start.transpose(1, 0, 2) * before[:, :, None]
        for j in range(2):
            rate += self.by_stored[:, j].transpose(1, 0, 2) * stored[:, :, j, None]
        weighed = rate * self.rate_weight[:, :, None]
        square = np.einsum("dbsn,dbsn->b", left, left)
        square += np.einsum("rbsn,rbsn->b", weighed, weighed)
        return PortState(t, back_V, waves, out_V, moved, left, rate, np.sqrt(square))

    def _bring(
        self,
        far: NDArray[np.intp],
        t: Array,
        waves: JunctionWaves,
        out: Array,
        left: Array,
        moved: Array,
        softening: float,
        local: int,
    ) -> None:
        """Solve the junctions' equations at some points alone, in place, waves into the rest kept.

        Points are counted over circuits, stages and steps.
        """
        d, r, points = self.d, self.r, self.h.size * 2
        t, out, left = (x.reshape(len(x), points) for x in (t, out, left))
        circuits = far // (points // len(self.h))
        S = np.ascontiguousarray(self.networks.scattering[circuits].transpose(1, 2, 0))
        sums = self.networks.wave_sums(softening)[:, :, circuits]
        before_V = waves.back_V.reshape(d, points)[:, far]
        now, change = t[:, far], moved.reshape(d, r + 1, points)[:, r, far]
        others_V = out[:, far] - (S[:, :d] * before_V).sum(axis=1)
        for _ in range(local):
            now += change
            there = waves_by(sums, now)
            out_V = others_V + (S[:, :d] * there.back_V).sum(axis=1)
            missed = there.out_V - out_V[:d]
            by_waves = _by_junctions(S, there, missed)
            change = by_waves[:, r]
            if not _is_far(change, now).any():
                break
        t[:, far], out[:, far], left[:, far] = now, out_V, missed
        moved.reshape(d, r + 1, points)[:, :, far] = by_waves
        for kept, wave in zip(waves, there, strict=True):
            kept.reshape(d, points)[:, far] = wave

    def newton_step(self, state: PortState) -> tuple[Array, Array]:
        """Return the changes of ``t`` and ``back_V``."""
        d, r = self.d, self.r
        b, n = self.h.shape
        S = self.networks.scattering.transpose(1, 2, 0)[..., None, None]
        moved, slope = state.moved, state.waves.back_slope
        # what the reactive ports then see: a = P b + p
        through = slope[:, None] * moved
        P = np.zeros((r, r + 1, b, 2, n))
        P[:, :r] = S[d:, d:]
        for j in range(d):
            P += S[d:, j][:, None] * through[j]
        # of each stage what is stored, and its rate
        rate = 0.5 * P
        apart = rate.copy()
        for x in range(r):
            rate[x, x] += 0.5 * self.sign[x, 0]
            apart[x, x] -= 0.5 * self.sign[x, 0]
        stored = self._stored_Vs(apart)
        # both stages of a step together; then the stored state it starts from, and the rest
        V = np.empty((2, r, 3 * r + 1, b, n))
        by_state = stored.transpose(0, 3, 1, 2, 4)
        stages = V[:, :, : 2 * r].reshape(2, r, 2, r, b, n)
        np.multiply(self.by_stored[:, None, :, None], by_state[:, :, :r], out=stages)
        V[:, :, 2 * r : -1] = 0.0
        for x in range(r):
            V[:, x, 2 * r + x] = -self.by_start
        rest = (self.by_stored[:, None] * by_state[:, :, r]).sum(axis=2)
        rest += (state.rate_V + rate[:, r]).transpose(2, 0, 1, 3)
        np.negative(rest, out=V[:, :, -1])
        for s in range(2):
            V[s, :, s * r : (s + 1) * r] += rate[:, :r, :, s]
        answer = _solved(V.reshape(2 * r, 3 * r + 1, b, n))  # (2 r, r + 1, b, n)
        # the stored state at the end of each step
        end = answer[r:]
        A = stored[:, 0, None, :, 1] * end[0] if r else np.zeros((0, 1, b, n))
        for x in range(1, r):
            A += stored[:, x, None, :, 1] * end[x]
        A[:, r] += stored[:, r, :, 1]
        start = _closed(A, self.scale, self.turned)
        change = answer[:, r]
        for x in range(r):
            change = change + answer[:, x] * start[x]
        change = change.reshape(2, r, b, n).transpose(1, 2, 0, 3)
        dt = moved[:, r].copy()
        for x in range(r):
            dt += moved[:, x] * change[x]
        return dt, change

    def update_V(self, state: PortState, dt: Array, dback_V: Array) -> Array:
        """Return the size of a change of the unknowns in each circuit, as a voltage."""
        slope = np.maximum(state.waves.out_slope, np.abs(state.waves.back_slope))
        first = np.abs(dt * slope).max(axis=(0, 2, 3), initial=0.0)
        return np.asarray(np.maximum(first, np.abs(dback_V).max(axis=(0, 2, 3), initial=0.0)))

    @property
    def weights(self) -> Array:
        """Share of each stage in an average over the period, (circuits, 2, steps)."""
        h = self.h / self.h.sum(axis=1, keepdims=True)
        return np.asarray(WEIGHTS[:, None] * h[:, None])


def _is_far(change: Array, t: Array) -> NDArray[np.bool_]:
    """Return where a change of junctions' unknowns is more than their laws are straight for."""
    return np.asarray((np.abs(change) > _FAR * np.maximum(t + 1.0, 1.0)).any(axis=0))


def _by_junctions(S: Array, waves: JunctionWaves, left: Array) -> Array:
    """Return changes of the junctions' unknowns; see `PortState`.

    Parameters
    ----------
    S
        Scattering matrices, (ports, ports, ...).
    left
        What is left over of the junctions' equations, (junctions, ...).
    """
    d, ports = len(left), len(S)
    W = np.empty((d, ports + 1, *left.shape[1:]))
    np.multiply(S[:d, :d], -waves.back_slope, out=W[:, :d])
    at = np.arange(d)
    W[at, at] += waves.out_slope
    W[:, d:ports] = S[:d, d:]
    np.negative(left, out=W[:, ports])
    return _solved(W)


def _mapped(matrices: Array, waves: Array) -> Array:
    """Return matrices (circuits, to, from) times waves (from, circuits, 2, steps)."""
    rows, (_, b, _, n) = matrices.shape[1], waves.shape
    found = np.empty((rows, b, 2, n))
    np.matmul(
        matrices,
        waves.reshape(len(waves), b, 2 * n).transpose(1, 0, 2),
        out=found.reshape(rows, b, 2 * n).transpose(1, 0, 2),
    )
    return found


def _solved(W: Array) -> Array:
    """Return the answers of small systems, (n, right sides, ...), from (n, n + right sides, ...).

    By elimination without pivoting, in place: the diagonal is that of passive networks.
    """
    n = len(W)
    for p in range(n):
        W[p, p + 1 :] *= np.reciprocal(W[p, p])
        for row in range(p + 1, n):
            W[row, p + 1 :] -= W[row, p] * W[p, p + 1 :]
    for p in range(n - 1, 0, -1):
        for row in range(p):
            W[row, n:] -= W[row, p] * W[p, n:]
    return W[:, n:]


def _closed(steps: Array, scale: Array, turned: Array) -> Array:
    """Return the change of the stored state at the start of each step, (r, circuits, steps).

    Parameters
    ----------
    steps
        Step by step, ``end = A start + b``: (r, r + 1, circuits, steps), ``b`` the last column.
    scale
        Of the state of each port, (circuits, r).
    turned
        Signs by which the end becomes the beginning, (r,).

    Notes
    -----
    Steps are joined two by two until one is left, which is closed; states then come back from the
    joined to the single ones.

    Examples
    --------
    >>> steps = np.array([2.0, 1.0]).reshape(1, 2, 1, 1) * np.ones(3)
    >>> _closed(steps, np.ones((1, 1)), np.ones(1)).ravel().tolist()  # 2 x + 1, round
    [-1.0, -1.0, -1.0]
    """
    r, joined = len(steps), [steps]
    while joined[-1].shape[-1] > 1:
        each = joined[-1]
        before, after = each[..., :-1:2], each[..., 1::2]
        both = after[:, 0, None] * before[0] if r else after
        for x in range(1, r):
            both += after[:, x, None] * before[x]
        both[:, r] += after[:, r]
        odd = each.shape[-1] % 2
        joined.append(np.concatenate([both, each[..., -1:]], axis=-1) if odd else both)
    start = _fixed_point(joined.pop()[..., 0], scale, turned)[..., None]
    for each in reversed(joined):
        pairs = each.shape[-1] // 2
        states = np.empty((r, *each.shape[2:]))
        states[..., ::2] = start
        states[..., 1::2] = each[:, r, :, :-1:2]
        for x in range(r):
            states[..., 1::2] += each[:, x, :, :-1:2] * start[x, :, :pairs]
        start = states
    return start


def _fixed_point(whole: Array, scale: Array, turned: Array) -> Array:
    """Return what a map (r, r + 1, circuits) with its end turned leaves as it is, (r, circuits)."""
    r = len(whole)
    # Least squares: charge that nothing can move (two capacitors in series) stays put.
    rest = np.eye(r) - whole[:, :r].transpose(2, 0, 1) * turned[:, None]
    rest = rest * scale[:, None] / scale[:, :, None]
    sound = np.abs(np.linalg.det(rest)).min(initial=1.0) > 1e-6
    inverse = np.linalg.inv(rest) if sound else np.linalg.pinv(rest, rcond=1e-9)
    first = np.einsum("bxy,by->bx", inverse, whole[:, r].T * turned / scale) * scale
    return np.asarray(first.T)
