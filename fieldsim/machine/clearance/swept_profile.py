"""The solid that a turning magnet sweeps, seen in the half-plane through the shaft line.

A point there is (rho, z): distance from the shaft line, and height along it.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from fieldsim.machine.magnets import ArmAxis, Cuboid, Cylinder, Sphere
from fieldsim.machine.placed import PlacedMagnet

__all__ = ["Profile", "box_distance", "profile", "profile_points", "swept_rectangle"]

Array = NDArray[np.float64]
Profile = Callable[[Array, Array], Array]  # rho (n,), z (n,) -> signed distance (n,)


def box_distance(q: Array) -> Array:
    """Return the signed distance to a box from per-axis excesses ``q`` (n, axes)."""
    outside = np.sqrt((np.maximum(q, 0.0) ** 2).sum(axis=1))
    return np.asarray(outside + np.minimum(q.max(axis=1), 0.0))


def profile(mounted: PlacedMagnet) -> Profile:
    """Return the signed distance in the (rho, height) half-plane to a magnet's swept profile."""
    shape, r, h = mounted.magnet.shape, mounted.radius, mounted.height
    rectangle = swept_rectangle(mounted)
    if rectangle is not None:
        return _rectangle_profile(*rectangle)
    if isinstance(shape, Sphere):
        radius = shape.diameter / 2
        return lambda rho, z: np.hypot(rho - r, z - h) - radius
    assert isinstance(shape, Cylinder)  # noqa: S101  (blocks are rectangles)
    if shape.axis is ArmAxis.ARM:
        return _arm_cylinder_profile(shape, r, h)
    return _forward_cylinder_profile(shape, r, h)


def _rectangle_profile(inner: float, outer: float, low: float, high: float) -> Profile:
    def distance(rho: Array, z: Array) -> Array:
        radial = rho - outer if inner == 0.0 else np.maximum(inner - rho, rho - outer)
        return box_distance(np.stack([radial, np.maximum(low - z, z - high)], axis=1))

    return distance


def _arm_cylinder_profile(shape: Cylinder, r: float, h: float) -> Profile:
    """Return the distance to the profile of a cylinder that lies along the arm.

    Its far rim sweeps a sphere about the shaft: the profile is a strip cut off by a circle.
    """
    radius, half = shape.diameter / 2, shape.thickness / 2
    inner, rim = max(r - half, 0.0), r + half
    reach = math.hypot(rim, radius)

    def distance(rho: Array, z: Array) -> Array:
        z = np.abs(z - h)
        far = np.hypot(rho, z)
        before = inner - rho if inner > 0.0 else np.full_like(rho, -np.inf)
        depth = np.maximum(np.maximum(before, z - radius), far - reach)
        x, y = np.maximum(rho, inner), np.minimum(z, radius)
        outside = np.hypot(rho - x, z - y)
        # Where the strip's nearest point is beyond the circle, the circle's own, or the rim.
        cut = np.hypot(x, y) > reach
        to_rim = np.hypot(rho - rim, z - radius)
        on_circle = z * reach <= radius * far
        outside = np.where(cut, np.where(on_circle, far - reach, to_rim), outside)
        return np.where(depth <= 0, depth, outside)

    return distance


def _forward_cylinder_profile(shape: Cylinder, r: float, h: float) -> Profile:
    """Return the distance to the profile of a cylinder that lies across the arm.

    Inside it is a circle about (r, h), outside that circle's points moved out by what the ends of
    the cylinder add, hypot(rho, half length); above and below, flat between the two.
    """
    radius, half = shape.diameter / 2, shape.thickness / 2
    flat_end = math.hypot(r, half)

    def outer(rho: Array, z: Array) -> Array:
        """Return the distance to the outer curve, by bisection of its parameter."""
        low, high = np.zeros_like(rho), np.full_like(rho, math.pi / 2)
        for _ in range(24):  # to 1e-7 rad; the distance is stationary there
            phi = (low + high) / 2
            x = r + radius * np.cos(phi)
            p = np.hypot(x, half)
            slope = -(p - rho) * x * np.sin(phi) / p + (radius * np.sin(phi) - z) * np.cos(phi)
            low, high = np.where(slope < 0, phi, low), np.where(slope < 0, high, phi)
        p = np.hypot(r + radius * np.cos(phi), half)
        return np.hypot(p - rho, radius * np.sin(phi) - z)

    def distance(rho: Array, z: Array) -> Array:
        z = np.abs(z - h)
        chord = np.sqrt(np.maximum(radius**2 - z**2, 0.0))
        within = (z <= radius) & (rho <= np.hypot(r + chord, half))
        away = outer(rho, z)
        above = np.where(rho <= flat_end, z - radius, away)
        beyond = np.where(within, np.maximum(z - radius, -away), np.where(z > radius, above, away))
        return np.where(rho <= r, np.hypot(rho - r, z) - radius, beyond)

    return distance


def profile_points(
    shape: Cuboid | Cylinder | Sphere, r: float, u: Array, w: Array
) -> tuple[Array, Array]:
    """Return (rho, height above the magnet's centre) of points of a swept profile."""
    half = shape.size[2] / 2
    z = w * half
    chord = np.sqrt(np.maximum(half**2 - z**2, 0.0))
    x: Array | float
    y: Array | float
    if isinstance(shape, Cuboid):
        x, y = shape.size[0] / 2, shape.size[1] / 2
    elif isinstance(shape, Sphere):
        x, y = chord, 0.0
    elif shape.axis is ArmAxis.SHAFT:
        x, y = shape.diameter / 2, 0.0
    elif shape.axis is ArmAxis.ARM:
        x, y = shape.thickness / 2, chord
    else:
        x, y = chord, shape.thickness / 2
    inner, outer = np.maximum(r - x, 0.0), np.hypot(r + x, y)
    return inner + (u + 1) / 2 * (outer - inner), z


def swept_rectangle(mounted: PlacedMagnet) -> tuple[float, float, float, float] | None:
    """Return (inner, outer, low, high) of a swept profile, if it is a rectangle [m]."""
    shape, r, h = mounted.magnet.shape, mounted.radius, mounted.height
    if isinstance(shape, Cuboid):
        x, y, z = shape.size
        return max(r - x / 2, 0.0), math.hypot(r + x / 2, y / 2), h - z / 2, h + z / 2
    if isinstance(shape, Cylinder) and shape.axis is ArmAxis.SHAFT:
        x, z = shape.diameter, shape.thickness
        return max(r - x / 2, 0.0), r + x / 2, h - z / 2, h + z / 2
    return None
