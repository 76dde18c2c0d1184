"""The rectangles of (rho, z), distance from the shaft and height, that a square winding fills.

Where a rectangular winding has an edge along the shaft, its points run through a rectangle of
(rho, z) as the magnet turns; only their angle about the shaft changes relative to it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.linkage.track import CoilInRotor, Track
from fieldsim.field.potential.edge_points import edge_points
from fieldsim.machine.magnets import ArmAxis
from fieldsim.wire.corners import Corners

__all__ = ["FlatTurns", "Patch", "RingSide", "ring_patches", "singular_rings", "stands_square"]

Array = NDArray[np.float64]

_SQUARE = 1e-12
_EDGE_PARTS = 8
_LONG = 6.0  # a side is long beside a distance this many times shorter than its half
_NEAR = 2.5  # times the smallest distance is still the near part of a side


def stands_square(coil: CoilInRotor) -> bool:
    """Return whether an edge of the winding runs along the shaft."""
    return bool((np.abs(coil.frame[2]) > 1.0 - _SQUARE).any())


@dataclass(frozen=True, eq=False)
class RingSide:
    """A side of the winding, or a piece of one, in rotor coordinates.

    Parameters
    ----------
    along, outward, axial
        Directions of the turn, through the build and along the coil (3,).
    middle_m
        Of the inner face (3,).
    half_m
        Half length of the whole side at the inner face.
    build_m, half_length_m
        Of the section.
    start, stop
        Where along the side it begins and ends: -1 to 1 for the whole side, 0 to 1 for its second
        half, in parts of each turn's half length.
    share
        How much of the whole winding's section it has.
    corners
        Of the turns; sides with round ones are not divided.
    """

    along: Array
    outward: Array
    axial: Array
    middle_m: Array
    half_m: float
    build_m: float
    half_length_m: float
    start: float = -1.0
    stop: float = 1.0
    share: float = 1.0
    corners: Corners = Corners.SHARP

    @property
    def is_round(self) -> bool:
        """Whether its turns end straight at the opening's corners and then bend."""
        return self.corners is Corners.ROUND

    def straight_m(self, depth_m: Array) -> Array:
        """Return the half length of the straight part of turns at some depths."""
        return np.full_like(depth_m, self.half_m) if self.is_round else self.half_m + depth_m

    @property
    def ends(self) -> tuple[int, ...]:
        """At which ends there are bends: 1 where it ends, -1 where it begins."""
        both = (1, -1) if self.start < 0 else (1,)
        return both if self.is_round else ()

    @property
    def runs_along_shaft(self) -> bool:
        """Whether the turns run along the shaft here, and not square to it."""
        return bool(abs(self.along[2]) > 1.0 - _SQUARE)

    @property
    def longest_m(self) -> float:
        """Half length of the outermost turn, its bends included."""
        return self.half_m + self.build_m

    @property
    def ends_m(self) -> tuple[float, float]:
        """From where to where along the side its longest turn runs."""
        low = self.start * (self.longest_m if self.start < 0 else self.half_m)
        high = self.stop * (self.longest_m if self.stop > 0 else self.half_m)
        return low, high

    def rho_range_m(self) -> tuple[float, float]:
        """Return the smallest and largest distance from the shaft."""
        low, high = self.ends_m
        x, y, _ = self.middle_m.tolist()
        edges = [
            (self.along.tolist(), (low + high) / 2, (high - low) / 2),
            (self.outward.tolist(), self.build_m / 2, self.build_m / 2),
            (self.axial.tolist(), 0.0, self.half_length_m),
        ]
        flat = [(abs(d[0] * x + d[1] * y + mid), half) for d, mid, half in edges if abs(d[2]) < 0.5]
        nearest = math.hypot(*(max(far - half, 0.0) for far, half in flat))
        return nearest, math.hypot(*(far + half for far, half in flat))

    def halved_along(self) -> tuple[RingSide, RingSide]:
        """Return the two halves of every turn."""
        middle = (self.start + self.stop) / 2
        return replace(self, stop=middle), replace(self, start=middle)

    def halved_in_depth(self) -> tuple[RingSide, RingSide]:
        """Return its inner and its outer turns."""
        half = self.build_m / 2
        inner = replace(self, build_m=half, share=self.share / 2)
        outer = self.middle_m + half * self.outward
        return inner, replace(inner, middle_m=outer, half_m=self.half_m + half)

    def halved_in_length(self) -> tuple[RingSide, RingSide]:
        """Return the two halves of its length."""
        half = self.half_length_m / 2
        one, two = (self.middle_m + sign * half * self.axial for sign in (-1, 1))
        piece = replace(self, half_length_m=half, share=self.share / 2)
        return replace(piece, middle_m=one), replace(piece, middle_m=two)


class FlatTurns(NamedTuple):
    """Turns square to the shaft, as `Patch` has them.

    Parameters
    ----------
    sides
        Of the winding.
    rho_m
        Their least and greatest distance from the shaft.
    mirror
        The angle about the shaft of a plane that mirrors these sides onto the rest, if any does.
    """

    sides: tuple[RingSide, ...]
    rho_m: tuple[float, float]
    mirror: float | None


@dataclass(frozen=True, eq=False)
class Patch:
    """A rectangle of (rho, z) and the sides of the winding that lie in it.

    With ``mirror``, the sides are half of the winding, and the plane through the shaft at that
    angle about it mirrors them onto the other half. A ``piece`` was divided off for one magnet.
    """

    rho_m: tuple[float, float]
    z_m: tuple[float, float]
    sides: tuple[RingSide, ...]
    mirror: float | None = None
    piece: bool = False

    @property
    def turns(self) -> FlatTurns:
        """What turns square to the shaft are, whatever their height."""
        return FlatTurns(self.sides, self.rho_m, self.mirror)

    @property
    def in_plane(self) -> bool:
        """Whether the turns lie square to the shaft, so that all heights count alike."""
        return bool(abs(self.sides[0].axial[2]) > 1.0 - _SQUARE)

    @property
    def along_shaft(self) -> bool:
        """Whether the sides run along the shaft."""
        return self.sides[0].runs_along_shaft


