"""Sums over points of weights times waves about the shaft."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

__all__ = ["few_at_once", "summed_waves"]

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]

_THREADLESS = 250_000  # multiplications; OpenBLAS shares out products from 262144 on
_BLOCK = 100  # rows or orders: at least as many points go into each product, about
_FEWEST = 128  # points at once, however many the orders
_AT_ONCE = 64_000  # waves at points: together with their parts, 2 MB
_WEIGHTS = 1_000_000  # at once


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
    # The same small arrays are written over: fresh large ones cost more than what is done in them.
    step = min(max(_FEWEST, _AT_ONCE // orders), len(phase))
    cosines, sines = np.zeros((len(for_cosines), orders)), np.zeros((len(for_sines), orders))
    waves, split = np.empty((orders, step), dtype=np.complex128), np.empty((2, orders, step))
    for start in range(0, len(phase), step):
        part = slice(start, min(start + step, len(phase)))
        at = slice(0, part.stop - start)
        _fill(waves[:, at], phase[part])
        np.copyto(split[0, :, at], waves[:, at].real)
        np.copyto(split[1, :, at], waves[:, at].imag)
        cosines += _product(for_cosines[:, part], split[0, :, at])
        sines += _product(for_sines[:, part], split[1, :, at])
    return cosines, sines


def _fill(waves: Complex, phase: Complex) -> None:
    """Set waves to phase**m for m = 0..orders - 1, (orders, points)."""
    waves[0] = 1.0
    known, step = 1, phase
    while known < len(waves):
        more = min(known, len(waves) - known)
        np.multiply(waves[:more], step, out=waves[known : known + more])
        known += more
        step = step * step  # phase**known


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


def few_at_once(points: int, rows: int) -> Iterator[slice]:
    """Yield slices of points, so few at a time that their weights in all rows need no memory."""
    step = max(1, _WEIGHTS // rows)
    for start in range(0, points, step):
        yield slice(start, start + step)
