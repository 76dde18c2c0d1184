"""Sampling Fourier series at equal steps."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["sample_series"]


def sample_series(harmonics: NDArray[np.complex128], count: int) -> NDArray[np.float64]:
    """Return a Fourier series c_0 + 2 Re sum c_k exp(i k t) at ``count`` equal steps of a turn.

    Parameters
    ----------
    harmonics
        c_k along the last axis, k = 0..K.
    count
        Number of samples; with fewer than 2 K + 1 the values are still exact.

    Examples
    --------
    >>> import numpy as np
    >>> sample_series(np.array([1.0 + 0j, 0.5, 0, 0.5]), 4).round(12).tolist()
    [3.0, 1.0, -1.0, 1.0]
    """
    orders = harmonics.shape[-1]
    if count > 2 * (orders - 1):
        return np.asarray(np.fft.irfft(harmonics, count, axis=-1) * count)
    # Equal steps cannot tell order k from k + count, so folding the orders loses nothing.
    folded = np.zeros((*harmonics.shape[:-1], count), dtype=np.complex128)
    for first in range(0, orders, count):
        part = harmonics[..., first : first + count]
        folded[..., : part.shape[-1]] += part
    values = np.fft.ifft(folded, axis=-1) * count
    return np.asarray(2.0 * values.real - harmonics[..., :1].real)
