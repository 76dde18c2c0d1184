"""Newton's method for a stretch of collocated circuit equations, made to find the way in.

From nothing, the junctions' knees are first solved wide and then sharp. From a good guess the exact
laws are used at once. Where a knee has moved by some steps, time is marched through locally, step
by step; the Newton step for all times then closes the period. Where even that fails (a resonance
that only its lamps limit), the circuit is followed for some periods first.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fieldsim.circuit.collocation import Stretch, System
from fieldsim.circuit.equations import Equations
from fieldsim.circuit.wave_laws import WaveLaws

__all__ = ["Solution", "nearer", "solve_stretch"]

Array = NDArray[np.float64]

_SOFTENINGS = (64.0, 8.0)
_MOST_STEPS = 60
_WARM_STEPS = 25
_SETTLINGS = 6
_SETTLING_PERIODS = 4
_MARCH_FROM = 1e-2
_ROUNDING = 1e-5  # updates this small that no longer shrink are rounding: between blocking diodes


@dataclass(frozen=True, eq=False)
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

    x: Array = field(repr=False)
    update: float
    iterations: int
    converged: bool


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
    system = System(equations, stretch, emf_V, wave_ohm)
    exact = WaveLaws.from_laws(equations.laws, wave_ohm)
    used = 0
    if guess is not None or not equations.laws:
        x = np.zeros((system.count, 2, equations.size)) if guess is None else guess
        result = _newton(system, exact, x, scale_V, tolerance, _WARM_STEPS)
        if result.converged:
            return result
        used = result.iterations
    else:
        x = np.zeros((system.count, 2, equations.size))
        for factor in _SOFTENINGS:
            x, iterations = _damped(system, exact.softened(factor), x, scale_V)
            used += iterations
        result = _newton(system, exact, x, scale_V, tolerance, _MOST_STEPS)
        used += result.iterations
    for _ in range(_SETTLINGS):
        if result.converged:
            break
        # let the circuit run as it would, some periods on, before trying again
        for _ in range(_SETTLING_PERIODS):
            x = system.marched(x, exact, 1e-5 * scale_V)
        result = _newton(system, exact, x, scale_V, tolerance, _WARM_STEPS)
        used += result.iterations
    return Solution(result.x, result.update, used, result.converged)


def nearer(
    equations: Equations,
    stretch: Stretch,
    emf: Callable[[Array], Array],
    guess: Array,
    wave_ohm: float,
    scale_V: float,
) -> tuple[Array, int]:
    """Return a guess brought near the solution by damped Newton steps, and their number.

    Arguments as for `solve_stretch`. Where knees of the guess are off by some steps, a few of these
    for all times at once are cheaper than marching.
    """
    times = stretch.stage_times_s
    emf_V = emf(times.ravel()).T.reshape(*times.shape, -1)
    system = System(equations, stretch, emf_V, wave_ohm)
    return _damped(system, WaveLaws.from_laws(equations.laws, wave_ohm), guess, scale_V)


def _damped(system: System, junctions: WaveLaws, x: Array, scale_V: float) -> tuple[Array, int]:
    """Return a rough solution and the iterations: Newton steps shortened until they help."""
    residual, dv, di = system.evaluate(x, junctions)
    size = float(np.linalg.norm(system.norm(residual)))
    used = 0
    while size >= 1e-2 * scale_V and used < 20:
        used += 1
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
    return x, used


def _newton(
    system: System, junctions: WaveLaws, x: Array, scale_V: float, tolerance: float, most: int
) -> Solution:
    """Newton's method; after a step that helps little, time is marched through instead."""
    residual, dv, di = system.evaluate(x, junctions)
    size = float(np.linalg.norm(system.norm(residual)))
    update = math.inf
    for iteration in range(1, most + 1):
        dx = system.newton_step(residual, dv, di)
        before, update = update, float(np.abs(dx * system.column_weight).max())
        x = x + dx
        stalled = before < _ROUNDING * scale_V and update > 0.5 * before
        if update < tolerance * scale_V or stalled:
            return Solution(x, update, iteration, True)
        residual, dv, di = system.evaluate(x, junctions)
        new_size = float(np.linalg.norm(system.norm(residual)))
        if new_size > 0.5 * size and new_size > _MARCH_FROM * scale_V:
            x = system.marched(x, junctions, _MARCH_FROM * scale_V)
            residual, dv, di = system.evaluate(x, junctions)
            new_size = float(np.linalg.norm(system.norm(residual)))
        size = new_size
    return Solution(x, update, most, False)
