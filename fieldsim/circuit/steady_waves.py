"""A steady state as the waves between a circuit's junctions, coils and capacitors."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fieldsim.circuit.half_wave import Turn

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
        Ends of the steps of the stretch that tells all, (steps + 1,).
    t, back_V
        Unknowns on it, (junctions, 2, steps) and (coils and capacitors, 2, steps).
    turn
        What follows it.
    period_s, scale_V
        Period and peak of what drives it.
    moments
        Its averages.
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
    turn: Turn
    period_s: float
    scale_V: float
    moments: WaveMoments = field(repr=False)
    change: float = 0.0
    iterations: int = 0
    update_V: float = 0.0

    def whole(self) -> tuple[Array, Array, Array]:
        """Return steps and unknowns of the whole period."""
        turn, t, back_V = self.turn, self.t, self.back_V
        if turn.signs:
            later = np.array(turn.signs, dtype=float)[:, None, None] * back_V
            t = np.concatenate([t, t[list(turn.junctions)]], axis=-1)
            back_V = np.concatenate([back_V, later], axis=-1)
        starts = self.times_s[-1] * np.arange(turn.stretches)
        ends = (starts[:, None] + self.times_s[1:]).ravel()
        often = turn.stretches // 2 if turn.signs else turn.stretches
        return np.append(0.0, ends), np.tile(t, often), np.tile(back_V, often)
