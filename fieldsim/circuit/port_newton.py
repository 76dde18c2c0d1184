"""Newton's method for many circuits at once, each for as long as it needs."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fieldsim.circuit.port_collocation import PortState, PortSystem

__all__ = ["Solved", "newton"]

Array = NDArray[np.float64]

_MOST_ITERATIONS = 30
_HALVINGS = 3
_LOCAL = 3  # steps of junctions alone after a step of all
_LOCAL_UNTIL = 3  # iterations: for longer, both may undo each other for ever
_NEAR = 0.01  # of the peak EMF: nearer, whole steps are always right
_ROUNDING = 1e-5  # updates this small that no longer shrink are rounding: between blocking diodes


@dataclass(frozen=True, eq=False)
class Solved:
    """Where Newton's method ended.

    Parameters
    ----------
    state
        Of all circuits.
    update_V, iterations, converged
        Size of the last step, how many, and whether the last was small; (circuits,).
    """

    state: PortState = field(repr=False)
    update_V: Array = field(repr=False)
    iterations: NDArray[np.int_] = field(repr=False)
    converged: NDArray[np.bool_] = field(repr=False)


def newton(
    system: PortSystem,
    t: Array,
    back_V: Array,
    scale_V: Array,
    tolerance: float,
    softening: float = 1.0,
) -> Solved:
    """Solve by Newton's method; steps that do not help are halved.

    Parameters
    ----------
    system
        The equations.
    t, back_V
        To start from.
    scale_V
        Voltage typical of each circuit, (circuits,).
    tolerance
        Of the size of a step, over that voltage, at which a solution is found.
    softening
        By how much the junctions' knees are widened.

    Notes
    -----
    In the first iterations junctions are also moved alone, to where the waves into the rest bring
    them: between blocking ones the way is long.
    """
    count = len(scale_V)
    updates, iterations = np.full(count, math.inf), np.zeros(count, dtype=int)
    converged = np.zeros(count, dtype=bool)
    active = np.arange(count)
    state = ended = system.at(t, back_V.copy(), softening, _LOCAL)
    for iteration in range(_MOST_ITERATIONS):
        local = _LOCAL if iteration < _LOCAL_UNTIL else 0
        scale = scale_V[active]
        iterations[active] += 1
        steps = system.newton_step(state)
        before, update = updates[active], system.update_V(state, *steps)
        state, shortened = _stepped(system, state, steps, scale, softening, local)
        stalled = (before < _ROUNDING * scale) & (update > 0.5 * before)
        # quadratic convergence tells the next step, ten times for safety
        quick = np.where(np.isfinite(before), 10.0 * (update / before) ** 2, 1.0)
        coming = update * np.minimum(quick, 1.0)
        updates[active] = update
        ready = ((coming < tolerance * scale) | stalled) & ~shortened
        lost = ~np.isfinite(update)
        if not (ready | lost).any():
            continue
        converged[active[ready]] = True
        ended.put(active[ready], state.chosen(np.flatnonzero(ready)))
        stay = np.flatnonzero(~ready & ~lost)
        active = active[stay]
        if not len(active):
            break
        system, state = system.chosen(stay), state.chosen(stay)
    else:
        ended.put(active, state)
    return Solved(ended, updates, iterations, converged)


def _stepped(
    system: PortSystem,
    state: PortState,
    steps: tuple[Array, Array],
    scale_V: Array,
    softening: float,
    local: int,
) -> tuple[PortState, NDArray[np.bool_]]:
    """Return the state after whole steps or shorter ones, and where they are shorter."""
    size = state.size_V
    new = system.at(state.t + steps[0], state.back_V + steps[1], softening, local)
    worse = _no_better(new, size, scale_V)
    if not worse.any():
        return new, worse
    which, fraction = np.flatnonzero(worse), 1.0
    still, some, old = which, system.chosen(which), state.chosen(which)
    dt, dback = (step[:, which] for step in steps)
    for _ in range(_HALVINGS):
        fraction *= 0.5
        trial = some.at(old.t + fraction * dt, old.back_V + fraction * dback, softening, local)
        new.put(still, trial)
        bad = np.flatnonzero(_no_better(trial, size[still], scale_V[still], fraction))
        if not len(bad):
            break
        if len(bad) < len(still):
            still, some, old = still[bad], some.chosen(bad), old.chosen(bad)
            dt, dback = dt[:, bad], dback[:, bad]
    return new, worse


def _no_better(
    new: PortState, size: Array, scale_V: Array, fraction: float = 1.0
) -> NDArray[np.bool_]:
    new_size = new.size_V
    good = (new_size < (1.0 - 1e-4 * fraction) * size) | (new_size < _NEAR * scale_V)
    return np.asarray(~good)
