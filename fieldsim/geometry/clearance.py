"""Smallest distances between what turns and what stands still, and which parts collide.

A magnet turning about its shaft sweeps a solid of revolution. For a point outside, the nearest
point of that solid lies in the same half-plane through the shaft line, so the distance is one in
two dimensions: of (distance from the line, height) to the solid's profile. Where a winding has an
edge along the shaft, and where rotors share a shaft, both bodies are rectangles there and the
distance is exact. Elsewhere it is the minimum over the other body's points, found by a grid that
zooms in on its best cells; the distance never changes faster than the point moves.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from fieldsim.errors import ImpossibleError
from fieldsim.geometry.box_overlap import Boxes, separations_m
from fieldsim.geometry.machine import (
    ArmAxis,
    Coil,
    Cuboid,
    Cylinder,
    Geometry,
    MountedMagnet,
    Rotor,
    Sphere,
)

__all__ = ["Clearance", "check_collisions", "clearances", "rotor_to_winding_m"]

Array = NDArray[np.float64]
Distance = Callable[[Array], Array]  # points (n, 3) -> signed distance (n,), negative inside
Body = Callable[[Array], Array]  # parameters in [-1, 1] (n, 3) -> points (n, 3)

_TOUCH = 1e-9  # m; closer than this is a collision, above rounding and below any real fit
_LYING = 1e-6  # m; parts that lie face to face may seem to overlap by less than this


@dataclass(frozen=True)
class Clearance:
    """The smallest distance between two parts over a whole turn.

    Parameters
    ----------
    first, second
        What the parts are, for instance ``rotor "upper"`` and ``coil "pickup"``.
    distance_m
        Smallest distance [m]; negative by the depth of the overlap.
    """

    first: str
    second: str
    distance_m: float


def _box_distance(q: Array) -> Array:
    """Return the signed distance to a box from per-axis excesses ``q`` (n, axes)."""
    outside = np.sqrt((np.maximum(q, 0.0) ** 2).sum(axis=1))
    return np.asarray(outside + np.minimum(q.max(axis=1), 0.0))


def _cuboid_distance(centre: Array, frame: Array, half: Array) -> Distance:
    return lambda p: _box_distance(np.abs((p - centre) @ frame) - half)


def _cylinder_distance(
    centre: Array, frame: Array, radius: float, half: float, axis: int
) -> Distance:
    others = [i for i in range(3) if i != axis]

    def distance(p: Array) -> Array:
        local = (p - centre) @ frame
        rho = np.hypot(local[:, others[0]], local[:, others[1]]) - radius
        return _box_distance(np.stack([rho, np.abs(local[:, axis]) - half], axis=1))

    return distance


def _profile(mounted: MountedMagnet) -> Callable[[Array, Array], Array]:
    """Return the signed distance in the (rho, height) half-plane to a magnet's swept profile."""
    shape, r, h = mounted.magnet.shape, mounted.radius, mounted.height
    rectangle = _swept_rectangle(mounted)
    if rectangle is not None:
        return _rectangle_profile(*rectangle)
    if isinstance(shape, Sphere):
        radius = shape.diameter / 2
        return lambda rho, z: np.hypot(rho - r, z - h) - radius
    if shape.axis is ArmAxis.ARM:
        return _arm_cylinder_profile(shape, r, h)
    return _forward_cylinder_profile(shape, r, h)


def _rectangle_profile(
    inner: float, outer: float, low: float, high: float
) -> Callable[[Array, Array], Array]:
    def distance(rho: Array, z: Array) -> Array:
        radial = rho - outer if inner == 0.0 else np.maximum(inner - rho, rho - outer)
        return _box_distance(np.stack([radial, np.maximum(low - z, z - high)], axis=1))

    return distance


def _arm_cylinder_profile(shape: Cylinder, r: float, h: float) -> Callable[[Array, Array], Array]:
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


def _forward_cylinder_profile(
    shape: Cylinder, r: float, h: float
) -> Callable[[Array, Array], Array]:
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


