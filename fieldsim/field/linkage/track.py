"""Tracks: what magnets sweep, and how the linkage of one magnet varies round its track.

Free space and rigid magnets make linkage linear, so it is enough to know, for one coil, the curve
of one magnet of 1 T remanence at arm angle theta; identical magnets on one track share it, shifted
by their angle and scaled by their signed remanence.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.linkage.winding_sides import WindingSides, rectangle_sides
from fieldsim.machine.magnets import ArmAxis, Shape
from fieldsim.machine.placed import PlacedCoil, PlacedMagnet, PlacedRotor
from fieldsim.wire.corners import Corners

__all__ = [
    "CoilInRotor",
    "Mirror",
    "Track",
    "coil_in_rotor",
    "magnets_by_track",
    "mirror_of",
    "track_of",
]

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Track:
    """The path of one kind of magnet about a shaft.

    Parameters
    ----------
    shape
        Of the magnet.
    radius, height
        Of its centre, from the shaft line and along it [m].
    north
        Arm axis that the magnetisation lies along.
    """

    shape: Shape
    radius: float
    height: float
    north: ArmAxis


def track_of(mounted: PlacedMagnet) -> Track:
    """Return the track that a mounted magnet runs on."""
    return Track(mounted.magnet.shape, mounted.radius, mounted.height, mounted.north.axis)


def magnets_by_track(rotor: PlacedRotor) -> dict[Track, list[tuple[float, float]]]:
    """Return the signed polarisation [T] and the angle [rad] of every magnet on each track."""
    tracks: dict[Track, list[tuple[float, float]]] = {}
    for mounted in rotor.magnets:
        tracks.setdefault(track_of(mounted), []).append((mounted.strength_T, mounted.angle))
    return tracks


@dataclass(frozen=True, eq=False)
class CoilInRotor:
    """A coil in the coordinates of a rotor at angle zero (x = zero, z = along the shaft).

    Parameters
    ----------
    centre
        Shape (3,) [m].
    frame
        Shape (3, 3): columns side, axis x side, axis.
    half_opening
        Half of the inside of the winding [m].
    build, half_length
        Of the winding section [m].
    corners
        Of the turns.
    """

    centre: Array
    frame: Array
    half_opening: tuple[float, float]
    build: float
    half_length: float
    corners: Corners = Corners.SHARP

    @cached_property
    def sides(self) -> WindingSides:
        """The sides of the winding, in the same coordinates."""
        return rectangle_sides(
            self.centre, self.frame, self.half_opening, self.build, 2 * self.half_length,
            self.corners,
        )  # fmt: skip


def coil_in_rotor(coil: PlacedCoil, rotor: PlacedRotor) -> CoilInRotor:
    """Return a coil as the rotor sees it."""
    to_rotor = rotor.frame.T
    return CoilInRotor(
        to_rotor @ (np.array(coil.centre) - np.array(rotor.shaft.through)),
        to_rotor @ coil.frame,
        (coil.opening[0] / 2, coil.opening[1] / 2),
        coil.build,
        coil.length / 2,
        coil.corners,
    )


@dataclass(frozen=True)
class Mirror:
    """A mirror symmetry of a curve: f(angle + t) = sign * f(angle - t)."""

    angle: float
    sign: int


def mirror_of(track: Track, coil: CoilInRotor) -> Mirror | None:
    """Return the mirror symmetry of a coil's linkage with a track, if there is one.

    A plane through the shaft line mirrors the coil onto itself if the coil's centre lies in it and
    its normal is along one of the coil's edges. Magnetisation and the coil's axis are axial
    vectors: their part along the normal stays, the part in the plane is reversed.
    """
    x, y = coil.centre[:2]
    reach = float(np.abs(coil.centre).max()) + sum(coil.half_opening) + track.radius
    for column in range(3):
        normal = coil.frame[:, column]
        if abs(normal[2]) > 1e-12 or abs(normal[0] * x + normal[1] * y) > 1e-12 * reach:
            continue
        axis_kept = 1 if column == 2 else -1
        magnet_kept = 1 if track.north is ArmAxis.FORWARD else -1
        return Mirror(math.atan2(-normal[0], normal[1]), axis_kept * magnet_kept)
    return None
