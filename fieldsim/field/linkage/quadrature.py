"""Gauss-Legendre nodes, and how many a smooth integrand with nearby singularities needs."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "LADDER",
    "chebyshev",
    "gauss_legendre",
    "gauss_tensor",
    "ladder_index",
    "lagrange",
    "lagrange_of_gauss",
    "log_ellipse",
]

Array = NDArray[np.float64]

# The orders in use: every one where it matters, then close enough to waste little.
LADDER = np.array([*range(1, 17), 18, 20, 22, 24, 28, 32, 36, 40, 48, 56, 64, 80, 96])
_DEGREE = 2.0 * LADDER
_SMOOTHNESS = np.log(np.maximum(_DEGREE * (_DEGREE - 1) * (_DEGREE - 2) * (_DEGREE - 3) / 6.0, 1.0))


@lru_cache(maxsize=128)
def gauss_legendre(order: int) -> tuple[Array, Array]:
    """Return nodes and weights on [-1, 1], each of shape (order,), read-only.

    Examples
    --------
    >>> nodes, weights = gauss_legendre(3)
    >>> round(float(weights @ nodes**4), 12)  # exact up to degree 5
    0.4
    """
    nodes, weights = np.polynomial.legendre.leggauss(order)
    nodes.flags.writeable = weights.flags.writeable = False
    return nodes, weights


@lru_cache(maxsize=512)
def gauss_tensor(orders: tuple[int, int, int]) -> Array:
    """Return nodes and weights on [-1, 1] cubed: three coordinates, then the weight, (4, points).

    Examples
    --------
    >>> float(gauss_tensor((2, 3, 1))[3].sum().round(12))
    8.0
    """
    rules = [gauss_legendre(order) for order in orders]
    result = np.empty((4, *orders))
    for axis, (nodes, _) in enumerate(rules):
        result[axis] = nodes.reshape([-1 if i == axis else 1 for i in range(3)])
    result[3] = np.einsum("t,u,w->tuw", *[weights for _, weights in rules])
    flat = result.reshape(4, -1)
    flat.flags.writeable = False
    return flat


def log_ellipse(semi_axis: Array) -> Array:
    """Return ln(rho) of the ellipse of analyticity, from the semi-axis along the interval.

    Parameters
    ----------
    semi_axis
        Half the sum of the distances from the nearest singularity to the ends of the interval,
        over the half length of the interval.

    Notes
    -----
    Gauss-Legendre's error falls as rho**(-2 n), rho = a + sqrt(a*a - 1) for semi-axis a
    (L. N. Trefethen, "Is Gauss quadrature better than Clenshaw-Curtis?", SIAM Review 50 (2008)
    67-87, theorem 4.5).
    """
    a = np.maximum(semi_axis, 1.0 + 1e-6)
    return np.asarray(np.log(a + np.sqrt(a * a - 1.0)))


def ladder_index(rate: Array, digits: Array | float) -> NDArray[np.intp]:
    """Return the first rung of `LADDER` whose order makes the error exp(-digits), at least two.

    Parameters
    ----------
    rate
        Twice `log_ellipse`, any shape.
    digits
        Natural logarithm of one over the relative error wanted; broadcasts with ``rate``.

    Notes
    -----
    The error is taken as 3! (2 n - 4)! / (2 n)! * exp(-rate * n): that of a function whose
    singularities are like r**3 ln r, which is what logarithms along edges become when they are
    averaged over two more dimensions.
    """
    won = np.multiply.outer(LADDER, rate) + _SMOOTHNESS.reshape(-1, *[1] * np.ndim(rate))
    return np.asarray(np.clip((won < digits).sum(axis=0), 1, len(LADDER) - 1))


@lru_cache(maxsize=64)
def chebyshev(order: int) -> tuple[Array, Array]:
    """Return Chebyshev's nodes on [-1, 1] and their barycentric weights, (order,), read-only.

    Examples
    --------
    >>> [round(float(x), 6) for x in chebyshev(2)[0]]
    [0.707107, -0.707107]
    """
    angle = (np.arange(order) + 0.5) * (np.pi / order)
    nodes, weights = np.cos(angle), np.sin(angle)
    weights[1::2] *= -1.0
    nodes.flags.writeable = weights.flags.writeable = False
    return nodes, weights


def lagrange(nodes: Array, points: Array, weights: Array | None = None) -> Array:
    """Return the Lagrange polynomials of nodes at points, (points, nodes).

    Parameters
    ----------
    nodes
        Of any interval.
    points
        Shape (points,).
    weights
        The nodes' barycentric weights; without them they are Gauss-Legendre's.

    Notes
    -----
    Barycentric (J.-P. Berrut, L. N. Trefethen, SIAM Review 46 (2004) 501-517, eq. 4.2; the weights
    of Legendre nodes from H. Wang, S. Xiang, Math. Comp. 81 (2012) 861-877, eq. 1.7).

    Examples
    --------
    >>> nodes = 2.0 + gauss_legendre(3)[0]
    >>> (lagrange(nodes, np.array([1.5, 2.0])) @ nodes**2).round(12).tolist()
    [2.25, 4.0]
    """
    if weights is None:
        x, quadrature = gauss_legendre(len(nodes))
        weights = np.sqrt((1.0 - x * x) * quadrature)
        weights[1::2] *= -1.0
    gap = points[:, None] - nodes
    hit = gap == 0.0
    if hit.any():
        gap[hit] = 1e-300
    terms = weights / gap
    return np.asarray(terms / terms.sum(axis=1, keepdims=True))


@lru_cache(maxsize=256)
def lagrange_of_gauss(nodes: int, points: int) -> Array:
    """Return the Lagrange polynomials of Gauss nodes at other Gauss nodes, (points, nodes).

    Of one interval, whichever that is; read-only.

    Examples
    --------
    >>> cubes = lagrange_of_gauss(4, 2) @ gauss_legendre(4)[0] ** 3
    >>> bool(np.allclose(cubes, gauss_legendre(2)[0] ** 3))
    True
    """
    found = lagrange(gauss_legendre(nodes)[0], gauss_legendre(points)[0])
    found.flags.writeable = False
    return found
