"""Whether a circuit's second half of a period is its first with the signs of the coils turned.

Alternating poles give an EMF whose second half is minus its first. Where turning all EMFs round
changes nothing in a circuit but which of its alike junctions do what, as in a bridge, half a period
tells all.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fieldsim.circuit.emf_source import PeriodicEmf
from fieldsim.circuit.port_network import PortNetworks

__all__ = ["WHOLE", "Turn", "half_wave_emf", "turn_of"]

Array = NDArray[np.float64]

_SAME = 1e-9


@dataclass(frozen=True)
class Turn:
    """What the end of a stretch of the period is at its beginning.

    Parameters
    ----------
    stretches
        To the period: 1 or 2.
    junctions
        Which junction each one becomes in the next stretch; empty for itself.
    signs
        Of what each coil and capacitor stores, in the next stretch; empty for all alike.
    """

    stretches: int = 1
    junctions: tuple[int, ...] = ()
    signs: tuple[int, ...] = ()


WHOLE = Turn()


def half_wave_emf(emf: PeriodicEmf) -> bool:
    """Return whether the second half of all EMFs is minus their first.

    Examples
    --------
    >>> t = np.arange(32) / 32
    >>> half_wave_emf(PeriodicEmf(1.0, np.sin(2 * np.pi * t) + np.sin(6 * np.pi * t)))
    True
    >>> half_wave_emf(PeriodicEmf(1.0, np.sin(2 * np.pi * t) + np.sin(4 * np.pi * t)))
    False
    """
    emf_V = emf.emf_V
    half = emf.samples // 2
    if 2 * half != emf.samples:
        return False
    apart = np.abs(emf_V[:, :half] + emf_V[:, half:]).max()
    return bool(apart <= _SAME * np.abs(emf_V).max())


def turn_of(networks: PortNetworks) -> Turn:
    """Return how circuits' ports change places when all EMFs are turned round.

    `WHOLE` where they do not, or where some of the circuits differ in that.
    """
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
        alike = np.abs(turned - S).max() < _SAME
        alike &= np.abs(Q[:, ports] * each[:, None] + Q).max() < _SAME
        if alike and np.allclose(laws[:, :, list(found)], laws, rtol=1e-12, atol=0.0):
            return Turn(2, found, tuple(int(sign) for sign in signs))
    return WHOLE


def _places(S: Array, Q: Array, laws: Array, signs: Array, d: int) -> tuple[int, ...] | None:
    """Return the place that each junction takes, if there is any such change of places."""

    def fits(places: list[int], new: int) -> bool:
        old = len(places)
        if new in places or np.abs(Q[new] + Q[old]).max(initial=0.0) > _SAME:
            return False
        if not np.allclose(laws[:, new], laws[:, old], rtol=1e-12, atol=0.0):
            return False
        if np.abs(S[new, d:] * signs - S[old, d:]).max(initial=0.0) > _SAME:
            return False
        whole = [*places, new]
        return bool(np.abs(S[new, whole] - S[old, : old + 1]).max() < _SAME)

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
