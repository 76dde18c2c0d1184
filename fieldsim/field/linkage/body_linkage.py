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

_Cell = tuple[tuple[float, float], tuple[float, float], float]

_MU0 = 4e-7 * math.pi
_EDGE_PARTS = 4
_LARGE = 3.0  # times the magnet's longest edge: sections beyond it come in pieces
_FAR = 4.0  # sizes of pieces beside their distance
_LEAST = 0.02  # of the magnet's shortest edge: distances below it count as this
_MOST_CELLS = 60
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
    depth, rise, shares
        Of every filament that stands for the winding: from its inner face outward and along its
        axis [m], and its share of the turns, adding up to one; (filaments,) each.
    bend
        Points on each corner of a filament; 0 if corners are sharp.
    """

    points: Array = field(repr=False)
    weights: Array = field(repr=False)
    depth: Array = field(repr=False)
    rise: Array = field(repr=False)
    shares: Array = field(repr=False)
    bend: int = 0

    @property
    def pairs(self) -> int:
        """Pairs of filament and point."""
        return len(self.weights) * len(self.depth)

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
        return self._nearness_m(
            (0.0, self.coil.build), (-self.coil.half_length, self.coil.half_length)
        )

    @cached_property
    def _at_angles(self) -> Array:
        """Points on the magnet's edges in coil axes, (3, angles, points)."""
        return np.asarray(self._in_coil(edge_points(self.track.shape, _EDGE_PARTS), self.angles))

    def _nearness_m(self, depth_m: tuple[float, float], rise_m: tuple[float, float]) -> Array:
        """Return the distance from some of the turns, from one depth and rise to another."""
        x, y, z = self._at_angles
        (a, b), t = self.coil.half_opening, depth_m[1] - depth_m[0]
        a, b, x, y = a + depth_m[0], b + depth_m[0], np.abs(x), np.abs(y)
        up = np.maximum(np.maximum(rise_m[0] - z, z - rise_m[1]), 0.0)
        inside = (x < a) & (y < b)
        inner = np.minimum(a - x, b - y)
        outer = np.hypot(np.maximum(x - a - t, 0.0), np.maximum(y - b - t, 0.0))
        off = np.where(inside, inner, outer)
        if self.coil.corners is Corners.ROUND:
            # Pieces outside others bend round the opening's corners too.
            x, y = x - self.coil.half_opening[0], y - self.coil.half_opening[1]
            beyond = np.minimum(np.maximum(x, y), 0) + np.hypot(np.maximum(x, 0), np.maximum(y, 0))
            ring = np.maximum(depth_m[0] - beyond, beyond - depth_m[1])
            off = np.minimum(off, np.maximum(ring, 0.0))
        nearest = np.hypot(off, up).min(axis=1)
        # A ball's edge points are its centre.
        shape = self.track.shape
        return np.asarray(nearest - (shape.diameter / 2 if isinstance(shape, Sphere) else 0.0))

    @cached_property
    def _cells(self) -> list[_Cell]:
        """The winding's section in pieces: depths, rises and the distance from the magnet [m].

        One piece, or for a section far too large beside its distance some whose sizes grow with
        their distance.
        """
        half, least = self.coil.half_length, _LEAST * min(self.track.shape.size)
        large = _LARGE * max(self.track.shape.size)
        todo = [((0.0, self.coil.build), (-half, half))]
        found: list[_Cell] = []
        while todo:
            depth, rise = todo.pop(0)
            near = max(float(self._nearness_m(depth, rise).min()), least)
            across, along = depth[1] - depth[0], rise[1] - rise[0]
            size, room = max(across, along), len(found) + len(todo) < _MOST_CELLS
            if size <= large or size <= _FAR * near or not room:
                found.append((depth, rise, near))
            elif across > along:
                middle = sum(depth) / 2
                todo += [((depth[0], middle), rise), ((middle, depth[1]), rise)]
            else:
                middle = sum(rise) / 2
                todo += [(depth, (rise[0], middle)), (depth, (middle, rise[1]))]
        return found

    @property
    def most_points(self) -> int:
        """How many evaluations of a filament's field a curve may take: some seconds."""
        return 8_000_000

    def cost(self, digits: float) -> int:
        """Return about how many evaluations all planned angles take, with as many digits."""
        nearest, level = self._levels
        sizes = [
            math.prod(self._body_orders(d, digits, 0))
            * sum(n * m for n, m in self._section_orders(d, digits, 0))
            * (1 + 4 * self._bend_order(d, digits, 0))
            for d in nearest
        ]
        return int(np.array(sizes, dtype=float)[level].sum())

    @cached_property
    def _levels(self) -> tuple[list[float], NDArray[np.intp]]:
        """Least distance of each class of angles [m], and the class of every planned angle."""
        distance = np.maximum(self.nearness_m, _LEAST * min(self.track.shape.size))
        halvings = np.floor(np.log2(distance)).astype(np.intp)
        level = np.unique(halvings, return_inverse=True)[1].reshape(-1)
        return [float(distance[level == i].min()) for i in range(int(level.max()) + 1)], level

    def plan(self, digits: float) -> tuple[list[BodyLevel], list[BodyLevel], NDArray[np.intp]]:
        """Return quadrature levels, the same a rung lower, and the level of each planned angle.

        Parameters
        ----------
        digits
            Natural logarithm of one over the relative quadrature error aimed at.
        """
        nearest, level = self._levels
        return (
            [self._level(d, digits, 0) for d in nearest],
            [self._level(d, digits, -1) for d in nearest],
            level,
        )

    def _body_orders(self, distance: float, digits: float, rungs: int) -> tuple[int, int, int]:
        shape = self.track.shape
        if isinstance(shape, Sphere):
            return 1, 1, 1
        if isinstance(shape, Cylinder):
            radial = _order(shape.diameter / 2, distance, digits, rungs)
            return _order(shape.thickness / 2, distance, digits, rungs), radial, 2 * radial + 1
        x, y, z = (_order(edge / 2, distance, digits, rungs) for edge in shape.size)
        return x, y, z

    def _section_orders(self, distance: float, digits: float, rungs: int) -> list[tuple[int, int]]:
        """Return orders through the build and along the length, for each piece of the section."""
        return [
            (
                _order((depth[1] - depth[0]) / 2, max(distance, near), digits, rungs),
                _order((rise[1] - rise[0]) / 2, max(distance, near), digits, rungs),
            )
            for depth, rise, near in self._cells
        ]

    def _bend_order(self, distance: float, digits: float, rungs: int) -> int:
        """Return how many points each corner of a turn takes, 0 for a sharp one."""
        if self.coil.corners is not Corners.ROUND:
            return 0
        return _order(math.pi / 4 * self.coil.build, distance, digits, rungs)

    def _level(self, distance: float, digits: float, rungs: int) -> BodyLevel:
        points, weights = body_points(self.track.shape, self._body_orders(distance, digits, rungs))
        whole = self.coil.build * 2 * self.coil.half_length
        filaments = []
        orders = self._section_orders(distance, digits, rungs)
        for (depth, rise, _), (n, k) in zip(self._cells, orders, strict=True):
            u, wu = gauss_legendre(n)
            w, ww = gauss_legendre(k)
            across, along = depth[1] - depth[0], rise[1] - rise[0]
            grid = np.empty((3, n, k))
            grid[0] = (depth[0] + across / 2 * (1 + u))[:, None]
            grid[1] = rise[0] + along / 2 * (1 + w)
            grid[2] = np.outer(wu, ww) / 4 * (across * along / whole)
            filaments.append(grid.reshape(3, -1))
        depth, rise, shares = np.concatenate(filaments, axis=1)
        bend = self._bend_order(distance, digits, rungs)
        return BodyLevel(points, weights, depth, rise, shares, bend)

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
        x, y, z = self._in_coil(level.points, angles)[..., None]
        z, depth = z - level.rise, level.depth
        if level.bend:
            field = round_loop_flux_density_T_per_A(x, y, z, (a, b), depth, level.bend)
        else:
            field = rectangle_flux_density_T_per_A(x, y, z, a + depth, b + depth)
        north = self._north(angles)
        along = sum(
            (part @ level.shares) * n[:, None] for part, n in zip(field, north, strict=True)
        )
        return np.asarray(along @ level.weights / _MU0)

    def _north(self, angles: Array) -> Array:
        """Return the direction of magnetisation in coil axes at each angle, (3, angles)."""
        x, y, z = (1.0 if i == self.track.north.value else 0.0 for i in range(3))
        c, s = np.cos(angles), np.sin(angles)
        turned = np.stack([c * x - s * y, s * x + c * y, np.full_like(c, z)], axis=-1)
        return np.asarray((turned @ self.coil.frame).T)


def _order(half_m: float, distance_m: float, digits: float, rungs: int) -> int:
    """Return how many Gauss-Legendre points a length takes at a distance."""
    rate = 2.0 * log_ellipse(np.array(1.0 + distance_m / half_m))
    rung = int(ladder_index(rate, digits)) + rungs
    return int(LADDER[min(max(rung, 0), len(LADDER) - 1)])
