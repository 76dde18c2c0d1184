"""How iron takes up flux less easily the more it carries: one law, with what follows from it."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["field_stiffness", "left_share"]

Array = NDArray[np.float64]


def left_share(polarization_T: ArrayLike, saturation_T: ArrayLike) -> Array:
    """Return what is left of the susceptibility as M/H, as a share of that in weak fields.

    Parameters
    ----------
    polarization_T
        Its size [T].
    saturation_T
        Which it cannot pass; infinite for iron without [T].

    Notes
    -----
    By a curve that goes from the material's permeability to its saturation,
    M = chi H/(1 + chi H/Ms) (A. Froelich, Elektrotechnische Zeitschrift 2, 1881, from memory), it
    is 1 - M/Ms.

    Examples
    --------
    >>> float(left_share(1.5, 2.0))
    0.25
    """
    return np.asarray(1.0 - np.asarray(polarization_T) / saturation_T)


def field_stiffness(
    polarization_T: Array, susceptibility: Array, saturation_T: Array
) -> tuple[Array, Array]:
    """Return by how much field grows with polarisation, across it and along it.

    Parameters
    ----------
    polarization_T, saturation_T
        As for `left_share`; all shapes broadcast.
    susceptibility
        In weak fields.

    Returns
    -------
    tuple of ndarray
        d(mu0 H)/d(mu0 M) at right angles to the polarisation, and along it.

    Examples
    --------
    >>> [float(x) for x in field_stiffness(np.array(1.0), np.array(500.0), np.array(2.0))]
    [0.004, 0.008]
    """
    left = left_share(polarization_T, saturation_T)
    across = 1.0 / (susceptibility * left)
    return across, across / left