def ring_patches(track: Track, coil: CoilInRotor) -> tuple[Patch, ...]:
    """Return the winding side by side, without sides that link nothing at any angle.

    Sides that share their rectangle share a patch.

    Parameters
    ----------
    track
        Of the magnet: a long side is cut round the part that comes near it.
    coil
        A winding with an edge along the shaft.
    """
    if abs(coil.frame[2, 2]) > 1.0 - _SQUARE:
        return (_in_plane_patch(coil),)
    singular = singular_rings(track)
    groups: dict[tuple[float, ...], list[RingSide]] = {}
    for side in _sides(coil):
        if side.runs_along_shaft and track.north is ArmAxis.SHAFT:
            continue  # along the magnetisation there is no potential
        rho = side.rho_range_m()
        for z in _z_ranges(side, rho, singular):
            key = tuple(round(k, 13) for k in (*rho, *z))
            groups.setdefault(key, []).append(side)
    return tuple(
        Patch((key[0], key[1]), (key[2], key[3]), tuple(sides)) for key, sides in groups.items()
    )


def _in_plane_patch(coil: CoilInRotor) -> Patch:
    """Return the one patch of a winding whose turns lie square to the shaft."""
    middle, half = float(coil.centre[2]), coil.half_length
    numbers = (*coil.centre[:2].tolist(), *coil.frame.ravel().tolist(), *coil.half_opening)
    flat = _flat_patch(numbers, coil.build, coil.corners)
    return replace(flat, z_m=(middle - half, middle + half))


@lru_cache(maxsize=64)
def _flat_patch(numbers: tuple[float, ...], build_m: float, corners: Corners) -> Patch:
    """Return the same at height zero: all coils of a stack and rows of a gap study share it."""
    centre, frame = np.array([*numbers[:2], 0.0]), np.array(numbers[2:11]).reshape(3, 3)
    coil = CoilInRotor(centre, frame, (numbers[11], numbers[12]), build_m, 0.0, corners)
    sides = _sides(coil)
    ranges = [side.rho_range_m() for side in sides]
    rho = (min(low for low, _ in ranges), max(high for _, high in ranges))
    return Patch(rho, (0.0, 0.0), *_halved(coil, sides))


def singular_rings(track: Track) -> Array:
    """Return points of the magnet where the potential is singular, (points, 3).

    Distance from the shaft and height [m], and angle from the arm, either way [rad].
    """
    points = edge_points(track.shape, _EDGE_PARTS)
    outward, forward = points[:, 0] + track.radius, points[:, 1]
    rho, angle = np.hypot(outward, forward), np.abs(np.arctan2(forward, outward))
    return np.stack([rho, points[:, 2] + track.height, angle], axis=1)


def _sides(coil: CoilInRotor) -> list[RingSide]:
    four = coil.sides
    return [
        RingSide(
            along, outward, axial, middle, half, coil.build, coil.half_length, corners=coil.corners
        )
        for (along, outward, axial), middle, half in zip(
            four.frame, four.middle_m, four.half_m.tolist(), strict=True
        )
    ]


def _halved(coil: CoilInRotor, sides: list[RingSide]) -> tuple[tuple[RingSide, ...], float | None]:
    """Return half of the sides and the angle of the plane that mirrors them, if any does."""
    x, y, _ = coil.centre.tolist()
    reach = math.hypot(x, y) + sum(coil.half_opening)
    for column in (0, 1):
        normal = coil.frame[:, column].tolist()
        if abs(normal[0] * x + normal[1] * y) < _SQUARE * reach:
            # Sides along the normal are cut in two by the plane, of the others one is kept.
            halves = [replace(sides[i], start=0.0) for i in (column, column + 2)]
            return (*halves, sides[1 - column]), math.atan2(-normal[0], normal[1])
    return tuple(sides), None


def _z_ranges(
    side: RingSide, rho: tuple[float, float], singular: Array
) -> list[tuple[float, float]]:
    """Return the heights that a side covers, cut round the part near the magnet if it is long.

    The ends of a side along the shaft depend on the depth in the build; these are the farthest.
    """
    centre = float(side.middle_m[2])
    if not side.runs_along_shaft:
        ends = (centre, centre + float(side.outward[2]) * side.build_m)
        return [(min(ends), max(ends))]
    reach = side.longest_m
    z = centre + reach * np.linspace(-1, 1, 49)
    apart = np.maximum(np.maximum(rho[0] - singular[:, 0], singular[:, 0] - rho[1]), 0.0)
    distance = np.hypot(apart, z[:, None] - singular[:, 1]).min(axis=1)
    near = z[distance <= _NEAR * distance.min()]
    cuts = [centre - reach, centre + reach]
    if reach > _LONG * distance.min() and near[-1] - near[0] < 1.2 * reach:
        # What is left beyond a cut must be worth a patch of its own, and corners stay whole: cut,
        # they would have kinks where the diagonal or the bend meets the cut.
        ends_of_near = sorted({float(near[0]), float(near[-1])})
        farthest = min(0.9 * reach, side.half_m)
        cuts[1:1] = [c for c in ends_of_near if abs(c - centre) < farthest]
    return list(pairwise(cuts))
