"""Linkage with magnets that are no blocks, by reciprocity: the coil's field over the magnet.

The linkage of a coil with a magnet of polarization J equals the integral over the magnet of
J . b / mu0, b being the coil's flux density per ampere. Outside the winding b is smooth, so a few
quadrature points in the magnet and in the winding section give many digits, also where the magnet
turns inside the coil.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.quadrature import LADDER, gauss_legendre, order_needed
from fieldsim.field.rectangle_field import rectangle_flux_density_T_per_A
from fieldsim.field.track import CoilInRotor, Track
from fieldsim.geometry.machine import Cuboid, Cylinder, Sphere

__all__ = ["BodyLinkage", "body_points"]

Array = NDArray[np.float64]

_MU0 = 4e-7 * math.pi
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


def _outline(shape: Cuboid | Cylinder | Sphere) -> Array:
    """Return points on the outside of a magnet in arm axes [m], (n, 3)."""
    if isinstance(shape, Cylinder):
        phi = np.linspace(0, 2 * math.pi, 24, endpoint=False)
        rim = np.empty((2, 24, 3))
        axis = shape.axis.value
        rim[0, :, axis], rim[1, :, axis] = shape.thickness / 2, -shape.thickness / 2
        rim[..., (axis + 1) % 3] = shape.diameter / 2 * np.cos(phi)
        rim[..., (axis + 2) % 3] = shape.diameter / 2 * np.sin(phi)
        return rim.reshape(-1, 3)
    grid = np.stack(np.meshgrid(*[[-0.5, 0.0, 0.5]] * 3, indexing="ij"), axis=-1).reshape(-1, 3)
    if isinstance(shape, Sphere):
        length = np.linalg.norm(grid, axis=1)
        return np.asarray(grid[length > 0] / length[length > 0, None] * shape.diameter / 2)
    return np.asarray(grid * shape.size)


@dataclass(frozen=True)
class BodyLinkage:
    """The linkage of one coil with a magnet of any shape on a track."""

    track: Track
    coil: CoilInRotor

    def _in_coil(self, points: Array, angles: Array) -> Array:
        """Return points (n, 3) of the magnet in coil axes at each angle, (3, angles, n)."""
        c, s = np.cos(angles)[:, None], np.sin(angles)[:, None]
        x, y = points[:, 0] + self.track.radius, points[:, 1]
        z = np.broadcast_to(points[:, 2] + self.track.height, (len(angles), len(points)))
        turned = np.stack([c * x - s * y, s * x + c * y, z], axis=-1)
        return np.moveaxis((turned - self.coil.centre) @ self.coil.frame, -1, 0)

    def distance_m(self, angles: Array) -> Array:
        """Return the distance of the magnet from the winding at each angle [m], (angles,)."""
        q = np.abs(self._in_coil(_outline(self.track.shape), angles))
        (a, b), t = self.coil.half_opening, self.coil.build
        up = np.maximum(q[2] - self.coil.half_length, 0.0)
        inside = (q[0] < a) & (q[1] < b)
        inner = np.minimum(a - q[0], b - q[1])
        outer = np.hypot(np.maximum(q[0] - a - t, 0.0), np.maximum(q[1] - b - t, 0.0))
        return np.asarray(np.hypot(np.where(inside, inner, outer), up).min(axis=1))

    def linkage_m2(self, angles: Array, digits: float) -> tuple[Array, int]:
        """Return linkage per turn and tesla (angles,), and the number of field evaluations.

        Parameters
        ----------
        angles
            Arm angles [rad], shape (angles,).
        digits
            Natural logarithm of one over the relative quadrature error aimed at.

        Notes
        -----
        Angles at which the magnet is equally far, within a factor of two, share their orders.
        """
        distance = np.maximum(self.distance_m(angles), 0.02 * min(self.track.shape.size))
        level = np.floor(np.log2(distance))
        result, total = np.empty(len(angles)), 0
        for value in np.unique(level):
            members = level == value
            near = float(distance[members].min())
            result[members], spent = self._at_distance(angles[members], near, digits)
            total += spent
        return result, total

    def _at_distance(self, angles: Array, distance: float, digits: float) -> tuple[Array, int]:
        def order(half: float) -> int:
            # Fields of thick sections and bodies are smoother than those of their nearest parts.
            need = float(order_needed(np.array(1.0 + (distance + half / 2) / half), digits))
            return int(LADDER[min(int(np.searchsorted(LADDER, need)), len(LADDER) - 1)])

        shape, coil = self.track.shape, self.coil
        if isinstance(shape, Cylinder):
            radial = order(shape.diameter / 2)
            orders = (order(shape.thickness / 2), radial, 2 * radial)
        else:
            orders = (order(shape.size[0] / 2), order(shape.size[1] / 2), order(shape.size[2] / 2))
        points, weights = body_points(shape, orders)
        u, wu = gauss_legendre(order(coil.build / 2))
        w, ww = gauss_legendre(order(coil.half_length))
        depth, rise = coil.build / 2 * (1 + u), coil.half_length * w
        half_x = (coil.half_opening[0] + depth)[:, None]
        half_y = (coil.half_opening[1] + depth)[:, None]
        north = np.zeros((1, 3))
        north[0, self.track.north.value] = 1.0
        result = np.empty(len(angles))
        filaments = len(u) * len(w)
        step = max(1, _ROWS // (len(points) * filaments))
        for first in range(0, len(angles), step):
            part = angles[first : first + step]
            x, y, z = self._in_coil(points, part)[..., None, None]
            b = rectangle_flux_density_T_per_A(x, y, z - rise, half_x, half_y)
            axis = self._directions(north, part)  # (3, angles)
            along = sum(
                np.einsum("apuw,u,w->ap", component, wu / 2, ww / 2) * axis[k][:, None]
                for k, component in enumerate(b)
            )
            result[first : first + step] = along @ weights / _MU0
        return result, len(angles) * len(points) * filaments

    def _directions(self, arm_vector: Array, angles: Array) -> Array:
        """Return a direction in arm axes in coil axes at each angle, (3, angles)."""
        c, s = np.cos(angles), np.sin(angles)
        x, y, z = arm_vector[0]
        turned = np.stack([c * x - s * y, s * x + c * y, np.full_like(c, z)], axis=-1)
        return np.asarray((turned @ self.coil.frame).T)
