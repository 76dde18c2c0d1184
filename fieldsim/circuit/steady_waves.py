"""A steady state as the waves between a circuit's junctions, coils and capacitors."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

__all__ = ["SteadyWaves", "WaveMoments"]

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class WaveMoments:
    """Averages over the period of a state's waves into all ports, then the EMFs of the coils.

    All else in a circuit is a sum of these: so its averages, powers and RMS values are sums of
    these moments.

    Parameters
    ----------
    mean_V, square_V2
        Means, and means of products, (waves,) and (waves, waves).
    forward_A, peak_A
        Of each junction the mean of its current where that is forward, and its largest size.
    """

    mean_V: Array = field(repr=False)
    square_V2: Array = field(repr=False)
    forward_A: Array = field(repr=False)
    peak_A: Array = field(repr=False)


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
    moments
        Its averages; None of a rough state.
    """

    times_s: Array = field(repr=False)
    t: Array = field(repr=False)
    back_V: Array = field(repr=False)
    period_s: float
    scale_V: float
    change: float = 0.0
    iterations: int = 0
    update_V: float = 0.0
    moments: WaveMoments | None = field(default=None, repr=False)