def _swept_distance(rotor: Rotor, mounted: MountedMagnet) -> Distance:
    through, along = np.array(rotor.shaft.through), np.array(rotor.shaft.along)
    profile = _profile(mounted)

    def distance(p: Array) -> Array:
        v = p - through
        z = v @ along
        rho = np.sqrt(np.maximum((v * v).sum(axis=1) - z * z, 0.0))
        return profile(rho, z)

    return distance


def _pose(rotor: Rotor, mounted: MountedMagnet) -> tuple[Array, Array]:
    """Return centre (3,) and arm frame (3, 3) of a magnet at rotor angle zero."""
    c, s = math.cos(mounted.angle), math.sin(mounted.angle)
    frame = rotor.frame @ np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
    local = np.array([mounted.radius, 0.0, mounted.height])
    return np.array(rotor.shaft.through) + frame @ local, frame


def _still_distance(rotor: Rotor, mounted: MountedMagnet) -> Distance:
    centre, frame = _pose(rotor, mounted)
    shape = mounted.magnet.shape
    if isinstance(shape, Cuboid):
        return _cuboid_distance(centre, frame, np.array(shape.size) / 2)
    if isinstance(shape, Cylinder):
        return _cylinder_distance(
            centre, frame, shape.diameter / 2, shape.thickness / 2, shape.axis.value
        )
    radius = shape.diameter / 2
    return lambda p: np.sqrt(((p - centre) ** 2).sum(axis=1)) - radius


def _magnet_points(mounted: MountedMagnet, u: Array) -> Array:
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


def _still_body(rotor: Rotor, mounted: MountedMagnet) -> Body:
    centre, frame = _pose(rotor, mounted)
    return lambda u: centre + _magnet_points(mounted, u) @ frame.T


def _turning_bodies(rotor: Rotor, mounted: MountedMagnet) -> Iterator[Body]:
    """Yield bodies that together fill what a magnet sweeps: one for each eighth of its turn."""
    shape, r, h = mounted.magnet.shape, mounted.radius, mounted.height
    through, frame = np.array(rotor.shaft.through), rotor.frame

    def body(start: float) -> Body:
        def points(u: Array) -> Array:
            phi = start + math.pi / 8 * u[:, 1]
            rho, z = _profile_points(shape, r, u[:, 0], u[:, 2])
            local = np.stack([rho * np.cos(phi), rho * np.sin(phi), h + z], axis=1)
            return np.asarray(through + local @ frame.T)

        return points

    for i in range(8):
        yield body(i * math.pi / 4)


