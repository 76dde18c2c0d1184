"""Radau collocation of the circuit equations, all steps of a stretch of time solved together.

Each step carries two stages (Radau IIA, third order, stiffly accurate), so that a diode's exact
law, a capacitor without resistance or an open coil needs no special treatment. A Newton step
eliminates the stages of every step at once (batched dense solves), leaves a recursion for the
stored fluxes and charges, and closes it: round the period, or from the initial state.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fieldsim.circuit.diode_law import WaveLaws
from fieldsim.circuit.equations import Equations

__all__ = ["STAGES", "WEIGHTS", "Solution", "Stretch", "solve_stretch"]

Array = NDArray[np.float64]

STAGES = np.array([1.0 / 3.0, 1.0])
WEIGHTS = np.array([0.75, 0.25])
_INVERSE = np.array([[1.5, 0.5], [-4.5, 2.5]])  # of the Butcher matrix [[5, -1], [9, 3]] / 12
# Hairer and Wanner, Solving Ordinary Differential Equations II (1996), table IV.5.5

_SOFTENINGS = (64.0, 8.0)
_MOST_STEPS = 60
_MARCH_FROM = 2e-3


@dataclass(frozen=True)
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

    times_s: Array
    start: Array | None

    @property
    def steps_s(self) -> Array:
        """Lengths of the steps, (steps,)."""
        return np.diff(self.times_s)

    @property
    def stage_times_s(self) -> Array:
        """Times of the stages, (steps, 2)."""
        return np.asarray(self.times_s[:-1, None] + self.steps_s[:, None] * STAGES)


@dataclass(frozen=True)
class Solution:
    """The unknowns at every stage.

    Parameters
    ----------
    x
        Shape (steps, 2, unknowns).
    update
        Size of the last Newton update [V], currents counted through the wave resistance.
    iterations
        Newton iterations used.
    converged
        Whether the update fell below the stated limit.
    """

    x: Array
    update: float
    iterations: int
    converged: bool


class _System:
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
        for kind, last in (("coil", "capacitor"), ("charging", None)):
            end = m if last is None else eq.offsets[last]
            self.column_weight[eq.offsets[kind] : end] = wave_ohm

    def stored_at_starts(self, x: Array) -> Array:
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
        """Return the Newton update, (steps, 2, unknowns)."""
        m, stored = self.m, len(self.eq.stored)
        J = self.base.copy()
        gains = current_slope_S[:, :, self.junction] * self.sign
        J[:, self.rows_i, self.cols_i] += gains.reshape(self.count, -1)
        J[:, self.rows_v, self.rows_v] -= voltage_slope.reshape(self.count, -1)
        right = np.concatenate([-self.from_stored, -residual[:, :, None]], axis=2)
        answer = np.linalg.solve(J, right)
        gain, offset = answer[:, :, :stored], answer[:, :, stored]
        if stored == 0:
            return offset.reshape(self.count, 2, m)
        A = self.to_stored @ gain[:, m:]
        b = offset[:, m:] @ self.to_stored.T
        shift = self._closed(A, b)
        dx = offset + np.einsum("kij,kj->ki", gain, shift)
        return np.asarray(dx.reshape(self.count, 2, m))

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


def solve_stretch(
    equations: Equations,
    stretch: Stretch,
    emf: Callable[[Array], Array],
    guess: Array | None,
    wave_ohm: float,
    scale_V: float,
    tolerance: float = 1e-7,
) -> Solution:
    """Solve a stretch by Newton's method with the junctions' exact slopes.

    Parameters
    ----------
    emf
        Function of times (n,) giving (coils, n) [V].
    guess
        Unknowns to start from, (steps, 2, unknowns), or None for none: then the junctions' knees
        are first widened and sharpened in stages.
    wave_ohm
        Resistance typical of the circuit, which scales currents to voltages [ohm].
    scale_V
        Voltage typical of the circuit [V].
    tolerance
        The Newton update, relative to ``scale_V``, at which the solution is taken as found.
    """
    times = stretch.stage_times_s
    emf_V = emf(times.ravel()).T.reshape(*times.shape, -1)
    system = _System(equations, stretch, emf_V, wave_ohm)
    exact = WaveLaws.from_laws(equations.laws, wave_ohm)
    start = np.zeros((system.count, 2, equations.size)) if guess is None else guess
    used = 0
    if guess is not None or not equations.laws:
        result = _newton(system, exact, start, scale_V, tolerance, 25)
        if result.converged:
            return result
        used = result.iterations
    x = start
    for factor in _SOFTENINGS:
        x, iterations = _damped(system, exact.softened(factor), x, scale_V)
        used += iterations
    final = _newton(system, exact, x, scale_V, tolerance, _MOST_STEPS)
    return Solution(final.x, final.update, used + final.iterations, final.converged)


def _damped(system: _System, junctions: WaveLaws, x: Array, scale_V: float) -> tuple[Array, int]:
    """Return a rough solution and the iterations: Newton steps shortened until they help."""
    residual, dv, di = system.evaluate(x, junctions)
    size = float(np.linalg.norm(system.norm(residual)))
    for iteration in range(1, 21):
        dx = system.newton_step(residual, dv, di)
        fraction = 1.0
        while True:
            trial = x + fraction * dx
            residual, dv, di = system.evaluate(trial, junctions)
            new_size = float(np.linalg.norm(system.norm(residual)))
            if new_size <= (1.0 - 1e-4 * fraction) * size or fraction < 0.02:
                break
            fraction *= 0.5
        x, size = trial, new_size
        if size < 1e-2 * scale_V:
            break
    return x, iteration


def _newton(
    system: _System, junctions: WaveLaws, x: Array, scale_V: float, tolerance: float, most: int
) -> Solution:
    """Newton's method; after a step that helps little, time is marched through instead."""
    residual, dv, di = system.evaluate(x, junctions)
    size = float(np.linalg.norm(system.norm(residual)))
    update = math.inf
    for iteration in range(1, most + 1):
        dx = system.newton_step(residual, dv, di)
        update = float(np.abs(dx * system.column_weight).max())
        x = x + dx
        if update < tolerance * scale_V:
            return Solution(x, update, iteration, True)
        residual, dv, di = system.evaluate(x, junctions)
        new_size = float(np.linalg.norm(system.norm(residual)))
        if new_size > 0.5 * size and new_size > _MARCH_FROM * scale_V:
            x = system.marched(x, junctions, _MARCH_FROM * scale_V)
            residual, dv, di = system.evaluate(x, junctions)
            new_size = float(np.linalg.norm(system.norm(residual)))
        size = new_size
    return Solution(x, update, most, False)
