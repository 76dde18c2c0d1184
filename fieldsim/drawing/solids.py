"""A machine as convex solids to be drawn: magnet halves by pole, winding sides, rods."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from enum import Enum
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from fieldsim.drawing.magnet_halves import Face, half_shape
from fieldsim.machine.machine import Machine
from fieldsim.machine.placed import PlacedCoil, PlacedMagnet, PlacedRotor

__all__ = [
    "Face",
    "Material",
    "Rod",
    "Solid",
    "coil_solids",
    "cut_solid",
    "magnet_frame",
    "magnet_solids",
    "outer_radius_m",
    "rod_outside",
    "rotor_angle_rad",
    "rotor_solids",
]

Points = NDArray[np.float64]


class Material(Enum):
    """What a solid or rod is drawn as."""

    NORTH = "north"
    SOUTH = "south"
    WINDING = "winding"
    CUT = "winding cut"
    IRON = "iron"
    SHAFT = "shaft"
    ARM = "arm"


@dataclass(frozen=True, eq=False)
class Solid:
    """A convex body of flat faces.

    Parameters
    ----------
    part
        Name of the rotor or coil it belongs to.
    material
        What it is.
    faces
        All around.
    """

    part: str
    material: Material
    faces: tuple[Face, ...]

    @cached_property
    def corners(self) -> Points:
        """All faces' corners, (points, 3) [m]."""
        return np.concatenate([f.corners for f in self.faces])

    @cached_property
    def planes(self) -> tuple[Points, Points]:
        """Outward unit normals (faces, 3) and offsets (faces,): inside is ``n . x <= d``."""
        counts = np.array([len(f.corners) for f in self.faces])
        starts = np.cumsum(counts) - counts
        points = self.corners
        off = points - np.repeat(points[starts], counts, axis=0)
        following = np.arange(1, len(points) + 1)
        following[starts + counts - 1] = starts
        (ax, ay, az), (bx, by, bz) = off.T, off[following].T
        turned = np.column_stack([ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx])
        normals = np.add.reduceat(turned, starts)
        normals /= np.sqrt((normals * normals).sum(axis=1))[:, None]
        middles = np.add.reduceat(points, starts) / counts[:, None]
        offsets = (normals * middles).sum(axis=1)
        sign = np.where(normals @ points.mean(axis=0) > offsets, -1.0, 1.0)
        return normals * sign[:, None], offsets * sign


@dataclass(frozen=True, eq=False)
class Rod:
    """A straight line from ``start`` to ``end`` [m], (3,) each."""

    part: str
    material: Material
    start: Points = field(repr=False)
    end: Points = field(repr=False)


def rotor_angle_rad(rotor: PlacedRotor, crank_angle_rad: float) -> float:
    """Return the rotor's angle [rad] when the crank stands at ``crank_angle_rad``."""
    return rotor.start + float(rotor.gear_ratio) * crank_angle_rad


def magnet_frame(
    rotor: PlacedRotor, mounted: PlacedMagnet, crank_angle_rad: float = 0.0
) -> tuple[Points, Points]:
    """Return where a magnet stands.

    Returns
    -------
    centre
        (3,) [m].
    axes
        (3, 3): columns outward, forward and along the shaft.
    """
    angle = rotor_angle_rad(rotor, crank_angle_rad) + mounted.angle
    turn = np.array(
        [
            [math.cos(angle), -math.sin(angle), 0.0],
            [math.sin(angle), math.cos(angle), 0.0],
            [0.0, 0.0, 1.0],
        ]
    )
    axes = np.asarray(rotor.frame, dtype=np.float64) @ turn
    centre = np.array(rotor.shaft.through) + axes @ np.array([mounted.radius, 0.0, mounted.height])
    return centre, axes


def magnet_solids(
    rotor: PlacedRotor, mounted: PlacedMagnet, crank_angle_rad: float = 0.0
) -> tuple[Solid, Solid]:
    """Return the north and the south half of a mounted magnet."""
    centre, axes = magnet_frame(rotor, mounted, crank_angle_rad)
    axis, sign = mounted.north.axis.value, mounted.north.sign
    halves = []
    for material, side in ((Material.NORTH, sign), (Material.SOUTH, -sign)):
        faces = half_shape(mounted.magnet.shape, axis, side)
        placed = tuple(Face(f.corners @ axes.T + centre, f.edges) for f in faces)
        halves.append(Solid(rotor.name, material, placed))
    return halves[0], halves[1]


def rotor_solids(machine: Machine, crank_angle_rad: float = 0.0) -> list[Solid]:
    """Return both halves of every magnet of the machine."""
    return [
        half
        for rotor in machine.placed_rotors
        for mounted in rotor.magnets
        for half in magnet_solids(rotor, mounted, crank_angle_rad)
    ]


