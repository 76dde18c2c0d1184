"""Quadrature over the turns of a rectangular winding, with orders fitted to the magnet's distance.

The linkage of a winding of N turns is N times the average over its section (length x build) of the
line integral of the vector potential round a rectangle. Each side is cut into panels, short where
a magnet passes close. For every pair of panel and angle the orders along the side, through the
build and along the length are set by where the magnet's edges, the integrand's only singularities,
lie relative to the panel.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.quadrature import LADDER, gauss_legendre, order_needed
from fieldsim.field.track import CoilInRotor

__all__ = ["Panels", "orders_for", "panel_points", "panels_for"]

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Panels:
    """Pieces of the four sides of a winding, in rotor coordinates.

    Parameters
    ----------
    side
        Which side each panel is on, shape (panels,): 0 and 2 along ``side``, 1 and 3 across it.
    low, high
        Ends of the panel as fractions of the side's half length, from -1 to 1, shape (panels,).
    centre, half_length
        Of the panel in the middle of the build [m], shapes (panels, 3) and (panels,).
    frame
        Columns along the turn, outward through the build, along the coil axis: (panels, 3, 3).
    """

    side: NDArray[np.intp]
    low: Array
    high: Array
    centre: Array
    half_length: Array
    frame: Array


def _side_frames(coil: CoilInRotor) -> Array:
    """Return (4, 3, 3): columns turn direction, outward, coil axis, for each side."""
    s, o, a = coil.frame.T
    return np.array([[s, -o, a], [o, s, a], [-s, o, a], [-o, -s, a]]).transpose(0, 2, 1)


def _side_halves(coil: CoilInRotor) -> tuple[Array, Array]:
    """Return half length and distance from the coil's centre of the inner edges, shape (4,)."""
    a, b = coil.half_opening
    return np.array([a, b, a, b]), np.array([b, a, b, a])


def panels_for(coil: CoilInRotor, cuts: list[Array]) -> Panels:
    """Return the panels of the four sides cut at the given fractions (each from -1 to 1)."""
    side = np.repeat(np.arange(4), [len(c) - 1 for c in cuts])
    low = np.concatenate([c[:-1] for c in cuts])
    high = np.concatenate([c[1:] for c in cuts])
    half, offset = _side_halves(coil)
    frame = _side_frames(coil)[side]
    reach = half[side] + coil.build / 2
    centre = (
        coil.centre
        + frame[:, :, 0] * (reach * (low + high) / 2)[:, None]
        + frame[:, :, 1] * (offset[side] + coil.build / 2)[:, None]
    )
    return Panels(side, low, high, centre, reach * (high - low) / 2, frame)


def panel_points(
    coil: CoilInRotor, panels: Panels, orders: tuple[int, int, int]
) -> tuple[Array, Array]:
    """Return quadrature points and weights of all panels.

    Parameters
    ----------
    orders
        Along the side, through the build, along the length.

    Returns
    -------
    points
        In rotor coordinates [m], shape (3, panels, points).
    weights
        Shape (panels, points) [m]; their sum over all panels is the mean turn length.
    """
    t_nodes, t_weights = gauss_legendre(orders[0])
    u_nodes, u_weights = gauss_legendre(orders[1])
    w_nodes, w_weights = gauss_legendre(orders[2])
    half, offset = _side_halves(coil)
    depth = coil.build / 2 * (1 + u_nodes)
    middle, width = (panels.low + panels.high) / 2, (panels.high - panels.low) / 2
    along = middle[:, None] + width[:, None] * t_nodes  # (panels, n_t)
    reach = half[panels.side][:, None] + depth  # (panels, n_u)
    t = along[:, :, None] * reach[:, None, :]  # (panels, n_t, n_u)
    out = offset[panels.side][:, None] + depth  # (panels, n_u)
    frame = panels.frame.transpose(1, 2, 0)[..., None, None]  # (3, 3, panels, 1, 1)
    flat = coil.centre[:, None, None, None] + frame[:, 0] * t + frame[:, 1] * out[:, None, :]
    up = coil.frame[:, 2][:, None] * (coil.half_length * w_nodes)  # (3, n_w)
    points = flat[..., None] + up[:, None, None, None, :]
    weights = (width[:, None] * t_weights)[:, :, None] * (reach * (u_weights / 2))[:, None, :]
    n = len(panels.side)
    return points.reshape(3, n, -1), (weights[..., None] * (w_weights / 2)).reshape(n, -1)


def orders_for(
    coil: CoilInRotor, panels: Panels, singular: Array, log_error: Array, crowding: float
) -> NDArray[np.intp]:
    """Return indices into `LADDER` of the orders that every panel and angle needs.

    Parameters
    ----------
    singular
        Points on the magnet's edges at each angle, in rotor coordinates [m], (angles, points, 3).
    log_error
        Natural logarithm of one over the relative error wanted, (panels, angles).
    crowding
        How far out in the section the singularities are looked at from, 0 (its middle, which is
        what rough results depend on) to 1 (its skin, which rules the last digits).

    Returns
    -------
    Shape (3, panels, angles): along the side, through the build, along the length.
    """
    local = np.einsum("pca,nqpc->apnq", panels.frame, singular[:, :, None, :] - panels.centre)
    half_t = panels.half_length[:, None, None]
    excess = [
        np.maximum(np.abs(local[0]) - half_t, 0.0) ** 2,
        np.maximum(np.abs(local[1]) - crowding * coil.build / 2, 0.0) ** 2,
        np.maximum(np.abs(local[2]) - crowding * coil.half_length, 0.0) ** 2,
    ]
    result = np.empty((3, *log_error.shape), dtype=np.intp)
    for d, half in enumerate((half_t, coil.build / 2, coil.half_length)):
        across = excess[(d + 1) % 3] + excess[(d + 2) % 3]
        ends = np.sqrt((local[d] + half) ** 2 + across) + np.sqrt((local[d] - half) ** 2 + across)
        order = order_needed((ends / (2 * half)).min(axis=2), log_error - (3.0 if d == 2 else 0.0))
        result[d] = np.minimum(np.searchsorted(LADDER, order), len(LADDER) - 1)
    return result
