"""The shortest stretch of a period that tells all of a circuit.

Magnets that stand evenly round an arm give an EMF that repeats within the rotor's turn; alternating
poles one whose second half is minus its first. Where turning all EMFs round changes nothing in a
circuit but which of its alike junctions do what, as in a bridge, half a repeat tells all. (Currents
cannot repeat less often than what drives them: fluxes and charges that differ would only come
nearer, since junctions and resistances lose whatever differs between two courses.)
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fieldsim.circuit.emf_source import PeriodicEmf
from fieldsim.circuit.port_network import SAME_PORTS, PortNetworks

__all__ = ["WHOLE", "Turn", "repeats", "turn_of"]

Array = NDArray[np.float64]

_SAME = 1e-9


@dataclass(frozen=True)
class Turn:
    """What the end of a stretch of the period is at its beginning.

    Parameters
    ----------
    stretches
        To the period.
    junctions
        Which junction each one becomes in the next stretch; empty for itself.
    signs
        Of what each coil and capacitor stores, in the next stretch; empty for all alike.
    """

    stretches: int = 1
    junctions: tuple[int, ...] = ()
    signs: tuple[int, ...] = ()


WHOLE = Turn()


def repeats(emf: PeriodicEmf) -> tuple[int, bool]:
    """Return how often all EMFs repeat in the period, and whether each second half turns round.

    Examples
    --------
    >>> t = np.arange(64) / 64
    >>> repeats(PeriodicEmf(1.0, np.sin(4 * np.pi * t) + np.sin(12 * np.pi * t)))
    (2, True)
    >>> repeats(PeriodicEmf(1.0, np.sin(2 * np.pi * t) + np.sin(4 * np.pi * t)))
    (1, False)
    """
    size = emf.harmonics_V
    present = np.flatnonzero(size > _SAME * size.max(initial=0.0))
    if not len(present):
        return 1, False
    often = max(math.gcd(*present.tolist()), 1)
    return often, bool((present // often % 2 == 1).all())


def turn_of(networks: PortNetworks, often: int, turning: bool) -> Turn:
    """Return the shortest stretch of a period that tells all of some circuits.

    Parameters
    ----------
    networks
        The circuits.
    often, turning
        From `repeats`, the same for all.
    """
    if not turning:
        return Turn(often)
    S, Q = networks.scattering, networks.sources
    d, c, k = networks.junctions, networks.coils, networks.capacitors
    laws = networks.laws
    signs = np.concatenate([-np.ones(c), np.ones(k)])
    for capacitors in range(2**k):
        signs[c:] = [-1.0 if capacitors >> i & 1 else 1.0 for i in range(k)]
        found = _places(S[0], Q[0], laws[:, 0], signs, d)
        if found is None:
            continue
        ports = np.array([*found, *range(d, d + c + k)])
        each = np.concatenate([np.ones(d), signs])
        turned = S[:, ports][:, :, ports] * each[:, None] * each
        alike = np.abs(turned - S).max() < SAME_PORTS
        alike &= np.abs(Q[:, ports] * each[:, None] + Q).max() < SAME_PORTS
        if alike and np.allclose(laws[:, :, list(found)], laws, rtol=1e-12, atol=0.0):
            return Turn(2 * often, found, tuple(int(sign) for sign in signs))
    return Turn(often)


def _places(S: Array, Q: Array, laws: Array, signs: Array, d: int) -> tuple[int, ...] | None:
    """Return the place that each junction takes, if there is any such change of places."""

    def fits(places: list[int], new: int) -> bool:
        old = len(places)
        if new in places or np.abs(Q[new] + Q[old]).max(initial=0.0) > SAME_PORTS:
            return False
        if not np.allclose(laws[:, new], laws[:, old], rtol=1e-12, atol=0.0):
            return False
        if np.abs(S[new, d:] * signs - S[old, d:]).max(initial=0.0) > SAME_PORTS:
            return False
        whole = [*places, new]
        return bool(np.abs(S[new, whole] - S[old, : old + 1]).max() < SAME_PORTS)

    def search(places: list[int]) -> tuple[int, ...] | None:
        if len(places) == d:
            return tuple(places)
        for new in range(d):
            if fits(places, new):
                found = search([*places, new])
                if found is not None:
                    return found
        return None

    return search([])
