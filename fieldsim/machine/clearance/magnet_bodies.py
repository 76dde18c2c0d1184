"""Magnets as solids: how far points are from them, and points that fill them, still and turning."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from fieldsim.machine.clearance.swept_profile import box_distance, profile, profile_points
from fieldsim.machine.magnets import Cuboid, Cylinder
from fieldsim.machine.placed import PlacedMagnet, PlacedRotor

__all__ = [
    "Body",
    "Distance",
    "block_distance",
    "magnet_poses",
    "still_body",
    "still_distance",
    "swept_distance",
    "turning_bodies",
]

Array = NDArray[np.float64]
Distance = Callable[[Array], Array]  # points (n, 3) -> signed distance (n,), negative inside
Body = Callable[[Array], Array]  # parameters in [-1, 1] (n, 3) -> points (n, 3)


def block_distance(centre: Array, frame: Array, half: Array) -> Distance:
    """Return the distance to a block, of half sizes along the columns of its frame."""
    return lambda p: box_distance(np.abs((p - centre) @ frame) - half)


def _cylinder_distance(
    centre: Array, frame: Array, radius: float, half: float, axis: int
) -> Distance:
    others = [i for i in range(3) if i != axis]

    def distance(p: Array) -> Array:
        local = (p - centre) @ frame
        rho = np.hypot(local[:, others[0]], local[:, others[1]]) - radius
        return box_distance(np.stack([rho, np.abs(local[:, axis]) - half], axis=1))

    return distance


def swept_distance(rotor: PlacedRotor, mounted: PlacedMagnet) -> Distance:
    """Return the distance to what a magnet sweeps in a turn."""
    through, along = np.array(rotor.shaft.through), np.array(rotor.shaft.along)
    outline = profile(mounted)

    def distance(p: Array) -> Array:
        v = p - through
        z = v @ along
        rho = np.sqrt(np.maximum((v * v).sum(axis=1) - z * z, 0.0))
        return outline(rho, z)

    return distance


def magnet_poses(rotor: PlacedRotor) -> tuple[Array, Array]:
    """Return centres (n, 3) and arm frames (n, 3, 3) of a rotor's magnets at rotor angle zero."""
    return _poses(rotor, rotor.magnets)


def _poses(rotor: PlacedRotor, magnets: Sequence[PlacedMagnet]) -> tuple[Array, Array]:
    c, s = (np.array([f(m.angle) for m in magnets]) for f in (math.cos, math.sin))
    turned = np.zeros((len(magnets), 3, 3))
    turned[:, 0, 0], turned[:, 0, 1], turned[:, 1, 0], turned[:, 1, 1] = c, -s, s, c
    turned[:, 2, 2] = 1.0
    frames = rotor.frame @ turned
    local = np.array([(m.radius, 0.0, m.height) for m in magnets])
    return np.array(rotor.shaft.through) + np.einsum("nij,nj->ni", frames, local), frames


def _pose(rotor: PlacedRotor, mounted: PlacedMagnet) -> tuple[Array, Array]:
    centres, frames = _poses(rotor, (mounted,))
    return centres[0], frames[0]


def still_distance(rotor: PlacedRotor, mounted: PlacedMagnet) -> Distance:
    """Return the distance to a magnet at rotor angle zero."""
    centre, frame = _pose(rotor, mounted)
    shape = mounted.magnet.shape
    if isinstance(shape, Cuboid):
        return block_distance(centre, frame, np.array(shape.size) / 2)
    if isinstance(shape, Cylinder):
        return _cylinder_distance(
            centre, frame, shape.diameter / 2, shape.thickness / 2, shape.axis.value
        )
    radius = shape.diameter / 2
    return lambda p: np.sqrt(((p - centre) ** 2).sum(axis=1)) - radius


def _magnet_points(mounted: PlacedMagnet, u: Array) -> Array:
    """Return points (n, 3) of a magnet in arm axes about its centre."""
    shape = mounted.magnet.shape
    if isinstance(shape, Cuboid):
        return np.asarray(u * (np.array(shape.size) / 2))
    radius = (u[:, 0] + 1) / 2 * shape.diameter / 2
    phi = math.pi * u[:, 1]
    if isinstance(shape, Cylinder):
        axis = shape.axis.value
        local = np.empty_like(u)
        local[:, axis] = u[:, 2] * shape.thickness / 2
        local[:, (axis + 1) % 3] = radius * np.cos(phi)
        local[:, (axis + 2) % 3] = radius * np.sin(phi)
        return local
    theta = math.pi / 2 * u[:, 2]
    flat = radius * np.cos(theta)
    return np.stack([flat * np.cos(phi), flat * np.sin(phi), radius * np.sin(theta)], axis=1)


def still_body(rotor: PlacedRotor, mounted: PlacedMagnet) -> Body:
    """Return a body that fills a magnet at rotor angle zero."""
    centre, frame = _pose(rotor, mounted)
    return lambda u: centre + _magnet_points(mounted, u) @ frame.T


def turning_bodies(rotor: PlacedRotor, mounted: PlacedMagnet) -> Iterator[Body]:
    """Yield bodies that together fill what a magnet sweeps: one for each eighth of its turn."""
    shape, r, h = mounted.magnet.shape, mounted.radius, mounted.height
    through, frame = np.array(rotor.shaft.through), rotor.frame

    def body(start: float) -> Body:
        def points(u: Array) -> Array:
            phi = start + math.pi / 8 * u[:, 1]
            rho, z = profile_points(shape, r, u[:, 0], u[:, 2])
            local = np.stack([rho * np.cos(phi), rho * np.sin(phi), h + z], axis=1)
            return np.asarray(through + local @ frame.T)

        return points

    for i in range(8):
        yield body(i * math.pi / 4)
