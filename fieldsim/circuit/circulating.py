"""Current that coils in parallel drive round through each other, and what it costs."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fieldsim.cautions import Caution, Hazard
from fieldsim.circuit.results import CircuitResult
from fieldsim.machine.connections import CoilRef, InParallel, Source, coil_refs

__all__ = ["circulating_W", "circulating_cautions"]

Array = NDArray[np.float64]

NOTABLE_SHARE = 0.05
"""Of the coils' heat, from which a word is due."""

_LEAST_W = 1e-3  # no coil gets warm by less


def circulating_W(result: CircuitResult, source: Source) -> float:
    """Return the average loss by currents that run round inside joined coils [W].

    Parameters
    ----------
    result
        With all of the source's coils.
    source
        How they are joined.

    Notes
    -----
    What flows into the load costs least if members in parallel carry it by their conductances.
    What each carries beyond that runs round through the others; the two losses add up to the
    coils' heat, since the voltages round a loop of the first are zero.
    """
    return _split(result, source)[2]


def _split(result: CircuitResult, source: Source) -> tuple[Array, float, float]:
    """Return current out of the first end, inner resistance, and loss by circulating currents."""
    sign = -1.0 if source.reverse else 1.0
    if isinstance(source, CoilRef):
        trace = result.coils[source.coil]
        return sign * trace.current_A, trace.resistance_ohm, 0.0
    parts = [_split(result, member) for member in source.members]
    currents, ohm = np.stack([part[0] for part in parts]), np.array([part[1] for part in parts])
    lost_W = sum(part[2] for part in parts)
    if not isinstance(source, InParallel):
        return sign * currents[0], float(ohm.sum()), lost_W
    joined = float(1.0 / (1.0 / ohm).sum())
    whole = currents.sum(axis=0)
    beyond = currents - whole * (joined / ohm)[:, None]
    lost_W += sum(r * result.average(i**2) for r, i in zip(ohm.tolist(), beyond, strict=True))
    return sign * whole, joined, lost_W


def circulating_cautions(result: CircuitResult) -> tuple[Caution, ...]:
    """Return a caution for each outlet whose coils heat each other; its value is in watts."""
    found = []
    for outlet in result.circuit.outlets:
        heat_W = sum(result.coils[ref.coil].heat_W for ref in coil_refs(outlet.source))
        lost_W, limit_W = circulating_W(result, outlet.source), NOTABLE_SHARE * heat_W
        if lost_W > max(limit_W, _LEAST_W):
            facts = {"heat_W": heat_W}
            found.append(Caution(Hazard.CIRCULATING, outlet.name, lost_W, limit_W, facts))
    return tuple(found)
