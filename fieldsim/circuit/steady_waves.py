"""A steady state as the waves between a circuit's junctions, coils and capacitors."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

__all__ = ["SteadyWaves"]

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class SteadyWaves:
    """A state that repeats itself; see `fieldsim.circuit.port_network`.

    Parameters
    ----------
    times_s
        Ends of the steps, (steps + 1,).
    t, back_V
        Unknowns, (junctions, 2, steps) and (coils and capacitors, 2, steps).
    period_s, scale_V
        Period and peak of what drives it.
    change
        Of averages by the last refinement of the steps.
    iterations
        Newton iterations in all.
    update_V
        Size of the last one.
    """

    times_s: Array = field(repr=False)
    t: Array = field(repr=False)
    back_V: Array = field(repr=False)
    period_s: float
    scale_V: float
    change: float = 0.0
    iterations: int = 0
    update_V: float = 0.0
