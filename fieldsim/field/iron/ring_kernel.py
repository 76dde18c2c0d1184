"""The field of charged rings, harmonic by harmonic round their axis.

A ring at (r', z') with charge cos(m psi) per length has the potential cos(m psi) g_m(r, z) with

    g_m = Q_{m-1/2}(chi) / (2 pi sqrt(r r')) r',   chi = 1 + ((r - r')^2 + (z - z')^2) / (2 r r'),

Q being Legendre functions of the second kind (NIST Digital Library of Mathematical Functions, 14.3,
and 14.19(iv) for the first two as elliptic integrals). Everything is written in chi - 1, so that
nothing cancels near the ring.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

__all__ = ["legendre_q", "ring_field"]

Array = NDArray[np.float64]

_FORWARD = 0.05  # eta, chi = cosh eta, below which climbing the orders loses no digits that count
_DIGITS = 30.0  # natural, to which descending from a guess is right


def legendre_q(beyond: Array, orders: int) -> Array:
    """Return Q_{m-1/2}(1 + beyond) for m = 0 to ``orders``, shape (orders + 1, points).

    Parameters
    ----------
    beyond
        Argument less one, above zero, (points,).
    orders
        The highest m.

    Notes
    -----
    The recurrence (m + 1/2) Q_{m+1/2} = 2 m chi Q_{m-1/2} - (m - 1/2) Q_{m-3/2} (NIST DLMF
    14.10.3) is climbed near one; elsewhere its ratios are descended, from exp(-eta) far above.

    Examples
    --------
    >>> legendre_q(np.array([1.0]), 1).round(9).ravel().tolist()
    [1.65663817, 0.224014293]
    """
    from scipy.special import ellipe, ellipkm1

    chi = 1.0 + beyond
    k1 = beyond / (chi + 1.0)  # one less the squared modulus
    root = np.sqrt(2.0 / (chi + 1.0))
    first = root * ellipkm1(k1)
    found = np.empty((orders + 1, beyond.size))
    found[0] = first
    if orders == 0:
        return found
    eta = np.log1p(beyond + np.sqrt(beyond * (chi + 1.0)))
    near = eta < _FORWARD
    if near.any():
        c = chi[near]
        climbing = np.empty((orders + 1, c.size))
        climbing[0] = first[near]
        climbing[1] = c * first[near] - 2.0 / root[near] * ellipe(1.0 - k1[near])
        for m in range(1, orders):
            climbing[m + 1] = (2 * m * c * climbing[m] - (m - 0.5) * climbing[m - 1]) / (m + 0.5)
        found[:, near] = climbing
    for low, high in ((_FORWARD, 0.5), (0.5, math.inf)):
        part = (eta >= low) & (eta < high)
        if part.any():
            found[:, part] = _descended(chi[part], eta[part], first[part], orders)
    return found


def _descended(chi: Array, eta: Array, first: Array, orders: int) -> Array:
    above = orders + math.ceil(_DIGITS / (2 * float(eta.min())))
    ratio = np.exp(-eta)  # Q_{m+1/2} / Q_{m-1/2} for large m
    ratios = np.empty((orders, chi.size))
    for m in range(above, 0, -1):
        ratio = (m - 0.5) / (2 * m * chi - (m + 0.5) * ratio)
        if m <= orders:
            ratios[m - 1] = ratio
    return np.asarray(first * np.concatenate([np.ones((1, chi.size)), np.cumprod(ratios, axis=0)]))


def ring_field(
    r: Array, z: Array, normal: tuple[Array, Array], ring: tuple[Array, Array], orders: int
) -> Array:
    """Return the field along a normal of rings with charge cos(m psi), (orders + 1, points).

    Parameters
    ----------
    r, z
        Points, from the axis and along it [m], (points,), none on the ring.
    normal
        Directions, parts away from the axis and along it, each (points,).
    ring
        Radius and height of the ring for each point [m], each (points,).
    orders
        The highest m.

    Returns
    -------
    The amplitude of cos(m psi) of the normal field, per charge and length of the ring [1/m].
    """
    radius, height = ring
    across, along = r - radius, z - height
    product = r * radius
    beyond = (across**2 + along**2) / (2 * product)
    q = legendre_q(beyond, orders + 1)
    # Slope of chi along the normal.
    slope = (normal[0] * (across - radius * beyond) + normal[1] * along) / product
    m = np.arange(orders + 1)[:, None]
    derivative = (m + 0.5) * (q[1:] - (1.0 + beyond) * q[:-1]) / (beyond * (2.0 + beyond))
    gradient = derivative * slope - normal[0] / (2 * r) * q[:-1]
    return np.asarray(-gradient * (radius / (2 * math.pi * np.sqrt(product))))
