"""How far points are from windings, magnets and iron: what decides how fine nodes must be."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.iron.point_charges import Reach
from fieldsim.machine.clearance.swept_profile import profile
from fieldsim.machine.iron import Ball, Block, Tube
from fieldsim.machine.placed import PlacedCoil, PlacedIron, PlacedRotor

__all__ = ["from_iron", "from_rotor", "from_winding", "nearest_of", "swept_distance"]

Array = NDArray[np.float64]


def _outside(*excess: Array) -> Array:
    """Return the distance to a box from how far points are beyond it in each direction."""
    return np.asarray(np.sqrt(sum(np.maximum(each, 0.0) ** 2 for each in excess)))


def from_winding(coil: PlacedCoil) -> Reach:
    """Return how far off, for points in space, what makes a winding's field uneven is [m].

    Beside its faces the field goes on as if they were not there. Only at its edges it has
    singularities, so weak, of distance times its logarithm, that nothing nearer than half the build
    counts.
    """

    def distance(points: Array) -> Array:
        x, y, z = np.abs((points - np.array(coil.centre)) @ coil.frame).T
        up = z - coil.length / 2
        found = []
        for depth in (0.0, coil.build):
            dx, dy = x - coil.opening[0] / 2 - depth, y - coil.opening[1] / 2 - depth
            inner = np.minimum(-dx, -dy)
            flat = np.where(inner > 0, inner, _outside(dx, dy))
            found += [np.hypot(flat, up), np.sqrt(dx * dx + dy * dy + np.maximum(up, 0.0) ** 2)]
        return np.asarray(np.hypot(np.min(found, axis=0), coil.build / 2))

    return distance


def swept_distance(rotor: PlacedRotor) -> Callable[[Array, Array], Array]:
    """Return the distance of (rho, z) about a rotor's shaft to what its magnets sweep [m]."""
    profiles = [profile(mounted) for mounted in rotor.tracks]

    def distance(rho: Array, z: Array) -> Array:
        return np.asarray(np.maximum(np.min([each(rho, z) for each in profiles], axis=0), 0.0))

    return distance


def from_rotor(rotor: PlacedRotor) -> Reach:
    """Return the distance of points in space to what a rotor's magnets sweep [m]."""
    swept = swept_distance(rotor)

    def distance(points: Array) -> Array:
        seen = (points - np.array(rotor.shaft.through)) @ rotor.frame
        return np.asarray(swept(np.hypot(seen[:, 0], seen[:, 1]), seen[:, 2]))

    return distance


def from_iron(piece: PlacedIron) -> Reach:
    """Return the distance of points in space to a piece of iron [m], zero within it."""

    def distance(points: Array) -> Array:
        x, y, z = (points - np.array(piece.centre)).dot(piece.frame).T
        shape = piece.shape
        half = [edge / 2 for edge in shape.size]
        if isinstance(shape, Ball):
            return _outside(np.sqrt(x * x + y * y + z * z) - half[0])
        if isinstance(shape, Block):
            return _outside(*(np.abs(q) - h for q, h in zip((x, y, z), half, strict=True)))
        rho = np.hypot(x, y)
        hollow = shape.inner / 2 - rho if isinstance(shape, Tube) else -rho
        return _outside(np.maximum(rho - half[0], hollow), np.abs(z) - half[2])

    return distance


def nearest_of(reaches: Sequence[Reach]) -> Reach:
    """Return the least of several distances; infinite if there are none."""

    def distance(points: Array) -> Array:
        if not reaches:
            return np.full(len(points), np.inf)
        return np.asarray(np.min([each(points) for each in reaches], axis=0))

    return distance
