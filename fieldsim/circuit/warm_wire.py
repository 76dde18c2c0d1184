"""Coils whose resistance grows with what they lose: the state in which both agree.

Lasting current warms a winding, the warm wire has more resistance, and that changes the current.
What is sought are resistances at which the loss makes just these resistances. Each coil's loss
falls or rises little with its resistance, so that a first step on the guess of a loss inversely as
the resistance, which a voltage behind it would make, and secant steps after it settle in one to
three solutions.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from fieldsim.cautions import Doubt, Note
from fieldsim.circuit.network import Circuit
from fieldsim.circuit.results import CircuitResult

__all__ = ["MOST_GROWTH", "settled", "settled_together", "with_doubt"]

Array = NDArray[np.float64]
Result = TypeVar("Result")

MOST_GROWTH = 1.0
"""No resistance grows further: copper some 250 K warmer has lost its enamel long before."""

_MOST_SOLUTIONS = 8
_SLOPES = -5.0, 0.8  # of the growth that a growth makes


def settled(
    circuit: Circuit,
    solve: Callable[[Circuit, CircuitResult | None], CircuitResult],
    tolerance: float,
    near: CircuitResult | None = None,
) -> CircuitResult:
    """Return the state of a circuit whose coils are as warm as their losses make them.

    Parameters
    ----------
    circuit
        With the resistances of its coils without current, and how they warm.
    solve
        From a circuit whose coils keep their resistances, and a result much like the one sought or
        None, to its result.
    tolerance
        Of the resistances' growth: they are settled when it moves by less than twice this.
    near
        A result much like the one sought, to begin from.

    Notes
    -----
    The circuit of the result has the resistances of the warm wire, and holds them.
    """

    def solve_one(
        _which: Sequence[int],
        held: Sequence[Circuit],
        beside: Sequence[CircuitResult | None],
        _again: bool,
    ) -> list[CircuitResult]:
        return [solve(held[0], beside[0])]

    def heat_W(result: CircuitResult) -> Array:
        return np.array([result.coils[name].heat_W for name in circuit.coils.names])

    ((result, missed),) = settled_together([circuit], solve_one, heat_W, tolerance, [near])
    return result if missed is None else with_doubt(result, missed, tolerance)


def with_doubt(result: CircuitResult, missed: float, tolerance: float) -> CircuitResult:
    """Return a result that says by how much its resistances did not settle."""
    doubt = Note(Doubt.WARM_WIRE, missed, 2 * tolerance)
    return replace(result, warnings=(*result.warnings, doubt))


def settled_together(
    circuits: Sequence[Circuit],
    solve: Callable[
        [Sequence[int], Sequence[Circuit], Sequence[Result | None], bool], Sequence[Result]
    ],
    heat_W: Callable[[Result], Array],
    tolerance: float,
    near: Sequence[Result | None],
) -> list[tuple[Result, float | None]]:
    """Return the states of many circuits, each settled for itself.

    Parameters
    ----------
    circuits
        As for `settled`.
    solve
        From the places of some circuits, these with resistances that they keep, results near those
        sought and whether those are of the same circuits but for their resistances, to results.
    heat_W
        From a result to the loss of each coil, (coils,).
    tolerance, near
        As for `settled`, one ``near`` a circuit.

    Returns
    -------
    For each, the result, and by how much its resistances are not settled; None where they are.
    """
    rates = [np.array(circuit.coils.warming_per_W) for circuit in circuits]

    def made_by(i: int, result: Result) -> Array:
        return np.asarray(np.minimum(rates[i] * heat_W(result), MOST_GROWTH))

    growth = [np.zeros(len(rate)) for rate in rates]
    beside = list(near)
    for i, result in enumerate(near):
        if result is not None and len(heat_W(result)) == len(rates[i]):
            growth[i] = made_by(i, result)
    tried: list[list[tuple[Array, Array]]] = [[] for _ in circuits]
    found: dict[int, tuple[Result, float | None]] = {}
    active, again = list(range(len(circuits))), False
    while active:
        held = [circuits[i].with_coils(circuits[i].coils.warmed(growth[i])) for i in active]
        still = []
        for i, result in zip(
            active, solve(active, held, [beside[i] for i in active], again), strict=True
        ):
            tried[i].append((growth[i], made_by(i, result)))
            missed = float(np.abs(tried[i][-1][1] - growth[i]).max(initial=0.0))
            close = missed <= 2 * tolerance
            found[i] = (result, None if close else missed)
            if not close and len(tried[i]) < _MOST_SOLUTIONS:
                growth[i], beside[i] = _nearer(tried[i]), result
                still.append(i)
        active, again = still, True
    return [found[i] for i in range(len(circuits))]


def _nearer(tried: Sequence[tuple[Array, Array]]) -> Array:
    """Return the growths to try next, from those tried and those that they made."""
    growth, made = tried[-1]
    slope = -made / (1.0 + growth)  # of a loss inversely as the resistance
    if len(tried) > 1:
        before, made_before = tried[-2]
        step = growth - before
        moved = np.abs(step) > 1e-9
        slope = np.where(moved, (made - made_before) / np.where(moved, step, 1.0), slope)
    return np.clip(growth + (made - growth) / (1.0 - np.clip(slope, *_SLOPES)), 0.0, MOST_GROWTH)