def _profile_points(
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


def _bars(coil: Coil) -> list[tuple[Array, Array, Array]]:
    """Return the winding as four bars that overlap at the corners: centre, frame, half sizes."""
    frame, centre = coil.frame, np.array(coil.centre)
    a, b = coil.opening[0] / 2, coil.opening[1] / 2
    t, h = coil.build / 2, coil.length / 2
    bars = []
    for sign in (1, -1):
        bars.append((centre + frame @ [0.0, sign * (b + t), 0.0], np.array([a + 2 * t, t, h])))
        bars.append((centre + frame @ [sign * (a + t), 0.0, 0.0], np.array([t, b + 2 * t, h])))
    return [(c, frame, half) for c, half in bars]


def _bar_body(centre: Array, frame: Array, half: Array) -> Body:
    return lambda u: centre + (u * half) @ frame.T


def _smallest(body: Body, distance: Distance, coarse: int = 13, parameters: int = 3) -> float:
    """Return the smallest signed distance from a body's points, by a grid that zooms in.

    Each round keeps the best cells and lays a finer grid in each; 24 rounds shrink a cell by 1e-9.
    """
    axis = np.linspace(-1, 1, coarse)
    grid = _lattice(axis, parameters)
    values = distance(body(grid))
    best = np.argsort(values, kind="stable")[:8]
    centres, width = grid[best], axis[1] - axis[0]
    lowest = float(values[best[0]])
    star = _lattice(np.linspace(-1, 1, 5), parameters)
    for _ in range(24):
        points = np.clip(centres[:, None, :] + width * star, -1, 1)
        values = distance(body(points.reshape(-1, parameters))).reshape(points.shape[:2])
        choice = values.argmin(axis=1)
        centres = points[np.arange(len(points)), choice]
        lowest = min(lowest, float(values.min()))
        order = np.argsort(values.min(axis=1), kind="stable")
        centres = centres[order[: max(2, len(order) // 2)]]
        width *= 0.42
    return lowest


def _lattice(axis: Array, parameters: int) -> Array:
    """Return every combination of values of an axis, shape (n, parameters)."""
    return np.stack(np.meshgrid(*[axis] * parameters, indexing="ij"), axis=-1).reshape(
        -1, parameters
    )


def _swept_rectangle(mounted: MountedMagnet) -> tuple[float, float, float, float] | None:
    """Return (inner, outer, low, high) of a swept profile, if it is a rectangle [m]."""
    shape, r, h = mounted.magnet.shape, mounted.radius, mounted.height
    if isinstance(shape, Cuboid):
        x, y, z = shape.size
        return max(r - x / 2, 0.0), math.hypot(r + x / 2, y / 2), h - z / 2, h + z / 2
    if isinstance(shape, Cylinder) and shape.axis is ArmAxis.SHAFT:
        x, z = shape.diameter, shape.thickness
        return max(r - x / 2, 0.0), r + x / 2, h - z / 2, h + z / 2
    return None


def _bar_rectangle(
    rotor: Rotor, centre: Array, frame: Array, half: Array
) -> tuple[float, float, float, float] | None:
    """Return (inner, outer, low, high) of a bar about a shaft that it stands along or across."""
    rise = rotor.shaft.along @ frame
    axis = int(np.abs(rise).argmax())
    if abs(abs(float(rise[axis])) - 1.0) > 1e-12:
        return None
    local = (np.array(rotor.shaft.through) - centre) @ frame
    z = -float(local[axis]) * float(rise[axis])
    flat = [i for i in range(3) if i != axis]
    offset = np.abs(local[flat])
    inner = float(np.hypot(*np.maximum(offset - half[flat], 0.0)))
    outer = float(np.hypot(*(offset + half[flat])))
    return inner, outer, z - float(half[axis]), z + float(half[axis])


def _rectangles_apart(
    one: tuple[float, float, float, float], two: tuple[float, float, float, float]
) -> float:
    """Return the signed distance of two rectangles, negative by the depth of their overlap."""
    radial = max(one[0] - two[1], two[0] - one[1])
    axial = max(one[2] - two[3], two[2] - one[3])
    if radial > 0 or axial > 0:
        return math.hypot(max(radial, 0.0), max(axial, 0.0))
    return max(radial, axial)


def _magnet_to_coil(rotor: Rotor, mounted: MountedMagnet, coil: Coil) -> float:
    distance = _swept_distance(rotor, mounted)
    swept = _swept_rectangle(mounted)
    found = []
    for bar in _bars(coil):
        # A bar with an edge along the shaft turns into a full rectangle of (rho, height).
        still = _bar_rectangle(rotor, *bar)
        if still is None:
            found.append(_smallest(_bar_body(*bar), distance))
        elif swept is None:
            found.append(_profile_to_rectangle(_profile(mounted), still))
        else:
            found.append(_rectangles_apart(swept, still))
    return min(found)


def _profile_to_rectangle(
    profile: Callable[[Array, Array], Array], still: tuple[float, float, float, float]
) -> float:
    middle = np.array([still[0] + still[1], still[2] + still[3]]) / 2
    half = np.array([still[1] - still[0], still[3] - still[2]]) / 2
    return _smallest(lambda u: middle + u * half, lambda p: profile(p[:, 0], p[:, 1]), parameters=2)


def _distinct_tracks(rotor: Rotor) -> list[MountedMagnet]:
    """Return one magnet for each different track that the rotor's magnets sweep."""
    tracks = {(m.magnet.shape, m.radius, m.height): m for m in rotor.magnets}
    return list(tracks.values())


def rotor_to_winding_m(rotor: Rotor, coils: tuple[Coil, ...]) -> float:
    """Return the smallest distance between a rotor's swept magnets and any winding [m].

    Negative if they overlap, by the depth of the overlap.
    """
    return min(_magnet_to_coil(rotor, m, coil) for m in _distinct_tracks(rotor) for coil in coils)


def _same_line(first: Rotor, second: Rotor) -> bool:
    """Return whether two rotors turn about the same line."""
    a, b = np.array(first.shaft.along), np.array(second.shaft.along)
    apart = np.cross(np.array(second.shaft.through) - np.array(first.shaft.through), a)
    return bool(np.linalg.norm(np.cross(a, b)) < 1e-9 and np.linalg.norm(apart) < 1e-9)


def _turn_together(first: Rotor, second: Rotor) -> bool:
    """Return whether two rotors share a shaft line and keep their angle to each other."""
    turned = round(float(np.dot(first.shaft.along, second.shaft.along)))
    return _same_line(first, second) and first.gear_ratio * turned == second.gear_ratio


def _at_crank_zero(rotor: Rotor) -> Rotor:
    """Return the rotor with its start angle worked into ``zero``."""
    c, s = math.cos(rotor.start), math.sin(rotor.start)
    turned = rotor.frame @ np.array([c, s, 0.0])
    return replace(rotor, zero=(turned[0], turned[1], turned[2]), start=0.0)


def _fixed_distance(first: Rotor, second: Rotor) -> float:
    """Return the smallest distance of the magnets of two rotors, as they stand."""
    least = separations_m(_magnet_boxes(first), _magnet_boxes(second))
    found = math.inf
    for index in np.argsort(least, axis=None):
        i, j = np.unravel_index(index, least.shape)
        if least[i, j] >= found:
            break
        body = _still_body(first, first.magnets[i])
        found = min(found, _smallest(body, _still_distance(second, second.magnets[j])))
    return found


def _rotor_to_rotor(first: Rotor, second: Rotor) -> float:
    if _turn_together(first, second):
        first, second = _at_crank_zero(first), _at_crank_zero(second)
        return _fixed_distance(first, second)
    found = []
    for m in _distinct_tracks(first):
        for n in _distinct_tracks(second):
            one = _swept_rectangle(m)
            two = _swept_about(second, n, first)
            if one is not None and two is not None:
                found.append(_rectangles_apart(one, two))
                continue
            distance = _swept_distance(second, n)
            found += [_smallest(body, distance, coarse=9) for body in _turning_bodies(first, m)]
    return min(found)


def _swept_about(
    rotor: Rotor, mounted: MountedMagnet, other: Rotor
) -> tuple[float, float, float, float] | None:
    """Return a swept rectangle in another rotor's (rho, height), if both share a shaft line."""
    rectangle = _swept_rectangle(mounted)
    if rectangle is None or not _same_line(rotor, other):
        return None
    along = np.array(other.shaft.along)
    shift = float((np.array(rotor.shaft.through) - np.array(other.shaft.through)) @ along)
    ends = [shift + float(along @ rotor.shaft.along) * z for z in rectangle[2:]]
    return rectangle[0], rectangle[1], min(ends), max(ends)


def _bounding_gap(first: Rotor, second: Rotor) -> float:
    """Return a lower bound of two rotors' distance, from spheres around what they sweep."""

    def sphere(rotor: Rotor) -> tuple[Array, float]:
        heights = [m.height for m in rotor.magnets]
        middle = (min(heights) + max(heights)) / 2
        reach = max(
            math.hypot(m.radius, m.height - middle) + math.hypot(*m.magnet.size) / 2
            for m in rotor.magnets
        )
        along = np.array(rotor.shaft.along)
        return np.array(rotor.shaft.through) + middle * along, reach

    (c1, r1), (c2, r2) = sphere(first), sphere(second)
    return float(np.linalg.norm(c1 - c2)) - r1 - r2


def clearances(geometry: Geometry) -> tuple[Clearance, ...]:
    """Return the smallest distance of every rotor to every winding and of rotors to each other.

    Rotors whose surrounding spheres stay apart are left out, unless they are all there is to say.
    """
    found = [
        Clearance(
            f'rotor "{rotor.name}"', f'coil "{coil.name}"', rotor_to_winding_m(rotor, (coil,))
        )
        for rotor in geometry.rotors
        for coil in geometry.coils
    ]
    found += [
        Clearance(f'rotor "{one.name}"', f'rotor "{two.name}"', _rotor_to_rotor(one, two))
        for one, two in combinations(geometry.rotors, 2)
        if _bounding_gap(one, two) <= 0
    ]
    return tuple(found)


def _collision(first: str, second: str, apart_m: float) -> Clearance:
    """Return the clearance of parts that may lie face to face, so that touching is no collision."""
    return Clearance(first, second, apart_m if apart_m < -_LYING else max(apart_m, 2 * _TOUCH))


def _magnet_boxes(rotor: Rotor) -> Boxes:
    """Return the smallest blocks around a rotor's magnets."""
    poses = [_pose(rotor, m) for m in rotor.magnets]
    halves = np.array([m.magnet.size for m in rotor.magnets]) / 2
    return Boxes(np.array([c for c, _ in poses]), np.array([f for _, f in poses]), halves)


def _own_overlaps(rotor: Rotor) -> Iterator[Clearance]:
    boxes = _magnet_boxes(rotor)
    for i, first in enumerate(rotor.magnets[:-1]):
        apart = separations_m(boxes[i], boxes[i + 1 :])[0]
        for k in np.nonzero(apart < -_LYING)[0]:
            second = rotor.magnets[i + 1 + k]
            depth = float(apart[k])
            if not (
                isinstance(first.magnet.shape, Cuboid) and isinstance(second.magnet.shape, Cuboid)
            ):
                depth = _smallest(_still_body(rotor, first), _still_distance(rotor, second))
            yield _collision(
                f'magnet {i + 1} of rotor "{rotor.name}"',
                f"magnet {i + 2 + k} of the same rotor",
                depth,
            )


def _coil_overlaps(geometry: Geometry) -> Iterator[Clearance]:
    bars = [_bars(coil) for coil in geometry.coils]
    boxes = [Boxes(*(np.array(part) for part in zip(*four, strict=True))) for four in bars]
    for i, first in enumerate(geometry.coils):
        for j in range(i + 1, len(geometry.coils)):
            apart = float(separations_m(boxes[i], boxes[j]).min())
            yield _collision(f'coil "{first.name}"', f'coil "{geometry.coils[j].name}"', apart)


def check_collisions(geometry: Geometry) -> tuple[Clearance, ...]:
    """Return `clearances` if nothing collides.

    Raises
    ------
    ImpossibleError
        If a swept magnet runs into a winding or another rotor, two magnets of a rotor overlap, or
        two windings do; the message names both parts and the overlap.
    """
    for rotor in geometry.rotors:
        _refuse_overlap(geometry, _own_overlaps(rotor))
    _refuse_overlap(geometry, _coil_overlaps(geometry))
    found = clearances(geometry)
    _refuse_overlap(geometry, found)
    return found


def _refuse_overlap(geometry: Geometry, found: Iterable[Clearance]) -> None:
    for item in found:
        if item.distance_m < _TOUCH:
            where = f"{geometry.file}: " if geometry.file else ""
            overlap = -item.distance_m
            how = f"overlap by {overlap * 1e3:.3g} mm" if overlap > _TOUCH else "touch"
            raise ImpossibleError(f"{where}{item.first} runs into {item.second}: they {how}")
