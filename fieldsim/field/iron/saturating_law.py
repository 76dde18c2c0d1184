"""How iron takes up flux less easily the more it carries: one law, with what follows from it."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["field_energy", "field_stiffness", "left_share", "taken_up_share"]

Array = NDArray[np.float64]

_NEARLY_NONE = 1e-4  # of the saturation: below it two terms have more digits than the logarithm


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


def taken_up_share(field_T: Array, susceptibility: Array, saturation_T: Array) -> Array:
    """Return the susceptibility as M/H in a field, as a share of that in weak fields.

    Parameters
    ----------
    field_T
        mu0 H, its size [T]; all shapes broadcast.
    susceptibility, saturation_T
        As for `field_stiffness`.

    Examples
    --------
    >>> float(taken_up_share(np.array(0.004), np.array(500.0), np.array(2.0)))
    0.5
    """
    return np.asarray(1.0 / (1.0 + susceptibility * field_T / saturation_T))


def field_energy(polarization_T: Array, susceptibility: Array, saturation_T: Array) -> Array:
    """Return the integral of mu0 H over mu0 M, from none [T2].

    Parameters
    ----------
    polarization_T, susceptibility, saturation_T
        As for `field_stiffness`.

    Notes
    -----
    (Ms^2/chi) (-ln(1 - u) - u), u being M/Ms; infinite from the saturation on.

    Examples
    --------
    >>> float(field_energy(np.array(2.0), np.array(4.0), np.array(np.inf)))
    0.5
    """
    u = polarization_T / saturation_T
    few, past = u < _NEARLY_NONE, u >= 1.0
    safe = np.where(few | past, 0.5, u)
    shape = np.where(few, 0.5 + u / 3, (-np.log1p(-safe) - safe) / safe**2)
    return np.where(past, np.inf, polarization_T**2 / susceptibility * shape)
