"""Linkage with magnets that are no blocks, by reciprocity: the coil's field over the magnet.

The linkage of a coil with a magnet of polarization J equals the integral over the magnet of
J . b / mu0, b being the coil's flux density per ampere. Outside the winding b is smooth, so a few
quadrature points in the magnet and in the winding section give many digits, also where the magnet
turns inside the coil.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.linkage.quadrature import LADDER, gauss_legendre, ladder_index, log_ellipse
from fieldsim.field.linkage.round_loop_field import round_loop_flux_density_T_per_A
from fieldsim.field.linkage.track import CoilInRotor, Track
from fieldsim.field.potential.edge_points import edge_points
from fieldsim.field.potential.rectangle_field import rectangle_flux_density_T_per_A
from fieldsim.machine.magnets import Cuboid, Cylinder, Sphere
from fieldsim.wire.corners import Corners

__all__ = ["BodyLevel", "BodyLinkage", "body_points"]

Array = NDArray[np.float64]

_MU0 = 4e-7 * math.pi
_EDGE_PARTS = 4
_ROWS = 200_000  # pairs of filament and point at once, to bound memory


def body_points(
    shape: Cuboid | Cylinder | Sphere, orders: tuple[int, int, int]
) -> tuple[Array, Array]:
    """Return quadrature points (n, 3) in arm axes [m] and weights (n,) [m3] over a magnet.

    Parameters
    ----------
    shape
        The magnet.
    orders
        For a cylinder: along the axis, in radius, around. For a block: along its edges.
        A ball needs one point whatever is asked, since what it averages is harmonic.
    """
    if isinstance(shape, Sphere):
        return np.zeros((1, 3)), np.array([shape.volume_m3])
    if isinstance(shape, Cuboid):
        nodes = [gauss_legendre(n) for n in orders]
        grid = np.meshgrid(*[n for n, _ in nodes], indexing="ij")
        w = np.einsum("i,j,k->ijk", *[w for _, w in nodes]).ravel() / 8
        points = np.stack([g.ravel() for g in grid], axis=1) * (np.array(shape.size) / 2)
        return points, w * shape.volume_m3
    z, wz = gauss_legendre(orders[0])
    s, ws = gauss_legendre(orders[1])  # in the square of the radius, where the integrand is even
    radius = shape.diameter / 2 * np.sqrt((1 + s) / 2)
    phi = 2 * math.pi / orders[2] * (np.arange(orders[2]) + 0.5)
    axis = shape.axis.value
    points = np.empty((len(z), len(s), len(phi), 3))
    points[..., axis] = (shape.thickness / 2 * z)[:, None, None]
    points[..., (axis + 1) % 3] = radius[:, None] * np.cos(phi)
    points[..., (axis + 2) % 3] = radius[:, None] * np.sin(phi)
    weights = np.broadcast_to(
        (wz / 2)[:, None, None] * (ws / 2)[:, None] / len(phi), points.shape[:3]
    )
    return points.reshape(-1, 3), weights.ravel() * shape.volume_m3


@dataclass(frozen=True, eq=False)
class BodyLevel:
    """Quadrature points for a class of angles.

    Parameters
    ----------
    points, weights
        Over the magnet in arm axes about its centre [m], (points, 3), and [m3], (points,).
    depth, depth_weights
        Through the build [m], adding up to one, (filaments across,).
    rise, rise_weights
        Along the winding's length [m], adding up to one, (filaments along,).
    bend
        Points on each corner of a filament; 0 if corners are sharp.
    """

    points: Array = field(repr=False)
    weights: Array = field(repr=False)
    depth: Array = field(repr=False)
    depth_weights: Array = field(repr=False)
    rise: Array = field(repr=False)
    rise_weights: Array = field(repr=False)
    bend: int = 0

    @property
    def pairs(self) -> int:
        """Pairs of filament and point."""
        return len(self.weights) * len(self.depth) * len(self.rise)

    @property
    def size(self) -> int:
        """Evaluations an angle: of a filament's straight parts as one, and of points on bends."""
        return self.pairs * (1 + 4 * self.bend)


