"""Sums over points of weights times waves about the shaft."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["summed_waves"]

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]

_THREADLESS = 250_000  # multiplications; OpenBLAS shares out products from 262144 on
_BLOCK = 100  # rows or orders: at least as many points go into each product, about
_AT_ONCE = 4_000_000  # waves at points, of two real numbers each


def summed_waves(
    for_cosines: Array, for_sines: Array, phase: Complex, orders: int
) -> tuple[Array, Array]:
    """Return the sums over points of weights times cos(m phi) and of others times sin(m phi).

    Parameters
    ----------
    for_cosines, for_sines
        Weights, shapes (rows, points) each.
    phase
        exp(i phi) of every point, (points,).
    orders
        How many: m = 0..orders - 1.

    Returns
    -------
    Shapes (rows, orders) each.

    Examples
    --------
    >>> weights = np.array([[1.0, 2.0]])
    >>> c, s = summed_waves(weights, weights, np.array([1.0, 1j]), 3)
    >>> c.tolist(), s.tolist()
    ([[3.0, 1.0, -1.0]], [[0.0, 2.0, 0.0]])
    """
    # All waves at all points may be more than the memory holds.
    step = max(1, _AT_ONCE // orders)
    cosines, sines = np.zeros((len(for_cosines), orders)), np.zeros((len(for_sines), orders))
    for start in range(0, len(phase), step):
        part = slice(start, start + step)
        c, s = _waves(phase[part], orders)
        cosines += _product(for_cosines[:, part], c)
        sines += _product(for_sines[:, part], s)
    return cosines, sines


def _waves(phase: Complex, orders: int) -> tuple[Array, Array]:
    """Return the real and imaginary parts of phase**m for m = 0..orders - 1, (orders, points)."""
    c, s = np.empty((orders, len(phase))), np.empty((orders, len(phase)))
    c[0], s[0] = 1.0, 0.0
    known, step = 1, phase
    while known < orders:
        more = min(known, orders - known)
        a, b = step.real, step.imag  # of phase**known
        c[known : known + more] = c[:more] * a - s[:more] * b
        s[known : known + more] = s[:more] * a + c[:more] * b
        known += more
        step = step * step
    return c, s


def _product(left: Array, right: Array) -> Array:
    """Return left @ right.T over their points, in products too small to be shared out to threads.

    Threads that wait for each other on a busy machine take a hundred times as long.
    """
    total = np.empty((len(left), len(right)))
    for i in range(0, len(left), _BLOCK):
        for j in range(0, len(right), _BLOCK):
            block = total[i : i + _BLOCK, j : j + _BLOCK]
            block[:] = _small_product(left[i : i + _BLOCK], right[j : j + _BLOCK])
    return total


def _small_product(left: Array, right: Array) -> Array:
    rows, points = left.shape
    orders = len(right)
    step = _THREADLESS // (rows * orders)
    whole = points // step * step
    total = left[:, whole:] @ right[:, whole:].T
    if whole:
        a = left[:, :whole].reshape(rows, -1, step).transpose(1, 0, 2)
        b = right[:, :whole].reshape(orders, -1, step).transpose(1, 2, 0)
        total = total + (a @ b).sum(axis=0)
    return np.asarray(total)
