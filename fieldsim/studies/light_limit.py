"""Where along a parameter the lamps begin or cease to light."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from fieldsim.circuit.results import CircuitResult

__all__ = ["LightLimit", "light_limit"]

_DARK = math.log(1e-12)  # of what has no lamps
_ACCURACY = 0.01  # of the distance between the two values that the limit lies between


@dataclass(frozen=True)
class LightLimit:
    """A value at which the brightest lamp just lights.

    Parameters
    ----------
    path
        Of the parameter.
    value
        In SI units.
    lights_below
        Whether it is smaller values that light a lamp, not greater ones.
    """

    path: str
    value: float
    lights_below: bool


def light_limit(
    path: str,
    values: Sequence[float],
    circuits: Sequence[CircuitResult | None],
    at: Callable[[float], CircuitResult | None],
) -> LightLimit | None:
    """Return where the lamps begin or cease to light; None unless they do so once.

    Parameters
    ----------
    path
        Of the parameter.
    values, circuits
        What it was set to, in SI units, and what came of it.
    at
        Gives the same for any value between.
    """
    from scipy.optimize import brentq

    order = sorted(range(len(values)), key=lambda i: values[i])
    known = [_excess(circuits[i]) for i in order]
    flips = [k for k in range(len(order) - 1) if (known[k] >= 0) != (known[k + 1] >= 0)]
    if len(flips) != 1:
        return None
    k = flips[0]
    low, high = values[order[k]], values[order[k + 1]]
    ends = {low: known[k], high: known[k + 1]}

    def excess(value: float) -> float:
        return ends[value] if value in ends else _excess(at(value))

    value = float(brentq(excess, low, high, xtol=_ACCURACY * (high - low)))
    return LightLimit(path, value, known[k] >= 0)


def _excess(circuit: CircuitResult | None) -> float:
    """Return the logarithm of the brightest lamp's current over the one from which it is seen."""
    lamps = () if circuit is None else circuit.lamps
    return max((lamp.log_of_visible for lamp in lamps), default=_DARK)
