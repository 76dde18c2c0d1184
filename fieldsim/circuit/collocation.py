"""Radau collocation of the circuit equations, all steps of a stretch of time solved together.

Each step carries two stages (Radau IIA, third order, stiffly accurate), so that a diode's exact
law, a capacitor without resistance or an open coil needs no special treatment. A Newton step
eliminates the stages of every step at once (batched dense solves), leaves a recursion for the
stored fluxes and charges, and closes it: round the period, or from the initial state.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fieldsim.circuit.equations import Equations
from fieldsim.circuit.wave_laws import WaveLaws

__all__ = ["STAGES", "WEIGHTS", "Stretch", "System"]

Array = NDArray[np.float64]

STAGES = np.array([1.0 / 3.0, 1.0])
WEIGHTS = np.array([0.75, 0.25])
_INVERSE = np.array([[1.5, 0.5], [-4.5, 2.5]])  # of the Butcher matrix [[5, -1], [9, 3]] / 12
# Hairer and Wanner, Solving Ordinary Differential Equations II (1996), table IV.5.5


@dataclass(frozen=True, eq=False)
class Stretch:
    """A stretch of time, in steps.

    Parameters
    ----------
    times_s
        Ends of the steps, (steps + 1,), rising.
    start
        Stored fluxes and charges at the beginning, (stored,), or None when the end joins the
        beginning (a period).
    """

    times_s: Array = field(repr=False)
    start: Array | None = field(repr=False)

    @property
    def steps_s(self) -> Array:
        """Lengths of the steps, (steps,)."""
        return np.diff(self.times_s)

    @property
    def stage_times_s(self) -> Array:
        """Times of the stages, (steps, 2)."""
        return np.asarray(self.times_s[:-1, None] + self.steps_s[:, None] * STAGES)


class System:
    """One stretch's discretised equations: residual, Jacobian blocks and the closing recursion."""

    def __init__(
        self, equations: Equations, stretch: Stretch, emf_V: Array, wave_ohm: float
    ) -> None:
        eq = equations
        self.eq, self.stretch = eq, stretch
        m, d = eq.size, len(eq.laws)
        self.m, self.waves = m, eq.columns("wave", d)
        h = stretch.steps_s
        self.count = len(h)
        self.source = np.zeros((self.count, 2, m))
        self.source[:, :, eq.emf_rows] = emf_V
        self.base = np.kron(np.eye(2), eq.linear) + np.kron(_INVERSE, eq.mass) / h[:, None, None]
        # effect of the stored state at the start of a step on its two stages
        self.from_stored = np.zeros((self.count, 2 * m, len(eq.stored)))
        for stage in range(2):
            gain = -_INVERSE[stage].sum() / h
            for column, row in enumerate(eq.stored):
                self.from_stored[:, stage * m + row, column] = gain
        self.to_stored = eq.mass[eq.stored]
        # the same without the junctions' own unknowns and equations
        self.kept = np.delete(np.arange(m), self.waves)
        both = np.concatenate([self.kept, m + self.kept])
        self.kept_base = self.base[:, both[:, None], both]
        self.kept_from_stored = self.from_stored[:, both].reshape(
            self.count, 2, m - d, len(eq.stored)
        )
        self.kept_to_stored = self.to_stored[:, self.kept]
        node, self.junction = np.nonzero(eq.junction_nodes)
        self.sign = eq.junction_nodes[node, self.junction]
        wave_row = self.waves.start + np.arange(d)
        self.rows_i = np.concatenate([node, node + m])
        self.cols_i = np.concatenate([wave_row[self.junction], wave_row[self.junction] + m])
        self.rows_v = np.concatenate([wave_row, wave_row + m])
        # rows that count currents are weighed as voltages across the wave resistance
        self.row_weight = np.full(m, wave_ohm)
        self.row_weight[self.waves] = 1.0
        self.row_weight[eq.emf_rows] = 1.0
        for kind in ("wire", "charging"):
            first = eq.offsets[kind]
            last = eq.offsets["capacitor"] if kind == "wire" else m
            self.row_weight[first:last] = 1.0
        self.step_weight = np.tile(self.row_weight, 2)
        self.column_weight = np.ones(m)
        self.column_weight[eq.offsets["coil"] : eq.offsets["capacitor"]] = wave_ohm
        self.column_weight[eq.offsets["charging"] :] = wave_ohm

    def stored_at_starts(self, x: Array) -> Array:
        """Return fluxes and charges at the start of each step, (steps, stored)."""
        ends = x[:, 1] @ self.to_stored.T
        first = ends[-1] if self.stretch.start is None else self.stretch.start
        return np.concatenate([first[None], ends[:-1]])

    def evaluate(self, x: Array, junctions: WaveLaws) -> tuple[Array, Array, Array]:
        """Return the residual (steps, 2m) and the junctions' slopes dv/du and di/du."""
        m = self.m
        point = junctions.at(x[:, :, self.waves])
        flat = x.reshape(self.count, 2 * m)
        residual = np.einsum("kij,kj->ki", self.base, flat)
        residual += np.einsum("kij,kj->ki", self.from_stored, self.stored_at_starts(x))
        by_stage = residual.reshape(self.count, 2, m)
        by_stage -= self.source
        by_stage[:, :, : self.eq.nodes] += point.current_A @ self.eq.junction_nodes.T
        by_stage[:, :, self.waves] -= point.voltage_V
        return residual, point.voltage_slope, point.current_slope_S

    def norm(self, residual: Array) -> Array:
        """Return by how much each step misses its equations, as a voltage, (steps,)."""
        weighted = residual.reshape(self.count, 2, self.m) * self.row_weight
        return np.asarray(np.sqrt((weighted**2).sum(axis=(1, 2))))

    def marched(self, x: Array, junctions: WaveLaws, limit: float) -> Array:
        """Return ``x`` with the steps that miss their equations by more than ``limit`` re-solved.

        One after the other in time, each from where the one before now ends: a knee that moves by
        some steps is followed at once, which the Newton step for all times does not manage.
        """
        residual, _, _ = self.evaluate(x, junctions)
        bad = self.norm(residual) > limit
        x = x.copy()
        stored = self.stored_at_starts(x)
        h = self.stretch.steps_s
        changed = False
        for k in range(self.count):
            flat = x[k].ravel()
            if changed:
                stored[k] = self.to_stored @ x[k - 1, 1]
                size = self._size(self._step_residual(k, flat, stored[k], junctions)[0])
                bad[k] = size > limit
                if bad[k]:
                    # the course of the step before, which may be the better guess
                    slope = (x[k - 1, 1] - x[k - 1, 0]) / ((STAGES[1] - STAGES[0]) * h[k - 1])
                    ahead = (x[k - 1, 1] + (h[k] * STAGES)[:, None] * slope).ravel()
                    miss = self._step_residual(k, ahead, stored[k], junctions)[0]
                    flat = ahead if self._size(miss) < size else flat
            changed = bool(bad[k])
            if changed:
                x[k] = self._solved_step(k, flat, stored[k], junctions, 0.1 * limit)
        return x

    def _size(self, step_residual: Array) -> float:
        weighted = step_residual * self.step_weight
        return math.sqrt(weighted @ weighted)

    def _step_residual(
        self, k: int, flat: Array, stored: Array, junctions: WaveLaws
    ) -> tuple[Array, Array, Array]:
        stages = flat.reshape(2, self.m)
        point = junctions.at(stages[:, self.waves])
        residual = self.base[k] @ flat + self.from_stored[k] @ stored
        by_stage = residual.reshape(2, self.m)
        by_stage -= self.source[k]
        by_stage[:, : self.eq.nodes] += point.current_A @ self.eq.junction_nodes.T
        by_stage[:, self.waves] -= point.voltage_V
        return residual, point.voltage_slope, point.current_slope_S

    def _solved_step(
        self, k: int, flat: Array, stored: Array, junctions: WaveLaws, limit: float
    ) -> Array:
        from scipy.linalg.lapack import dgesv  # without the checks: it is called very often

        residual, dv, di = self._step_residual(k, flat, stored, junctions)
        size = self._size(residual)
        for _ in range(40):
            J = self.base[k].copy()
            J[self.rows_i, self.cols_i] += (di[:, self.junction] * self.sign).ravel()
            J[self.rows_v, self.rows_v] -= dv.ravel()
            step = dgesv(J, residual, overwrite_a=True)[2]
            fraction = 1.0
            while True:
                trial = flat - fraction * step
                residual, dv, di = self._step_residual(k, trial, stored, junctions)
                new_size = self._size(residual)
                if new_size <= (1.0 - 1e-4 * fraction) * size or fraction < 0.02:
                    break
                fraction *= 0.5
            flat, size = trial, new_size
            if size < limit:
                break
        return flat.reshape(2, self.m)

    def newton_step(self, residual: Array, voltage_slope: Array, current_slope_S: Array) -> Array:
        """Return the Newton update, (steps, 2, unknowns).

        Each junction's own unknown is eliminated first: a junction is then a conductance, and the
        matrices to solve are less than half as large.
        """
        k, n, stored = self.m - len(self.eq.laws), self.eq.nodes, len(self.eq.stored)
        nodes = self.eq.junction_nodes
        by_stage = residual.reshape(self.count, 2, self.m)
        siemens = current_slope_S / voltage_slope
        waves_V = by_stage[:, :, self.waves]
        J = self.kept_base.copy()
        between = (nodes.T[:, :, None] * nodes.T[:, None, :]).reshape(len(self.eq.laws), n * n)
        gains = siemens.reshape(2 * self.count, len(self.eq.laws)) @ between
        gains = gains.reshape(self.count, 2, n, n)
        right = np.empty((self.count, 2, k, stored + 1))
        right[..., :stored] = -self.kept_from_stored
        right[..., stored] = -by_stage[:, :, self.kept]
        right[:, :, :n, stored] -= (siemens * waves_V) @ nodes.T
        for stage in range(2):
            of_stage = slice(stage * k, stage * k + n)
            J[:, of_stage, of_stage] += gains[:, stage]
        answer = np.linalg.solve(J, right.reshape(self.count, 2 * k, stored + 1))
        gain, offset = answer[:, :, :stored], answer[:, :, stored]
        if stored:
            A = self.kept_to_stored @ gain[:, k:]
            b = offset[:, k:] @ self.kept_to_stored.T
            offset = offset + np.einsum("kij,kj->ki", gain, self._closed(A, b))
        dx = np.empty((self.count, 2, self.m))
        dx[:, :, self.kept] = offset.reshape(self.count, 2, k)
        dx[:, :, self.waves] = (dx[:, :, :n] @ nodes + waves_V) / voltage_slope
        return dx

    def _closed(self, A: Array, b: Array) -> Array:
        """Return the change of the stored state at the start of each step."""
        A, b = _chained(A, b)
        first = np.zeros(b.shape[1])
        if self.stretch.start is None:
            # Least squares: charge that nothing can move (two capacitors in series) stays put.
            scale = self._stored_scale
            matrix = (np.eye(len(first)) - A[-1]) * scale / scale[:, None]
            first = scale * np.linalg.lstsq(matrix, b[-1] / scale, rcond=1e-9)[0]
        return np.concatenate([first[None], A[:-1] @ first + b[:-1]])

    @property
    def _stored_scale(self) -> Array:
        scale = np.sqrt(np.diag(self.eq.mass)[self.eq.stored] / self.column_weight[self.eq.stored])
        return np.where(scale > 0, scale, 1.0)


def _chained(A: Array, b: Array) -> tuple[Array, Array]:
    """Return the maps from the first state to that after each step, given those of single steps.

    Parameters
    ----------
    A, b
        Step ``k`` is ``z -> A[k] z + b[k]``; (steps, n, n) and (steps, n).

    Examples
    --------
    >>> A, b = _chained(np.full((3, 1, 1), 2.0), np.ones((3, 1)))
    >>> A.ravel().tolist(), b.ravel().tolist()
    ([2.0, 4.0, 8.0], [1.0, 3.0, 7.0])
    """
    A, b = A.copy(), b.copy()
    reach = 1
    while reach < len(b):
        b[reach:] += np.einsum("kij,kj->ki", A[reach:], b[:-reach])
        A[reach:] = A[reach:] @ A[:-reach]
        reach *= 2
    return A, b
