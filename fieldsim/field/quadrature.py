"""Gauss-Legendre nodes, and how many a smooth integrand with nearby singularities needs."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

__all__ = ["LADDER", "gauss_legendre", "order_needed"]

Array = NDArray[np.float64]

# The orders in use: few enough that many integrals share one, close enough to waste little.
LADDER = np.array([2, 3, 4, 5, 6, 7, 8, 10, 12, 14, 16, 20, 24, 28, 32, 40, 48, 64])


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


def order_needed(focal_sum: Array, log_error: Array | float) -> Array:
    """Return the order for which an integrand's Gauss-Legendre error falls to a given size.

    Parameters
    ----------
    focal_sum
        Half the sum of the distances from the nearest singularity to the ends of the interval,
        over the half length of the interval: the semi-axis of the ellipse of analyticity.
    log_error
        Natural logarithm of one over the error wanted, relative to the integrand's size.

    Returns
    -------
    The order as a real number, not yet rounded.

    Notes
    -----
    The error falls as rho**(-2 n), rho = a + sqrt(a*a - 1) for semi-axis a (L. N. Trefethen, "Is
    Gauss quadrature better than Clenshaw-Curtis?", SIAM Review 50 (2008) 67-87, theorem 4.5).
    """
    a = np.maximum(focal_sum, 1.0 + 1e-6)
    return np.asarray(log_error / (2.0 * np.log(a + np.sqrt(a * a - 1.0))))
