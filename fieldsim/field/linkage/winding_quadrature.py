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

__all__ = ["Panels", "convergence_rates", "divided_panels", "panel_points", "panels_for"]

Array = NDArray[np.float64]

_FAR = 4.0  # sizes beside distances; Gauss-Legendre then takes some ten points
_MOST_PANELS = 250


@dataclass(frozen=True, eq=False)
class Panels:
    """Pieces of the four sides of a winding, in rotor coordinates.

    Parameters
    ----------
    side
        Which side each panel is on, shape (panels,): 0 and 2 along ``side``, 1 and 3 across it.
    bent
        Which of them are bends at the ends of their sides, or pieces of bends, shape (panels,).
    low, high
        Where the panel begins and ends: along the side in parts of its half length, from -1 to 1,
        or round the bend, from -1 where the next side begins to 1; through the build in parts of
        it, from 0 to 1; along the coil in parts of its half length, from -1 to 1. Shape
        (3, panels).
    centre, half_m
        Of the panel, in the middle of its build [m], shapes (panels, 3) and (3, panels).
    frame
        Columns along the turn, outward through the build, along the coil axis: (panels, 3, 3).
    """

    side: NDArray[np.intp]
    bent: NDArray[np.bool_] = field(repr=False)
    low: Array = field(repr=False)
    high: Array = field(repr=False)
    centre: Array = field(repr=False)
    half_m: Array = field(repr=False)
    frame: Array = field(repr=False)


def panels_for(coil: CoilInRotor, cuts: list[Array]) -> Panels:
    """Return the panels of the four sides cut at the given fractions (each from -1 to 1).

    Bends come last. A bend stands for a box of its width and depth, as long as its outermost turn.
    """
    side = np.repeat(np.arange(4), [len(c) - 1 for c in cuts])
    low = np.zeros((3, len(side)))
    high = np.ones((3, len(side)))
    low[0] = np.concatenate([c[:-1] for c in cuts])
    high[0] = np.concatenate([c[1:] for c in cuts])
    low[2] = -1.0
    bent = np.zeros(len(side), dtype=np.bool_)
    if coil.corners is Corners.ROUND:
        side, bent = np.concatenate([side, np.arange(4)]), np.append(bent, [True] * 4)
        low = np.column_stack([low, *([[-1.0, 0.0, -1.0]] * 4)])
        high = np.column_stack([high, *([[1.0, 1.0, 1.0]] * 4)])
    return _panels(coil, side, bent, low, high)


def _panels(
    coil: CoilInRotor, side: NDArray[np.intp], bent: NDArray[np.bool_], low: Array, high: Array
) -> Panels:
    frame = coil.sides.frame.transpose(0, 2, 1)[side]
    middle = (low + high) / 2
    straight = coil.sides.half_m[side]
    reach = straight if coil.corners is Corners.ROUND else straight + middle[1] * coil.build
    size = np.stack([reach, np.full_like(reach, coil.build), np.full_like(reach, coil.half_length)])
    local, half = middle * size, size * (high - low) / 2
    # A piece of a bend stands on its own direction, a whole bend on its side's.
    radius, angle = local[1], math.pi / 4 * (1 + middle[0])
    piece = bent & (high[0] - low[0] < 2.0)
    cosine, sine = (np.where(piece, part, 1.0) for part in (np.cos(angle), np.sin(angle)))
    local[0] = np.where(bent, straight + radius * cosine, local[0])
    local[1] = np.where(bent, radius * sine, radius)
    turned = math.pi / 8 * (high[0] - low[0])
    half[0] = np.where(bent, turned * high[1] * coil.build, half[0])
    centre = coil.sides.middle_m[side] + np.einsum("pck,kp->pc", frame, local)
    along, outward = frame[piece, :, 0], frame[piece, :, 1]
    c, s = cosine[piece, None], sine[piece, None]
    frame[piece, :, 0], frame[piece, :, 1] = s * along - c * outward, c * along + s * outward
    return Panels(side, bent, low, high, centre, half, frame)


def divided_panels(coil: CoilInRotor, panels: Panels, singular: Array, least_m: float) -> Panels:
    """Return the panels, those in pieces that are far too large beside their distance.

    Parameters
    ----------
    singular
        Points on the magnet's edges at all angles, in rotor coordinates [m], (points, 3).
    least_m
        Distances below it count as this.

    Notes
    -----
    Sizes then grow with distance, so that a winding of metres beside a magnet of millimetres takes
    a few points for each of some pieces.
    """
    side, bent, low, high = panels.side, panels.bent, panels.low, panels.high
    while len(side) <= _MOST_PANELS:
        made = _panels(coil, side, bent, low, high)
        size = 2 * made.half_m
        longest = size.argmax(axis=0)
        far = np.maximum(_distances_m(made, singular), least_m)
        divide = size.max(axis=0) > _FAR * far
        if not divide.any():
            break
        which = np.nonzero(divide)[0]
        middle = (low + high)[longest[which], which] / 2
        upper_low, lower_high = low[:, which].copy(), high.copy()
        upper_low[longest[which], np.arange(len(which))] = middle
        lower_high[longest[which], which] = middle
        side, bent = (np.concatenate([of, of[which]]) for of in (side, bent))
        low = np.concatenate([low, upper_low], axis=1)
        high = np.concatenate([lower_high, high[:, which]], axis=1)
    return _panels(coil, side, bent, low, high)


def _distances_m(panels: Panels, singular: Array) -> Array:
    """Return how near any of some points comes to each panel, (panels,)."""
    found = np.empty(len(panels.side))
    for p in range(len(found)):
        local = np.abs((singular - panels.centre[p]) @ panels.frame[p])
        beyond = np.maximum(local - panels.half_m[:, p], 0.0)
        found[p] = math.sqrt(float((beyond * beyond).sum(axis=1).min()))
    return found


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
    fraction = middle[:, owner] + width[:, owner] * np.stack([t, u, w])
    depth, straight = coil.build * fraction[1], coil.sides.half_m[side]
    reach = straight if coil.corners is Corners.ROUND else straight + depth
    along = fraction[0] * reach
    part, next_part = np.ones_like(depth), np.zeros_like(depth)
    if bent.any():
        angle, radius = math.pi / 4 * (1 + fraction[0, bent]), depth[bent]
        part[bent], next_part[bent] = np.sin(angle), np.cos(angle)
        reach = np.where(bent, math.pi / 4 * depth, reach)
        along[bent] = straight[bent] + radius * next_part[bent]
        depth[bent] = radius * part[bent]
    # Depths run over one, rises over two: their weights are a mean over the section.
    length = weight * (width[0] * width[1] * width[2] / 2)[owner] * reach
    local = np.stack([along, depth, coil.half_length * fraction[2]])
    frame = coil.sides.frame.transpose(0, 2, 1)[side]
    points = (frame @ local.T[:, :, None])[:, :, 0].T + coil.sides.middle_m[side].T
    weights = np.zeros((len(owner), 4))
    weights[np.arange(len(owner)), side] = length * part
    weights[np.arange(len(owner)), (side + 1) % 4] += length * next_part
    return points, weights


def convergence_rates(panels: Panels, singular: Array) -> Array:
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
    half = panels.half_m[:, :, None, None]
    excess = np.maximum(np.abs(local) - half, 0.0) ** 2
    across = excess.sum(axis=0) - excess
    ends = np.sqrt((local + half) ** 2 + across) + np.sqrt((local - half) ** 2 + across)
    return 2.0 * log_ellipse((ends / (2 * half)).min(axis=3))
