"""Nodes of interpolation on the rectangles of (rho, z), as many as the magnet's nearness asks for.

A `Law` foretells all orders. Its rate is that of an analytic function with the magnet's edges as
its nearest singularities; its constants are refitted by ``benchmarks/fits/ring_constants.py``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.linkage.quadrature import gauss_legendre, log_ellipse
from fieldsim.field.linkage.ring_patches import Patch
from fieldsim.field.linkage.rings import Rings, Which
from fieldsim.machine.magnets import Sphere

__all__ = [
    "ACROSS",
    "ALONG",
    "BALL",
    "CHECKED",
    "FAR_RAD",
    "MOST_NODES",
    "Counts",
    "Grid",
    "Law",
    "Nodes",
    "angular_rates",
    "finer",
    "foretold_counts",
    "grid_on",
    "orders_checked",
    "orders_that_matter",
    "parts_of_error",
    "rates",
]

Array = NDArray[np.float64]
Counts = NDArray[np.intp]

FAR_RAD = math.pi / 2  # from the arm: on the far half of the turn fewer nodes do
_BOTH_RAD = np.array([0.0, FAR_RAD])[:, None, None]  # of rows and their points
MOST_NODES = 200
_ROUGHEST = 0.03
# Natural digits beyond the laws, of two in three:
BALL = 4.0  # that balls ask, whose field is singular in their centre and not along edges
CHECKED = 2.5  # that the check of angles asks
_COUNTS = np.arange(1, 1025)
_LOGARITHMS = np.log(_COUNTS[:-1])


@dataclass(frozen=True)
class Law:
    """What ``n`` orders leave over: ``n**-power exp(margin - share rate n)``."""

    share: float
    power: float
    margin: float

    def order(self, rate: Array | float, relative: Array | float) -> Counts:
        """Return the first orders that most likely leave no more than a relative error over."""
        asked = self.margin - np.log(np.asarray(relative))[..., None]
        won = np.multiply.outer(self.share * rate, _COUNTS[:-1]) + self.power * _LOGARITHMS
        return np.asarray(1 + (won < asked).sum(axis=-1))


# Turns have kinks across the shaft: what is interpolated there converges half as fast as integrals.
ACROSS = Law(0.5, 3.5, 2.5)
ALONG = Law(1.0, 4.0, 6.0)


@dataclass(frozen=True, eq=False)
class Nodes:
    """Gauss-Legendre nodes on a patch of each row: ``rho_m`` (rows, n_rho), ``z_m`` (rows, n_z)."""

    rho_m: Array = field(repr=False)
    z_m: Array = field(repr=False)

    @property
    def counts(self) -> tuple[int, int]:
        """How many in rho and z."""
        return self.rho_m.shape[-1], self.z_m.shape[-1]

    def some(self, which: Which | int) -> Nodes:
        """Return those of some rows, or of one without its axis."""
        return Nodes(self.rho_m[which], self.z_m[which])


@dataclass(frozen=True, eq=False)
class Grid:
    """Nodes on every patch for the near half of the turn, and fewer for the far half.

    Values on the far ones are interpolated to the near ones.
    """

    near: list[Nodes]
    far: list[Nodes]

    @property
    def counts(self) -> Counts:
        """How many near nodes there are in rho and z, and how many far ones, (patches, 4)."""
        return np.array([[*n.counts, *f.counts] for n, f in zip(self.near, self.far, strict=True)])

    @property
    def largest(self) -> int:
        """The largest order of any."""
        return max(max(n.counts) for n in self.near)

    def points(self, angles: Array) -> int:
        """Return how many evaluations some angles about the shaft take of a row."""
        beside = int(np.searchsorted(angles, FAR_RAD))
        near, far = (sum(math.prod(n.counts) for n in one) for one in (self.near, self.far))
        return beside * near + (len(angles) - beside) * far

    def some(self, which: Which) -> Grid:
        """Return those of some rows."""
        return Grid([n.some(which) for n in self.near], [n.some(which) for n in self.far])


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


def foretold_counts(rings: Rings, relative: Array | float) -> Counts:
    """Return how many near and far nodes most likely have a relative error.

    Parameters
    ----------
    rings
        Rows of one kind.
    relative
        Error, relative to the peak-to-peak of the curve: of all patches, or of each,
        (rows, patches).

    Returns
    -------
    Near ones in rho and z, and far ones, (rows, patches, 4).
    """
    asked = relative * _strictness(rings)
    rate = rates(rings.rho_m, rings.z_m, rings.singular, _BOTH_RAD)
    rho, z = (law.order(rate[..., i], asked) for i, law in enumerate((ACROSS, ALONG)))
    counts = np.stack([rho[0], z[0], rho[1], z[1]], axis=-1)
    return np.asarray(np.minimum(np.maximum(counts, [4, 2, 4, 2]), MOST_NODES))


def orders_that_matter(rings: Rings, relative: Array) -> Counts:
    """Return of how many orders each patch's part leaves a relative error over, (rows, patches)."""
    return ALONG.order(angular_rates(rings), relative * _strictness(rings))


