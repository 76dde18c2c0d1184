"""The field of a rotor's magnets at points that stand still, while it turns."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.force.charge_field import Body, outside_field_T
from fieldsim.field.linkage.track import magnets_by_track
from fieldsim.machine.placed import PlacedMagnet, PlacedRotor

__all__ = ["repeats_in_a_turn", "turning_field_T"]

Array = NDArray[np.float64]

_SAME_RAD = 1e-9
_SAME_PLACE = 1e-9  # of a turn
_POINTS = 200_000  # at once, to bound memory


def turning_field_T(rotor: PlacedRotor, angles_rad: Array, points_m: Array) -> Array:
    """Return ``mu0 H`` of a rotor's magnets [T], (angles, points, 3).

    Parameters
    ----------
    rotor
        With its magnets.
    angles_rad
        Of the rotor [rad], (angles,).
    points_m
        In space, outside the magnets [m], (points, 3).

    Notes
    -----
    Magnets that are alike but for their place on the track and their sign are worked out once for
    each angle at which one of them stands.

    Examples
    --------
    >>> from fieldsim.machine_file.reader import read
    >>> (wheel,) = read("geometries/bolt_beside_magnets.yaml").placed_rotors
    >>> above = np.array([[0.03, 0.0, 0.02]])
    >>> field = turning_field_T(wheel, np.array([0.0, math.pi / 2]), above)
    >>> field[:, 0, 2].round(3).tolist()  # the next magnet has its north turned round
    [0.128, -0.128]
    """
    local = (points_m - np.array(rotor.shaft.through)) @ rotor.frame
    total = np.zeros((len(angles_rad), len(points_m), 3))
    for track, mounts in magnets_by_track(rotor).items():
        strength, angle = np.array(mounts).T
        axis = track.north.value
        body = Body(track.shape, (float(axis == 0), float(axis == 1), float(axis == 2)))
        stands = np.round((angles_rad[:, None] + angle) % math.tau / _SAME_RAD).astype(np.int64)
        stands %= round(math.tau / _SAME_RAD)
        places, which = np.unique(stands, return_inverse=True)
        weight = np.zeros((len(angles_rad), len(places)))
        np.add.at(
            weight, (np.arange(len(angles_rad))[:, None], which.reshape(stands.shape)), strength
        )
        step = max(1, _POINTS // len(places))
        for first in range(0, len(points_m), step):
            part = local[first : first + step]
            seen = _turned(part, -places * _SAME_RAD) - (track.radius, 0.0, track.height)
            field = outside_field_T(body, seen.reshape(-1, 3)).reshape(seen.shape)
            field = _turned(field, places * _SAME_RAD)
            total[:, first : first + step] += np.tensordot(weight, field, axes=1)
    return np.asarray(total @ rotor.frame.T)


def _turned(vectors: Array, angles_rad: Array) -> Array:
    """Return vectors (n, 3), or (angles, n, 3), turned about the third axis, (angles, n, 3)."""
    cos, sin = np.cos(angles_rad)[:, None], np.sin(angles_rad)[:, None]
    x, y, z = vectors[..., 0], vectors[..., 1], vectors[..., 2]
    turned = (cos * x - sin * y, sin * x + cos * y, np.broadcast_to(z, (len(cos), z.shape[-1])))
    return np.stack(turned, axis=-1)


def repeats_in_a_turn(rotor: PlacedRotor) -> int:
    """Return how often a rotor's magnets stand as before within a turn.

    Examples
    --------
    >>> from fieldsim.machine_file.reader import read
    >>> (wheel,) = read("geometries/bolt_beside_magnets.yaml").placed_rotors
    >>> len(wheel.magnets), repeats_in_a_turn(wheel)  # norths up and down in turn
    (4, 2)
    """
    of: dict[tuple[object, ...], list[float]] = {}
    for mounted in rotor.magnets:
        of.setdefault(_without_angle(mounted), []).append(mounted.angle / math.tau % 1.0)
    if not of:
        return 1
    most = math.gcd(*(len(places) for places in of.values()))
    return max(
        n
        for n in range(1, most + 1)
        if most % n == 0 and all(_same(np.array(places), 1.0 / n) for places in of.values())
    )


def _same(places: Array, step: float) -> bool:
    apart = np.abs((places[:, None] + step - places + 0.5) % 1.0 - 0.5)
    return bool((apart.min(axis=1) < _SAME_PLACE).all())


def _without_angle(mounted: PlacedMagnet) -> tuple[object, ...]:
    return mounted.magnet, mounted.radius, mounted.height, mounted.north
