"""Curves joined from cubics, each through two values with their slopes."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

__all__ = ["joined_by_cubics"]

Array = NDArray[np.float64]


def joined_by_cubics(knots: Array, values: Array, slopes: Array) -> Callable[[Array], Array]:
    """Return the curves that have given values and slopes at the knots, cubic between them.

    Parameters
    ----------
    knots
        Rising, (knots,).
    values, slopes
        One row for each curve, (curves, knots).

    Returns
    -------
    callable
        From places (n,) to values (curves, n); outside, the first and the last cubic go on.

    Notes
    -----
    Hermite's cubic: exact for a polynomial of third degree; of another smooth curve it misses the
    fourth power of the step times the fourth derivative over 384.

    Examples
    --------
    >>> x = np.array([0.0, 1.0, 3.0])
    >>> curve = joined_by_cubics(x, (x**3)[None], (3 * x**2)[None])
    >>> curve(np.array([0.5, 2.0])).tolist()
    [[0.125, 8.0]]
    """
    step = np.diff(knots)
    rise = np.diff(values, axis=-1) / step
    bend = (slopes[:, :-1] + slopes[:, 1:] - 2 * rise) / step
    third, second = bend / step, (rise - slopes[:, :-1]) / step - bend

    def curve(places: Array) -> Array:
        piece = np.clip(np.searchsorted(knots, places, side="right") - 1, 0, len(step) - 1)
        x = places - knots[piece]
        square = x * x
        return np.asarray(
            values[:, piece]
            + slopes[:, piece] * x
            + second[:, piece] * square
            + third[:, piece] * (square * x)
        )

    return curve
