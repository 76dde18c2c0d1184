"""Nodes of interpolation on the rectangles of (rho, z), as many as the magnet's nearness asks for.

One law foretells all orders: what ``n`` of them leave over is taken as ``n**-4 exp(-rate n)``, and
a margin. The rate is that of an analytic function with the magnet's edges as its nearest
singularities; power and margin are refitted by ``benchmarks/fits/ring_constants.py``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.linkage.quadrature import gauss_legendre, log_ellipse
from fieldsim.field.linkage.ring_patches import Patch

__all__ = [
    "CHECKED",
    "FAR_RAD",
    "MARGIN",
    "MOST_NODES",
    "POWER",
    "Grid",
    "Nodes",
    "angular_rate",
    "finer_grid",
    "foretold_grid",
    "nodes_on",
    "order_checked",
    "order_for",
    "parts_of_error",
    "rates",
]

Array = NDArray[np.float64]

FAR_RAD = math.pi / 2  # from the arm: on the far half of the turn fewer nodes do
MOST_NODES = 200
POWER = 4.0
_ROUGHEST = 0.03
MARGIN = 6.5  # natural digits, enough for two in three
CHECKED = 2.5  # natural digits that the check of angles asks beyond the law, of two in three
_COUNTS = np.arange(1, 1025)
_GAIN = POWER * np.log(_COUNTS[:-1]) - MARGIN


def order_for(rate: float, relative: float) -> int:
    """Return the first order that most likely leaves no more than a relative error over."""
    return int(_COUNTS[np.searchsorted(rate * _COUNTS[:-1] + _GAIN, -math.log(relative))])


def order_checked(rate: float, relative: float) -> int:
    """Return the first order at which the check of angles most likely finds a relative error.

    It takes half as many angles to tell, and doubles them where they do not do: too few cost more
    than too many.
    """
    return order_for(rate, relative * math.exp(-CHECKED))


@dataclass(frozen=True, eq=False)
class Nodes:
    """Gauss-Legendre nodes on a patch: ``rho_m`` (n_rho,) and ``z_m`` (n_z,)."""

    rho_m: Array = field(repr=False)
    z_m: Array = field(repr=False)

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


def parts_of_error(patches: tuple[Patch, ...], singular: Array, relative: float) -> list[float]:
    """Return the relative error that each patch may have so that all have about a relative error.

    Parameters
    ----------
    patches, singular
        From `fieldsim.field.linkage.ring_patches`.
    relative
        Error, relative to the peak-to-peak of the curve.

    Notes
    -----
    The potential falls with the square of distance: of a winding in pieces the far ones, and small
    ones, need not be so good.
    """
    if not any(patch.piece for patch in patches):
        return [relative] * len(patches)
    weights = []
    for patch in patches:
        size = max(
            side.share * (side.stop - side.start) * (side.half_m + side.build_m)
            for side in patch.sides
        )
        weights.append(max(size / _nearest_square_m2(patch, singular), 1e-12))
    most = max(weights)
    return [min(relative * most / weight, _ROUGHEST) for weight in weights]


def _nearest_square_m2(patch: Patch, singular: Array) -> float:
    """Return the square of the distance of a patch from the magnet's edges, above zero."""
    low, high = np.array([patch.rho_m, patch.z_m]).T
    apart = np.maximum(np.maximum(low - singular[:, :2], singular[:, :2] - high), 0.0)
    return float((apart**2).sum(axis=1).min() + 1e-12)


def foretold_grid(
    patches: tuple[Patch, ...], singular: Array, relative: float | list[float]
) -> Grid:
    """Return the grid that most likely has a relative error.

    Parameters
    ----------
    patches, singular
        From `fieldsim.field.linkage.ring_patches`.
    relative
        Error, relative to the peak-to-peak of the curve: of all patches, or of each.
    """
    asked = relative if isinstance(relative, list) else [relative] * len(patches)

    def orders(rate: float, error: float, least: int) -> int:
        return min(max(order_for(rate, error), least), MOST_NODES)

    def from_angle(angle_rad: float) -> list[Nodes]:
        pairs = zip(rates(patches, singular, angle_rad), asked, strict=True)
        return nodes_on(patches, [(orders(r, e, 4), orders(z, e, 2)) for (r, z), e in pairs])

    return Grid(from_angle(0.0), from_angle(FAR_RAD))


def finer_grid(patches: tuple[Patch, ...], grid: Grid) -> Grid:
    """Return a grid with a sixth more nodes each way, and clearly more where there are few.

    Over distance from the shaft the turns are spread unevenly, with kinks at their corners; where
    few nodes do, one more or less changes little, up or down.
    """

    def finer(nodes: list[Nodes]) -> list[Nodes]:
        orders = [
            (n + max(n // 6, 3), k + max(k // 6, 1)) for n, k in (one.counts for one in nodes)
        ]
        return nodes_on(patches, orders)

    return Grid(finer(grid.near), finer(grid.far))


def nodes_on(patches: tuple[Patch, ...], orders: list[tuple[int, int]]) -> list[Nodes]:
    """Return nodes of given orders in rho and z, one of each a patch."""

    def spread(ends: tuple[float, float], n: int) -> Array:
        low, high = ends
        return np.asarray((low + high) / 2 + (high - low) / 2 * gauss_legendre(n)[0])

    return [
        Nodes(spread(patch.rho_m, n_rho), spread(patch.z_m, n_z))
        for patch, (n_rho, n_z) in zip(patches, orders, strict=True)
    ]


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


def rates(
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
