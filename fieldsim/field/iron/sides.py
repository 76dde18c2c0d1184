"""Smooth sides of a body's cross-section, with nodes that crowd towards its edges.

At an edge of iron the charge grows like a power of the distance; at a right angle and infinite
permeability like distance**(-1/3). In a parameter t whose cube is that distance, charge times dt is
smooth, and polynomials on a few equal panels of t hold it to many digits.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.linkage.quadrature import gauss_legendre

__all__ = ["Arc", "Line", "PanelNodes", "Side", "crowded", "near_rule", "panel_nodes", "uncrowded"]

Array = NDArray[np.float64]

_LOGARITHM = 1e-6  # of an interval, resolved at a point where a kernel has a logarithm
_FINEST = 1e-14  # of an interval: rounding


def crowded(t: Array, edges: tuple[bool, bool]) -> tuple[Array, Array]:
    """Return the share of a side at parameters 0 to 1, and its derivative.

    Parameters
    ----------
    t
        Any shape.
    edges
        Whether the side begins and ends at an edge, towards which nodes are to crowd.

    Examples
    --------
    >>> crowded(np.array([0.5]), (True, True))[0].tolist()
    [0.5]
    """
    first, last = edges
    if first and last:
        return t**3 * (10 - 15 * t + 6 * t * t), 30 * (t * (1 - t)) ** 2
    if last:
        return 1 - (1 - t) ** 3, 3 * (1 - t) ** 2
    if first:
        return t**3, 3 * t * t
    return t, np.ones_like(t)


def uncrowded(share: Array, edges: tuple[bool, bool]) -> Array:
    """Return the parameters at which a side has these shares, by Newton's method."""
    share = np.clip(share, 0.0, 1.0)
    if edges == (False, False):
        return share
    if not all(edges):
        return np.asarray(np.cbrt(share) if edges[0] else 1 - np.cbrt(1 - share))
    # The side is the same from either end; near one it goes like 10 t**3.
    rest = np.minimum(share, 1 - share)
    t = np.cbrt(rest / 10) * (1 + 0.36 * np.cbrt(2 * rest))
    for _ in range(4):
        value, slope = crowded(t, edges)
        t -= np.divide(value - rest, slope, out=np.zeros_like(t), where=slope > 0)
    return np.asarray(np.where(share < 0.5, t, 1 - t))


@dataclass(frozen=True)
class Line:
    """A straight side in the half-plane (distance from the axis, height), iron on its left.

    Parameters
    ----------
    start, end
        Its ends [m].
    edges
        Whether each end is an edge; the axis is none.
    """

    start: tuple[float, float]
    end: tuple[float, float]
    edges: tuple[bool, bool] = (True, True)

    @property
    def length(self) -> float:
        """Its length [m]."""
        return math.dist(self.start, self.end)

    def at(self, share: Array) -> tuple[Array, Array, Array, Array]:
        """Return r, z and the outward normal's r and z parts at shares of its length."""
        (r0, z0), (r1, z1) = self.start, self.end
        dr, dz = (r1 - r0) / self.length, (z1 - z0) / self.length
        ones = np.ones_like(share)
        # From the nearer end, so that distances from an edge keep their digits.
        near = share < 0.5
        r = np.where(near, r0 + share * (r1 - r0), r1 - (1 - share) * (r1 - r0))
        z = np.where(near, z0 + share * (z1 - z0), z1 - (1 - share) * (z1 - z0))
        return r, z, dz * ones, -dr * ones

    def nearest(self, r: Array, z: Array) -> Array:
        """Return the share of its length at which it is nearest to points."""
        (r0, z0), (r1, z1) = self.start, self.end
        along = (r - r0) * (r1 - r0) + (z - z0) * (z1 - z0)
        return np.asarray(np.clip(along / self.length**2, 0.0, 1.0))


@dataclass(frozen=True)
class Arc:
    """Half a circle from the lower to the upper pole of a ball.

    Parameters
    ----------
    radius, height
        Of the ball, and of its middle along the axis [m].
    """

    radius: float
    height: float
    edges: tuple[bool, bool] = (False, False)

    @property
    def length(self) -> float:
        """Its length [m]."""
        return math.pi * self.radius

    def at(self, share: Array) -> tuple[Array, Array, Array, Array]:
        """Return r, z and the outward normal's r and z parts at shares of its length."""
        angle = math.pi * share
        sine, cosine = np.sin(angle), np.cos(angle)
        return self.radius * sine, self.height - self.radius * cosine, sine, -cosine

    def nearest(self, r: Array, z: Array) -> Array:
        """Return the share of its length at which it is nearest to points."""
        return np.asarray(np.arctan2(r, self.height - z) / math.pi)


Side = Line | Arc


@dataclass(frozen=True, eq=False)
class PanelNodes:
    """Nodes on a side: Gauss-Legendre on equal panels of its parameter.

    Parameters
    ----------
    t, weight
        Parameter, and the share of it that each node stands for, (nodes,).
    share, slope
        Of the side at the nodes, and its derivative by t, (nodes,).
    panels, order
        How many panels, of how many nodes.
    """

    t: Array = field(repr=False)
    weight: Array = field(repr=False)
    share: Array = field(repr=False)
    slope: Array = field(repr=False)
    panels: int
    order: int


def panel_nodes(edges: tuple[bool, bool], panels: int, order: int) -> PanelNodes:
    """Return nodes on a side that is divided into equal panels of its parameter."""
    x, w = gauss_legendre(order)
    start = np.arange(panels)[:, None] / panels
    t = (start + (x + 1) / (2 * panels)).ravel()
    share, slope = crowded(t, edges)
    return PanelNodes(t, np.tile(w / (2 * panels), panels), share, slope, panels, order)


def near_rule(
    length: Array, scale: Array, within: int = 14, beyond: int = 24
) -> tuple[Array, Array]:
    """Return quadrature from a point onwards for kernels that are almost singular there.

    Parameters
    ----------
    length
        How far to integrate, (intervals,).
    scale
        Distance over which the kernel changes at the point; zero for a logarithm, (intervals,).
    within, beyond
        Nodes up to that distance, and further on.

    Returns
    -------
    Distances from the point and weights, each (intervals, points).

    Notes
    -----
    Up to the scale in equal steps, beyond it in equal ratios.
    """
    finest = np.where(scale == 0.0, _LOGARITHM, _FINEST) * length
    scale = np.clip(scale, finest, length)[:, None]
    x, w = gauss_legendre(within)
    v, y = gauss_legendre(beyond)
    ratio = np.log(np.maximum(length, 1e-300)[:, None] / np.maximum(scale, 1e-300))
    outer = scale * np.exp(ratio * (v + 1) / 2)
    distance = np.concatenate([scale * (x + 1) / 2, outer], axis=1)
    return distance, np.concatenate([scale * w / 2, outer * ratio * y / 2], axis=1)
