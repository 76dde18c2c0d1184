"""Field and magnetic scalar potential of a rectangular winding, per ampere.

A layer of turns is a current sheet round a box. Its field is that of the box magnetised along the
axis, N/length a unit of current, seen as charge on the two ends, plus that magnetisation inside. So
field and potential are closed forms of charged rectangles; only the depth of the winding is left to
quadrature.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.linkage.quadrature import gauss_legendre
from fieldsim.field.potential.charged_rectangle import rectangle_field, rectangle_potential
from fieldsim.machine.placed import PlacedCoil

__all__ = ["in_coil_axes", "winding_field", "winding_potential"]

Array = NDArray[np.float64]

_POINTS = 20_000  # at once, times layers


def in_coil_axes(coil: PlacedCoil, points: Array) -> Array:
    """Return points (n, 3) as a coil sees them, from its middle: side, other side, axis [m]."""
    return np.asarray((points - np.array(coil.centre)) @ coil.frame)


def _layers(coil: PlacedCoil, order: int) -> tuple[Array, Array, Array]:
    """Return the half sides of layers of turns and the share of each, (layers, 1)."""
    x, w = gauss_legendre(order)
    depth = coil.build * (x + 1)[:, None] / 2
    return coil.opening[0] / 2 + depth, coil.opening[1] / 2 + depth, w[:, None] / 2


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
    half, (a, b, share) = coil.length / 2, _layers(coil, layers)
    inside = in_coil_axes(coil, points)
    total = np.zeros((3, len(points)))
    step = max(1, _POINTS // layers)
    for first in range(0, len(points), step):
        x, y, z = inside[first : first + step].T
        part = total[:, first : first + step]
        for end, sign in ((half, 1.0), (-half, -1.0)):
            for i, found in enumerate(rectangle_field(x, y, z - end, a, b)):
                part[i] += sign * (share * found).sum(axis=0)
        enclosed = (0.5 + 0.5 * np.sign(a - np.abs(x))) * (0.5 + 0.5 * np.sign(b - np.abs(y)))
        between = 0.5 * (np.sign(z + half) - np.sign(z - half))
        part[2] += between * (share * enclosed).sum(axis=0)
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
    half, (a, b, share) = coil.length / 2, _layers(coil, layers)
    inside = in_coil_axes(coil, points)
    total = np.empty(len(points))
    step = max(1, _POINTS // layers)
    for first in range(0, len(points), step):
        x, y, z = inside[first : first + step].T
        above, below = (rectangle_potential(x, y, z - e, a, b) for e in (half, -half))
        total[first : first + step] = (share * (above - below)).sum(axis=0)
    total[through] -= np.clip(inside[through, 2], -half, half)
    return np.asarray(coil.turns / coil.length * total)