@dataclass(frozen=True, eq=False)
class BodyLinkage:
    """The linkage of one coil with a magnet of any shape on a track.

    Parameters
    ----------
    track, coil
        In the rotor's coordinates.
    angles
        Arm angles [rad] to plan for, shape (angles,).
    """

    track: Track
    coil: CoilInRotor
    angles: Array = field(repr=False)

    @property
    def share(self) -> float:
        """What part of the difference to the rougher result stands for the error.

        A rung can win as little as a factor of two, and other angles be worse than those tested.
        """
        return 2.5

    def _in_coil(self, points: Array, angles: Array) -> Array:
        """Return points (n, 3) of the magnet in coil axes at each angle, (3, angles, n)."""
        c, s = np.cos(angles)[:, None], np.sin(angles)[:, None]
        x, y = points[:, 0] + self.track.radius, points[:, 1]
        z = np.broadcast_to(points[:, 2] + self.track.height, (len(angles), len(points)))
        turned = np.stack([c * x - s * y, s * x + c * y, z], axis=-1)
        return np.moveaxis((turned - self.coil.centre) @ self.coil.frame, -1, 0)

    @cached_property
    def nearness_m(self) -> Array:
        """The distance of the magnet from the winding at each planned angle, (angles,)."""
        shape = self.track.shape
        q = np.abs(self._in_coil(edge_points(shape, _EDGE_PARTS), self.angles))
        (a, b), t = self.coil.half_opening, self.coil.build
        up = np.maximum(q[2] - self.coil.half_length, 0.0)
        inside = (q[0] < a) & (q[1] < b)
        inner = np.minimum(a - q[0], b - q[1])
        outer = np.hypot(np.maximum(q[0] - a - t, 0.0), np.maximum(q[1] - b - t, 0.0))
        nearest = np.hypot(np.where(inside, inner, outer), up).min(axis=1)
        # A ball's edge points are its centre.
        return np.asarray(nearest - (shape.diameter / 2 if isinstance(shape, Sphere) else 0.0))

    def plan(self, digits: float) -> tuple[list[BodyLevel], list[BodyLevel], NDArray[np.intp]]:
        """Return quadrature levels, the same a rung lower, and the level of each planned angle.

        Parameters
        ----------
        digits
            Natural logarithm of one over the relative quadrature error aimed at.
        """
        distance = np.maximum(self.nearness_m, 0.02 * min(self.track.shape.size))
        halvings = np.floor(np.log2(distance)).astype(np.intp)
        level = np.unique(halvings, return_inverse=True)[1].reshape(-1)
        nearest = [float(distance[level == i].min()) for i in range(int(level.max()) + 1)]
        return (
            [self._level(d, digits, 0) for d in nearest],
            [self._level(d, digits, -1) for d in nearest],
            level,
        )

    def _level(self, distance: float, digits: float, rungs: int) -> BodyLevel:
        def order(half: float) -> int:
            rate = 2.0 * log_ellipse(np.array(1.0 + distance / half))
            rung = int(ladder_index(rate, digits)) + rungs
            return int(LADDER[min(max(rung, 0), len(LADDER) - 1)])

        shape, coil = self.track.shape, self.coil
        if isinstance(shape, Cylinder):
            radial = order(shape.diameter / 2)
            orders = (order(shape.thickness / 2), radial, 2 * radial + 1)
        else:
            orders = (order(shape.size[0] / 2), order(shape.size[1] / 2), order(shape.size[2] / 2))
        points, weights = body_points(shape, orders)
        u, wu = gauss_legendre(order(coil.build / 2))
        w, ww = gauss_legendre(order(coil.half_length))
        depth = coil.build / 2 * (1 + u)
        bend = order(math.pi / 4 * coil.build) if coil.corners is Corners.ROUND else 0
        return BodyLevel(points, weights, depth, wu / 2, coil.half_length * w, ww / 2, bend)

    def linkage_m2(self, levels: list[BodyLevel], level: NDArray[np.intp], angles: Array) -> Array:
        """Return the linkage per turn and tesla at each arm angle, by levels from `plan`."""
        result = np.empty(len(angles))
        for i in np.unique(level):
            members = np.nonzero(level == i)[0]
            step = max(1, _ROWS // levels[i].pairs)
            for first in range(0, len(members), step):
                part = members[first : first + step]
                result[part] = self._at(levels[i], angles[part])
        return result

    def _at(self, level: BodyLevel, angles: Array) -> Array:
        a, b = self.coil.half_opening
        x, y, z = self._in_coil(level.points, angles)[..., None, None]
        z, depth = z - level.rise, level.depth[:, None]
        if level.bend:
            field = round_loop_flux_density_T_per_A(x, y, z, (a, b), depth, level.bend)
        else:
            field = rectangle_flux_density_T_per_A(x, y, z, a + depth, b + depth)
        north = self._north(angles)
        along = sum(
            np.einsum("apuw,u,w->ap", part, level.depth_weights, level.rise_weights) * n[:, None]
            for part, n in zip(field, north, strict=True)
        )
        return np.asarray(along @ level.weights / _MU0)

    def _north(self, angles: Array) -> Array:
        """Return the direction of magnetisation in coil axes at each angle, (3, angles)."""
        x, y, z = (1.0 if i == self.track.north.value else 0.0 for i in range(3))
        c, s = np.cos(angles), np.sin(angles)
        turned = np.stack([c * x - s * y, s * x + c * y, np.full_like(c, z)], axis=-1)
        return np.asarray((turned @ self.coil.frame).T)
