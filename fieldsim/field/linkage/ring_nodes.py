"""Nodes of interpolation on the rectangles of (rho, z), as many as the magnet's nearness asks for.

One law foretells all orders: what ``n`` of them leave over is taken as ``n**-3 exp(-rate n)``, and
a margin. The rate is that of an analytic function with the magnet's edges as its nearest
singularities; power and margin are refitted by ``benchmarks/fits/ring_constants.py``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.linkage.quadrature import gauss_legendre, log_ellipse
from fieldsim.field.linkage.ring_patches import Patch

__all__ = [
    "FAR_RAD",
    "MOST_NODES",
    "Grid",
    "Nodes",
    "angular_rate",
    "finer_grid",
    "foretold_grid",
    "order_for",
]

Array = NDArray[np.float64]

FAR_RAD = math.pi / 2  # from the arm: on the far half of the turn fewer nodes do
MOST_NODES = 200
POWER = 3.0
MARGIN = 4.0  # natural digits, enough for nine in ten
_MORE = (3, 1)  # at least, from one grid to the next
_COUNTS = np.arange(1, 1025)
_GAIN = POWER * np.log(_COUNTS[:-1]) - MARGIN


def order_for(rate: float, relative: float) -> int:
    """Return the first order that most likely leaves no more than a relative error over."""
    return int(_COUNTS[np.searchsorted(rate * _COUNTS[:-1] + _GAIN, -math.log(relative))])


@dataclass(frozen=True, eq=False)
class Nodes:
    """Gauss-Legendre nodes on a patch: ``rho_m`` (n_rho,) and ``z_m`` (n_z,)."""

    rho_m: Array
    z_m: Array

    @property
    def counts(self) -> tuple[int, int]:
        """How many in rho and z."""
        return len(self.rho_m), len(self.z_m)


@dataclass(frozen=True, eq=False)
class Grid:
    """Nodes on every patch for the near half of the turn, and fewer for the far half.

    Values on the far ones are interpolated to the near ones.
    """

    near: list[Nodes]
    far: list[Nodes]

    @property
    def largest(self) -> int:
        """The largest order of any."""
        return max(max(n.counts) for n in self.near)

    def points(self, angles: Array) -> int:
        """Return how many evaluations some angles about the shaft take."""
        beyond = int((angles >= FAR_RAD).sum())
        near, far = (sum(math.prod(n.counts) for n in one) for one in (self.near, self.far))
        return (len(angles) - beyond) * near + beyond * far


def foretold_grid(patches: tuple[Patch, ...], singular: Array, relative: float) -> Grid:
    """Return the grid that most likely has a relative error.

    Parameters
    ----------
    patches, singular
        From `fieldsim.field.linkage.ring_patches`.
    relative
        Error, relative to the peak-to-peak of the curve.
    """
    return Grid(
        *(
            [
                _nodes(patch, max(order_for(rho, relative), 4), max(order_for(z, relative), 2))
                for patch, (rho, z) in zip(patches, _rates(patches, singular, angle), strict=True)
            ]
            for angle in (0.0, FAR_RAD)
        )
    )


def finer_grid(patches: tuple[Patch, ...], grid: Grid) -> Grid:
    """Return a grid with a sixth more nodes each way, and clearly more where there are few.

    Over distance from the shaft the turns are spread unevenly, with kinks at their corners; where
    few nodes do, one more or less changes little, up or down.
    """
    return Grid(
        *(
            [
                _nodes(patch, *(n + max(n // 6, m) for n, m in zip(one.counts, _MORE, strict=True)))
                for patch, one in zip(patches, nodes, strict=True)
            ]
            for nodes in (grid.near, grid.far)
        )
    )


def _nodes(patch: Patch, n_rho: int, n_z: int) -> Nodes:
    return Nodes(
        *(
            (low + high) / 2 + (high - low) / 2 * gauss_legendre(n)[0]
            for (low, high), n in ((patch.rho_m, n_rho), (patch.z_m, n_z))
        )
    )


def angular_rate(patches: tuple[Patch, ...], singular: Array) -> float:
    """Return how fast the curve's Fourier series converges.

    Orders fall as exp(-rate m) between rings about the shaft: one through an edge of the magnet,
    one through the nearest point of the winding's rectangle.
    """
    ring, height = singular[:, 0], singular[:, 1]
    found = []
    for patch in patches:
        apart = np.maximum(np.maximum(patch.z_m[0] - height, height - patch.z_m[1]), 0.0)
        rho = np.clip(np.hypot(ring, apart), *patch.rho_m)
        square = (rho - ring) ** 2 + apart**2
        found.append(float((square / np.maximum(2 * rho * ring, 1e-300)).min()))
    return math.acosh(1.0 + min(found))


def _rates(
    patches: tuple[Patch, ...], singular: Array, angle_rad: float
) -> list[tuple[float, float]]:
    """Return how fast interpolation in rho and z converges, the arm an angle away or more."""
    result = []
    turned = np.maximum(angle_rad - singular[:, 2], 0.0)
    for patch in patches:
        low, high = np.array([patch.rho_m, patch.z_m]).T
        middle, half = (low + high) / 2, (high - low) / 2
        x = np.abs(singular[:, :2] - middle)
        # The square of a chord between circles of the two distances, beyond their difference.
        chord = 4 * patch.rho_m[0] * singular[:, 0] * np.sin(turned / 2) ** 2
        across = np.sqrt(np.maximum(x - half, 0.0)[:, ::-1] ** 2 + chord[:, None])
        ends = np.hypot(x + half, across) + np.hypot(x - half, across)
        rho, z = (2.0 * log_ellipse(ends.min(axis=0) / (2 * half))).tolist()
        result.append((rho, z))
    return result