def coil_solids(coil: PlacedCoil) -> list[Solid]:
    """Return the four sides of a winding, mitred at the corners."""
    a, b, t, half = coil.opening[0] / 2, coil.opening[1] / 2, coil.build, coil.length / 2
    around = ((1, 1), (-1, 1), (-1, -1), (1, -1))
    inner = [np.array([sx * a, sy * b]) for sx, sy in around]
    outer = [np.array([sx * (a + t), sy * (b + t)]) for sx, sy in around]
    frame, centre = np.asarray(coil.frame, dtype=np.float64), np.array(coil.centre)
    sides = []
    for i in range(4):
        j = (i + 1) % 4
        base = np.array([inner[i], inner[j], outer[j], outer[i]])
        caps = [np.column_stack([base, np.full(4, z)]) for z in (half, -half)]
        faces = [Face(cap, (True, False, True, False)) for cap in caps]
        for k in range(4):
            m = (k + 1) % 4
            corners = np.array([caps[0][k], caps[0][m], caps[1][m], caps[1][k]])
            faces.append(Face(corners, (True,) * 4, shown=k % 2 == 0))
        placed = tuple(Face(f.corners @ frame.T + centre, f.edges, f.shown) for f in faces)
        sides.append(Solid(coil.name, Material.WINDING, placed))
    return sides


def cut_solid(solid: Solid, normal: Points, offset_m: float) -> Solid | None:
    """Return the part of a solid with ``normal . x <= offset_m``, or nothing if there is none."""
    size = float(np.ptp(solid.corners @ normal))
    near = 1e-9 * max(size, 1e-12)
    heights = solid.corners @ normal - offset_m
    if heights.max() <= near:
        return solid
    if heights.min() >= -near:
        return None
    faces: list[Face] = []
    rim: list[Points] = []
    for face in solid.faces:
        corners: list[Points] = []
        edges: list[bool] = []
        level = face.corners @ normal - offset_m
        for i, here in enumerate(face.corners):
            j = (i + 1) % len(face.corners)
            if level[i] <= 0:
                corners.append(here)
                edges.append(face.edges[i])
            if (level[i] <= 0) != (level[j] <= 0):
                share = level[i] / (level[i] - level[j])
                crossing = here + share * (face.corners[j] - here)
                rim.append(crossing)
                corners.append(crossing)
                edges.append(face.edges[i] if level[i] > 0 else False)
        if len(corners) >= 3:
            faces.append(Face(np.array(corners), tuple(edges), face.shown, face.cut))
    cap = _in_order_around(np.array(rim), normal)
    hidden = [p for p, f in zip(zip(*solid.planes, strict=True), solid.faces, strict=True)
              if not f.shown]  # fmt: skip
    shows = []
    for here, there in zip(cap, np.roll(cap, -1, axis=0), strict=True):
        inside_part = any(abs(n @ here - d) < 1e-9 and abs(n @ there - d) < 1e-9 for n, d in hidden)
        shows.append(not inside_part)
    faces.append(Face(cap, tuple(shows), cut=True))
    return Solid(solid.part, solid.material, tuple(faces))


def rod_outside(rod: Rod, solids: list[Solid]) -> list[Rod]:
    """Return the pieces of a rod that lie outside all solids."""
    step = rod.end - rod.start
    gaps = [(0.0, 1.0)]
    for enter, leave in _within(rod.start, step, solids):
        gaps = [
            piece
            for low, high in gaps
            for piece in ((low, min(high, enter)), (max(low, leave), high))
            if piece[1] - piece[0] > 1e-6
        ]
    return [
        Rod(rod.part, rod.material, rod.start + low * step, rod.start + high * step)
        for low, high in gaps
    ]


def _within(start: Points, step: Points, solids: list[Solid]) -> list[tuple[float, float]]:
    """Return from which to which share of a step each solid holds it, of those that do."""
    if not solids:
        return []
    normals = np.concatenate([solid.planes[0] for solid in solids])
    offsets = np.concatenate([solid.planes[1] for solid in solids])
    counts = np.array([len(solid.faces) for solid in solids])
    first = np.cumsum(counts) - counts
    level, slope = offsets - normals @ start, normals @ step
    with np.errstate(divide="ignore", invalid="ignore"):
        at = level / slope
    enter = np.maximum.reduceat(np.where(slope < 0, at, 0.0), first).clip(0.0)
    leave = np.minimum.reduceat(np.where(slope > 0, at, 1.0), first).clip(None, 1.0)
    beside = np.logical_or.reduceat((slope == 0) & (level < 0), first)
    held = ~beside & (leave - enter >= 1e-9)
    return list(zip(enter[held].tolist(), leave[held].tolist(), strict=True))


def outer_radius_m(rotor: PlacedRotor, solids: list[Solid]) -> float:
    """Return the largest distance of the rotor's magnets from its shaft line [m]."""
    points = [s.corners for s in solids if s.part == rotor.name]
    if not points:
        return 0.0
    off = np.concatenate(points) - np.array(rotor.shaft.through)
    along = np.array(rotor.shaft.along)
    off = off - np.outer(off @ along, along)
    return float(np.sqrt((off**2).sum(axis=1)).max())


def _in_order_around(points: Points, normal: Points) -> Points:
    """Return the distinct points of a convex outline in order around ``normal``."""
    middle = points.mean(axis=0)
    off = points - middle
    first = off[np.argmax((off**2).sum(axis=1))]
    angle = np.arctan2(off @ np.cross(normal, first), off @ first)
    ordered = points[np.argsort(angle)]
    step = np.sqrt(((ordered - np.roll(ordered, 1, axis=0)) ** 2).sum(axis=1))
    distinct: Points = ordered[step > 1e-9]
    return distinct
