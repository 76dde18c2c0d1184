"""Field and magnetic scalar potential of a rectangular winding, per ampere.

A layer of turns is a current sheet round a box. Its field is that of the box magnetised along the
axis, N/length a unit of current, seen as charge on the two ends, plus that magnetisation inside. So
field and potential are closed forms of charged rectangles; only the depth of the winding is left to
quadrature. Where turns bend round their corners, the end of a layer is three rectangles and quarter
discs, whose charge over all layers is Gauss points.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.linkage.quadrature import gauss_legendre
from fieldsim.field.potential.charged_rectangle import rectangle_field, rectangle_potential
from fieldsim.machine.placed import PlacedCoil
from fieldsim.wire.corners import Corners

__all__ = ["in_coil_axes", "winding_field", "winding_potential"]

Array = NDArray[np.float64]

_POINTS = 20_000  # at once, times layers or points on corners
_MORE_ON_DISCS = 5  # points each way on a quarter disc than layers


def in_coil_axes(coil: PlacedCoil, points: Array) -> Array:
    """Return points (n, 3) as a coil sees them, from its middle: side, other side, axis [m]."""
    return np.asarray((points - np.array(coil.centre)) @ coil.frame)


@dataclass(frozen=True, eq=False)
class _Ends:
    """Charge on an end of a winding, one for each area within each turn, as a share of all turns.

    Parameters
    ----------
    rectangles
        Places along the side, and half sides, of the rectangles of each layer, (layers, 1).
    share
        Of each layer, (layers, 1).
    points, charge
        Of the corners, (points, 2) and (points,).
    """

    rectangles: list[tuple[Array, Array, Array]]
    share: Array
    points: Array
    charge: Array

    def potential(self, x: Array, y: Array, z: Array) -> Array:
        """Return the integral of charge / (4 pi R) at points from the middle of the end, (n,)."""
        found = [rectangle_potential(x - at, y, z, a, b) for at, a, b in self.rectangles]
        total = (self.share * sum(found)).sum(axis=0)
        if len(self.charge):
            across = self._across(x, y)
            total += (1 / np.sqrt((across**2).sum(axis=-1) + z[:, None] ** 2)) @ self.charge
        return np.asarray(total)

    def field(self, x: Array, y: Array, z: Array) -> Array:
        """Return minus the gradient of the potential, (3, n)."""
        found = [rectangle_field(x - at, y, z, a, b) for at, a, b in self.rectangles]
        total = np.array(
            [(self.share * sum(part)).sum(axis=0) for part in zip(*found, strict=True)]
        )
        if len(self.charge):
            across = self._across(x, y)
            pull = self.charge / ((across**2).sum(axis=-1) + z[:, None] ** 2) ** 1.5
            total[:2] += np.einsum("npc,np->cn", across, pull)
            total[2] += z * pull.sum(axis=1)
        return total

    def _across(self, x: Array, y: Array) -> Array:
        return np.asarray(np.stack([x, y], axis=-1)[:, None] - self.points)


def _ends(coil: PlacedCoil, order: int) -> _Ends:
    """Return the charge on an end, with some layers of turns."""
    x, w = gauss_legendre(order)
    depth, share = coil.build * (x + 1)[:, None] / 2, w[:, None] / 2
    a, b = (side / 2 + np.zeros_like(depth) for side in coil.opening)
    if coil.corners is Corners.SHARP:
        whole = [(np.zeros_like(depth), a + depth, b + depth)]
        return _Ends(whole, share, np.empty((0, 2)), np.empty(0))
    beside = [(sign * (a + depth / 2), depth / 2, b) for sign in (1.0, -1.0)]
    middle = (np.zeros_like(depth), a, b + depth)
    # At a distance from the corner there are the turns that lie farther out.
    n = order + _MORE_ON_DISCS
    (r, wr), (t, wt) = gauss_legendre(n), gauss_legendre(n)
    radius, angle = coil.build * (r + 1) / 2, math.pi / 4 * (t + 1)
    turns = (1 - radius / coil.build) * radius * coil.build / 2 * wr
    charge = np.outer(turns, math.pi / 4 * wt).ravel() / (4 * math.pi)
    disc = np.stack([np.outer(radius, np.cos(angle)), np.outer(radius, np.sin(angle))], axis=-1)
    corner = np.array(coil.opening) / 2 + disc.reshape(-1, 2)
    signs = np.array([(1, 1), (-1, 1), (-1, -1), (1, -1)])
    points = (signs[:, None] * corner).reshape(-1, 2)
    return _Ends([middle, *beside], share, points, np.tile(charge, 4))


def winding_field(coil: PlacedCoil, points: Array, layers: int) -> Array:
    """Return the field of one ampere in a winding [A/m], (n, 3).

    Parameters
    ----------
    coil
        The winding.
    points
        Not in the winding itself [m], (n, 3).
    layers
        Quadrature through the build.

    Examples
    --------
    In the middle of a long thin coil it is turns over length.

    >>> coil = PlacedCoil("c", (0, 0, 0), (0, 0, 1), (1, 0, 0), (0.01, 0.01), 1.0, 1e-4, 500)
    >>> winding_field(coil, np.zeros((1, 3)), 2).round(0).tolist()
    [[0.0, 0.0, 500.0]]
    """
    half, ends = coil.length / 2, _ends(coil, layers)
    a, b = (side / 2 for side in coil.opening)
    inside = in_coil_axes(coil, points)
    total = np.zeros((3, len(points)))
    step = _at_once(ends)
    for first in range(0, len(points), step):
        x, y, z = inside[first : first + step].T
        part = total[:, first : first + step]
        part += ends.field(x, y, z - half) - ends.field(x, y, z + half)
        # Outside the winding a point is within all turns or none.
        enclosed = (np.abs(x) <= a) & (np.abs(y) <= b)
        part[2] += enclosed * 0.5 * (np.sign(z + half) - np.sign(z - half))
    return np.asarray(coil.turns / coil.length * (coil.frame @ total).T)


def winding_potential(
    coil: PlacedCoil, points: Array, layers: int, through: NDArray[np.bool_]
) -> Array:
    """Return the magnetic scalar potential of one ampere in a winding [A], (n,).

    Parameters
    ----------
    coil, points, layers
        As for `winding_field`.
    through
        Whether each point belongs to a piece in the opening, (n,). Going once round the wire of
        the winding changes the potential by the turns, so it has a cut: outside the winding for
        such a piece, in the opening for all others.
    """
    half, ends = coil.length / 2, _ends(coil, layers)
    inside = in_coil_axes(coil, points)
    total = np.empty(len(points))
    step = _at_once(ends)
    for first in range(0, len(points), step):
        x, y, z = inside[first : first + step].T
        found = ends.potential(x, y, z - half) - ends.potential(x, y, z + half)
        total[first : first + step] = found
    total[through] -= np.clip(inside[through, 2], -half, half)
    return np.asarray(coil.turns / coil.length * total)


def _at_once(ends: _Ends) -> int:
    """Return how many points are laid out at once, to bound memory."""
    return max(1, _POINTS // max(len(ends.share), len(ends.charge)))