def orders_checked(rings: Rings, relative: Array) -> Counts:
    """Return the first orders at which the check of angles most likely finds an error, (rows,).

    It takes half as many angles to tell, and doubles them where they do not do: too few cost more
    than too many.
    """
    asked = relative * math.exp(-CHECKED) * _strictness(rings)
    return ALONG.order(angular_rates(rings).min(axis=-1), asked)


def _strictness(rings: Rings) -> float:
    """Return how much smaller than asked an error has to be for the law to hold."""
    return math.exp(-BALL) if isinstance(rings.tracks[0].shape, Sphere) else 1.0


def finer(counts: Counts) -> Counts:
    """Return a fifth more nodes each way, and clearly more where there are few, (..., 4).

    Over distance from the shaft the turns are spread unevenly, with kinks at their corners; where
    few nodes do, one more or less changes little, up or down.
    """
    return np.asarray(counts + np.maximum(counts // 5, [3, 1, 3, 1]))


def grid_on(rings: Rings, counts: Counts) -> Grid:
    """Return a grid of so many nodes: near ones in rho and z, and far ones, (patches, 4)."""
    return Grid(_nodes_on(rings, counts[:, :2]), _nodes_on(rings, counts[:, 2:]))


def _nodes_on(rings: Rings, counts: Counts) -> list[Nodes]:
    def spread(ends: Array, n: int) -> Array:
        low, high = ends[:, :1], ends[:, 1:]
        return np.asarray((low + high) / 2 + (high - low) / 2 * gauss_legendre(n)[0])

    return [
        Nodes(spread(rings.rho_m[:, i], n_rho), spread(rings.z_m[:, i], n_z))
        for i, (n_rho, n_z) in enumerate(counts.tolist())
    ]


def angular_rates(rings: Rings) -> Array:
    """Return how fast the Fourier series of each patch's part converges, (rows, patches).

    Orders fall as exp(-rate m) between rings about the shaft: one through an edge of the magnet,
    one through the nearest point of the winding's rectangle.
    """
    ring, height = rings.singular[:, None, :, 0], rings.singular[:, None, :, 1]
    (rho_low, rho_high), (low, high) = (
        (ends[..., :1], ends[..., 1:]) for ends in (rings.rho_m, rings.z_m)
    )
    apart = np.maximum(np.maximum(low - height, height - high), 0.0)
    rho = np.clip(np.hypot(ring, apart), rho_low, rho_high)
    square = (rho - ring) ** 2 + apart**2
    nearest = (square / np.maximum(2 * rho * ring, 1e-300)).min(axis=-1)
    return np.asarray(np.arccosh(1.0 + nearest))


def rates(rho_m: Array, z_m: Array, singular: Array, angle_rad: Array | float) -> Array:
    """Return how fast interpolation in rho and z converges, the arm an angle away or more.

    Parameters
    ----------
    rho_m, z_m
        From where to where each patch goes, (..., patches, 2).
    singular
        From `fieldsim.field.linkage.ring_patches.singular_rings`, (..., points, 3).
    angle_rad
        About the shaft: one, or several along axes that come before those of the others.

    Returns
    -------
    Shape (..., patches, 2).
    """
    ring, turned = singular[..., 0], np.maximum(angle_rad - singular[..., 2], 0.0)
    low, high = (np.stack([rho_m[..., i], z_m[..., i]], axis=-1) for i in (0, 1))
    middle, half = ((high + sign * low)[..., None, :] / 2 for sign in (1, -1))
    x = np.abs(singular[..., None, :, :2] - middle)
    # The square of a chord between circles of the two distances, beyond their difference.
    chord = 4 * rho_m[..., :1] * (ring * np.sin(turned / 2) ** 2)[..., None, :]
    across = np.sqrt(np.maximum(x - half, 0.0)[..., ::-1] ** 2 + chord[..., None])
    ends = np.hypot(x + half, across) + np.hypot(x - half, across)
    return np.asarray(2.0 * log_ellipse(ends.min(axis=-2) / (2 * half[..., 0, :])))
