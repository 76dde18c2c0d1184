"""Fourier series of periodic curves, followed through a repeat in which they turn whole turns."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["fourier_walk", "two_sided"]

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]
Orders = NDArray[np.int64]


def two_sided(samples: Array) -> tuple[Complex, Orders]:
    """Return c_k of ``sum c_k exp(i k angle)``, and k, from equal steps of a turn.

    Parameters
    ----------
    samples
        Shape (steps, curves).

    Returns
    -------
    tuple of ndarray
        Coefficients, shape (steps, curves), and their orders of both signs, shape (steps,).

    Examples
    --------
    >>> angle = 2 * np.pi * np.arange(4) / 4
    >>> coefficients, orders = two_sided(np.cos(angle)[:, None])
    >>> orders.tolist(), abs(coefficients[:, 0]).round(12).tolist()
    ([0, 1, -2, -1], [0.0, 0.5, 0.0, 0.5])
    """
    count = len(samples)
    orders = np.rint(np.fft.fftfreq(count, 1 / count)).astype(np.int64)
    return np.asarray(np.fft.fft(samples, axis=0) / count), orders


def fourier_walk(coefficients: Complex, orders: Orders, count: int) -> Array:
    """Return the real part of ``sum c exp(2 pi i m s)`` at ``count`` equal steps of s from 0 to 1.

    Parameters
    ----------
    coefficients
        Shape (orders, curves).
    orders
        The whole number m of each, shape (orders,), in any order and as often as need be: for an
        angle that makes n turns while s goes from 0 to 1, order k of its series has m = n k.
    count
        Number of steps; steps too wide for a wave still give its exact values.

    Returns
    -------
    ndarray
        Shape (count, curves).

    Examples
    --------
    >>> fourier_walk(np.array([[1.0 + 0j], [0.5]]), np.array([0, 2]), 4).round(12).ravel().tolist()
    [1.5, 0.5, 1.5, 0.5]
    """
    # Equal steps cannot tell order m from m + count, so folding the orders loses nothing.
    folded = np.zeros((count, coefficients.shape[1]), dtype=np.complex128)
    np.add.at(folded, orders % count, coefficients)
    return np.asarray(np.fft.ifft(folded, axis=0).real * count)
