"""Quadrature over the turns of a rectangular winding, in panels along its sides.

The linkage of a winding of N turns is N times the average over its section (length x build) of the
line integral of the vector potential round a turn. Each side is cut into panels, short where a
magnet passes close, and a bend is a panel of its own, along with the side that it ends; each panel
has its own orders along the turn, through the build and along the length.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.linkage.quadrature import gauss_tensor, log_ellipse
from fieldsim.field.linkage.track import CoilInRotor
from fieldsim.wire.corners import Corners

__all__ = ["Panels", "convergence_rates", "panel_points", "panels_for"]

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Panels:
    """Pieces of the four sides of a winding, in rotor coordinates.

    Parameters
    ----------
    side
        Which side each panel is on, shape (panels,): 0 and 2 along ``side``, 1 and 3 across it.
    low, high
        Ends of the panel as fractions of the side's half length, from -1 to 1, shape (panels,);
        both 1 for the bend at its end.
    centre, half_length
        Of the panel in the middle of the build [m], shapes (panels, 3) and (panels,).
    frame
        Columns along the turn, outward through the build, along the coil axis: (panels, 3, 3).
    """

    side: NDArray[np.intp]
    low: Array = field(repr=False)
    high: Array = field(repr=False)
    centre: Array = field(repr=False)
    half_length: Array = field(repr=False)
    frame: Array = field(repr=False)

    @property
    def bent(self) -> NDArray[np.bool_]:
        """Which of them are bends, shape (panels,)."""
        return np.asarray(self.low == self.high)


def panels_for(coil: CoilInRotor, cuts: list[Array]) -> Panels:
    """Return the panels of the four sides cut at the given fractions (each from -1 to 1).

    Bends come last. A bend stands for a box of its width and depth, as long as its outermost turn.
    """
    sides, round_ = coil.sides, coil.corners is Corners.ROUND
    side = np.repeat(np.arange(4), [len(c) - 1 for c in cuts])
    low = np.concatenate([c[:-1] for c in cuts])
    high = np.concatenate([c[1:] for c in cuts])
    reach = sides.half_m[side] + (0.0 if round_ else coil.build / 2)
    middle, half_length = reach * (low + high) / 2, reach * (high - low) / 2
    if round_:
        side = np.concatenate([side, np.arange(4)])
        low, high = (np.concatenate([fractions, np.ones(4)]) for fractions in (low, high))
        middle = np.concatenate([middle, sides.half_m + coil.build / 2])
        half_length = np.concatenate([half_length, np.full(4, math.pi / 4 * coil.build)])
    frame = sides.frame.transpose(0, 2, 1)[side]
    centre = (
        sides.middle_m[side] + frame[:, :, 0] * middle[:, None] + frame[:, :, 1] * coil.build / 2
    )
    return Panels(side, low, high, centre, half_length, frame)


def panel_points(
    coil: CoilInRotor, panels: Panels, owners: list[int], orders: list[tuple[int, int, int]]
) -> tuple[Array, Array]:
    """Return quadrature points and weights of several panels.

    Parameters
    ----------
    owners
        Indices of the panels.
    orders
        Of each: along the turn, through the build, along the length.

    Returns
    -------
    points
        In rotor coordinates [m], shape (3, points).
    weights
        By the side along which the current has that part, (points, 4) [m].
    """
    tensors = [gauss_tensor(o) for o in orders]
    t, u, w, weight = np.concatenate(tensors, axis=1)
    owner = np.repeat(owners, [tensor.shape[1] for tensor in tensors])
    middle, width = (panels.low + panels.high) / 2, (panels.high - panels.low) / 2
    side, bent = panels.side[owner], panels.bent[owner]
    depth = coil.build / 2 * (1 + u)
    reach = coil.sides.half_m[side] + (0.0 if coil.corners is Corners.ROUND else depth)
    along = (middle[owner] + width[owner] * t) * reach
    length = (width / 4)[owner] * reach * weight
    part, next_part = np.ones_like(depth), np.zeros_like(depth)
    if bent.any():
        angle, radius = math.pi / 4 * (1 + t[bent]), depth[bent]
        part[bent], next_part[bent] = np.sin(angle), np.cos(angle)
        length[bent] = math.pi / 16 * radius * weight[bent]
        along[bent] += radius * next_part[bent]
        depth[bent] = radius * part[bent]
    local = np.stack([along, depth, coil.half_length * w])
    points = (panels.frame[owner] @ local.T[:, :, None])[:, :, 0].T + coil.sides.middle_m[side].T
    weights = np.zeros((len(owner), 4))
    weights[np.arange(len(owner)), side] = length * part
    weights[np.arange(len(owner)), (side + 1) % 4] += length * next_part
    return points, weights


def convergence_rates(coil: CoilInRotor, panels: Panels, singular: Array) -> Array:
    """Return how fast Gauss-Legendre converges on every panel at every angle.

    Parameters
    ----------
    singular
        Points on the magnet's edges, the integrand's only singularities, at each angle, in rotor
        coordinates [m], (angles, points, 3).

    Returns
    -------
    Shape (3, panels, angles), along the side, through the build, along the length: the error falls
    as exp(-rate * order), seen from the nearest part of the section.
    """
    local = np.einsum("pca,nqpc->apnq", panels.frame, singular[:, :, None, :] - panels.centre)
    half = np.empty((3, len(panels.side), 1, 1))
    half[0, :, 0, 0] = panels.half_length
    half[1:, :, 0, 0] = [[coil.build / 2], [coil.half_length]]
    excess = np.maximum(np.abs(local) - half, 0.0) ** 2
    across = excess.sum(axis=0) - excess
    ends = np.sqrt((local + half) ** 2 + across) + np.sqrt((local - half) ** 2 + across)
    return 2.0 * log_ellipse((ends / (2 * half)).min(axis=3))
