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

import numpy as np
from numpy.typing import NDArray

from fieldsim.cautions import Doubt, Note
from fieldsim.circuit.network import Circuit
from fieldsim.circuit.results import CircuitResult

__all__ = ["MOST_GROWTH", "settled"]

Array = NDArray[np.float64]

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
    rate = np.array(circuit.coils.warming_per_W)
    names = circuit.coils.names

    def made_by(result: CircuitResult) -> Array:
        heat_W = np.array([result.coils[name].heat_W for name in names])
        return np.asarray(np.minimum(rate * heat_W, MOST_GROWTH))

    growth = np.zeros(len(rate))
    if near is not None and set(names) <= set(near.coils):
        growth = made_by(near)
    tried: list[tuple[Array, Array]] = []
    while True:
        result = solve(circuit.with_coils(circuit.coils.warmed(growth)), near)
        tried.append((growth, made_by(result)))
        missed = float(np.abs(tried[-1][1] - growth).max(initial=0.0))
        if missed <= 2 * tolerance:
            return result
        if len(tried) == _MOST_SOLUTIONS:
            doubt = Note(Doubt.WARM_WIRE, missed, 2 * tolerance)
            return replace(result, warnings=(*result.warnings, doubt))
        growth, near = _nearer(tried), result


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
