"""Force and torque that two rotors' magnets exert on each other, over any angles.

Forces between rigid magnets superpose, so a rotor's force is a sum over pairs of magnets. Many of
those pairs meet in the same relative pose (evenly spaced magnets on one shaft line do at every
angle), and every distinct pose of a kind of pair is computed once, with the sign of the poles
taken out.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fieldsim.errors import ImpossibleError
from fieldsim.field.force.charge_field import Body
from fieldsim.field.force.magnet_force import pair_force
from fieldsim.machine.placed import PlacedMagnet, PlacedRotor

__all__ = [
    "MagnetForces",
    "RotorForces",
    "magnet_poses",
    "neighbour_forces",
    "refuse_too_many",
    "rotor_forces",
]

Array = NDArray[np.float64]

_SAME_LENGTH_m = 1e-10  # poses closer than this share one computation
_SAME_DIRECTION = 1e-10
_AT_ONCE = 100_000  # poses: each takes about a kilobyte
_MOST_FORCES = 3_000_000  # some seven microseconds each
_TOLERANCE = 1e-7  # between two orders; the finer one, which is kept, is far closer


@dataclass(frozen=True, eq=False)
class MagnetForces:
    """What every magnet of a rotor feels, in global coordinates.

    Parameters
    ----------
    force_N
        Shape (angles, magnets, 3).
    torque_Nm
        About each magnet's own centre, shape (angles, magnets, 3).
    centre_m
        Shape (angles, magnets, 3).
    """

    force_N: Array = field(repr=False)
    torque_Nm: Array = field(repr=False)
    centre_m: Array = field(repr=False)

    @property
    def total_N(self) -> Array:
        """Force on the whole rotor, shape (angles, 3)."""
        return np.asarray(self.force_N.sum(axis=1))

    def moment_about_Nm(self, point_m: ArrayLike) -> Array:
        """Return the moment on the whole rotor about a point, shape (angles, 3)."""
        arms = self.centre_m - np.asarray(point_m, dtype=float)
        return np.asarray((self.torque_Nm + np.cross(arms, self.force_N)).sum(axis=1))


@dataclass(frozen=True, eq=False)
class RotorForces:
    """Magnetic forces between two rotors over a table of angles.

    Parameters
    ----------
    first, second
        The rotors.
    first_angle_rad, second_angle_rad
        Their angles, shape (angles,).
    on_first, on_second
        What their magnets feel, in global coordinates.
    error_N
        Estimated error of the force, the largest over the table.
    error_Nm
        Estimated error of the torque about a shaft, likewise.
    """

    first: PlacedRotor
    second: PlacedRotor
    first_angle_rad: Array = field(repr=False)
    second_angle_rad: Array = field(repr=False)
    on_first: MagnetForces
    on_second: MagnetForces
    error_N: float
    error_Nm: float

    @property
    def force_on_first_N(self) -> Array:
        """In global coordinates, shape (angles, 3)."""
        return self.on_first.total_N

    @property
    def force_on_second_N(self) -> Array:
        """In global coordinates, shape (angles, 3)."""
        return self.on_second.total_N

    @property
    def torque_on_first_Nm(self) -> Array:
        """About the first shaft's ``along``, shape (angles,)."""
        return _shaft_torque(self.first, self.on_first)

    @property
    def torque_on_second_Nm(self) -> Array:
        """About the second shaft's ``along``, shape (angles,)."""
        return _shaft_torque(self.second, self.on_second)


def _shaft_torque(rotor: PlacedRotor, magnets: MagnetForces) -> Array:
    moment = magnets.moment_about_Nm(rotor.shaft.through)
    return np.asarray(moment @ np.asarray(rotor.shaft.along))


def magnet_poses(rotor: PlacedRotor, angle_rad: ArrayLike) -> tuple[Array, Array]:
    """Return where a rotor's magnets are at each rotor angle.

    Parameters
    ----------
    rotor
        The rotor.
    angle_rad
        Rotor angles [rad], shape (angles,).

    Returns
    -------
    tuple of ndarray
        Centres [m], shape (angles, magnets, 3), and matrices from arm axes to global, shape
        (angles, magnets, 3, 3).

    Examples
    --------
    >>> from fieldsim.machine.magnets import Cuboid, Magnet, North
    >>> from fieldsim.machine.placed import PlacedRotor
    >>> from fieldsim.machine.shaft import Shaft
    >>> bar = Magnet("bar", Cuboid((0.02, 0.01, 0.005)), 1.2)
    >>> mounted = PlacedMagnet(bar, 0.022, 0.0, 0.01, North.PLUS_SHAFT)
    >>> rotor = PlacedRotor("r", Shaft((0, 0, 0), (0, 0, 1)), (1, 0, 0), (mounted,))
    >>> centres, _ = magnet_poses(rotor, [0.0, np.pi / 2])
    >>> (1e3 * centres[:, 0]).round(6).tolist()
    [[22.0, 0.0, 10.0], [0.0, 22.0, 10.0]]
    """
    angles = np.atleast_1d(np.asarray(angle_rad, dtype=float))
    on_arm = np.array([m.angle for m in rotor.magnets])
    turned = angles[:, None] + on_arm
    cos, sin = np.cos(turned), np.sin(turned)
    spin = np.zeros((*turned.shape, 3, 3))
    spin[..., 0, 0], spin[..., 0, 1] = cos, -sin
    spin[..., 1, 0], spin[..., 1, 1] = sin, cos
    spin[..., 2, 2] = 1.0
    rotation = rotor.frame @ spin
    local = np.array([[m.radius, 0.0, m.height] for m in rotor.magnets]).reshape(-1, 3)
    centre = np.einsum("amij,mj->ami", rotation, local) + np.asarray(rotor.shaft.through)
    return centre, rotation


def rotor_forces(
    first: PlacedRotor,
    second: PlacedRotor,
    first_angle_rad: ArrayLike,
    second_angle_rad: ArrayLike,
    second_shift_m: ArrayLike = 0.0,
    tolerance: float = _TOLERANCE,
) -> RotorForces:
    """Return forces and torques between two rotors' magnets.

    Parameters
    ----------
    first, second
        The rotors; their shafts may lie anywhere.
    first_angle_rad, second_angle_rad
        Rotor angles [rad], shape (angles,) or one number for all.
    second_shift_m
        How far the second rotor stands displaced along its own shaft [m], shape (angles,) or one
        number for all.
    tolerance
        As in `fieldsim.field.force.magnet_force.pair_force`.

    Raises
    ------
    ImpossibleError
        If that are more forces than can be worked out in time.

    Examples
    --------
    A magnet over its like: it pulls, and does not turn.

    >>> from fieldsim.machine.magnets import Cuboid, Magnet, North
    >>> from fieldsim.machine.placed import PlacedRotor
    >>> from fieldsim.machine.shaft import Shaft
    >>> bar = Magnet("bar", Cuboid((0.02, 0.01, 0.005)), 1.2)
    >>> mounted = PlacedMagnet(bar, 0.022, 0.0, 0.0, North.PLUS_SHAFT)
    >>> low = PlacedRotor("low", Shaft((0, 0, 0), (0, 0, 1)), (1, 0, 0), (mounted,))
    >>> forces = rotor_forces(low, low.raised(0.02), 0.0, 0.0)
    >>> bool(forces.force_on_second_N[0, 2] < 0), bool(abs(forces.torque_on_second_Nm[0]) < 1e-9)
    (True, True)
    """
    first_angles, second_angles, shift = np.broadcast_arrays(
        *(np.atleast_1d(np.asarray(a, float)) for a in (first_angle_rad, second_angle_rad)),
        np.asarray(second_shift_m, dtype=float),
    )
    refuse_too_many([(first, second)], len(first_angles))
    first_centre, first_turn = magnet_poses(first, first_angles)
    second_centre, second_turn = magnet_poses(second, second_angles)
    second_centre = second_centre + (shift[:, None] * np.asarray(second.shaft.along))[:, None, :]
    pairs = [(i, j) for i in range(len(first.magnets)) for j in range(len(second.magnets))]
    on_first = _nothing(first_centre)
    on_second = _nothing(second_centre)
    errors = _add_pairs(
        (first.magnets, first_centre, first_turn, on_first),
        (second.magnets, second_centre, second_turn, on_second),
        pairs,
        tolerance,
    )
    lever = max((m.radius for r in (first, second) for m in r.magnets), default=0.0)
    error_N = float(errors[0].max(initial=0.0))
    error_Nm = float(errors[1].max(initial=0.0)) + lever * error_N
    return RotorForces(
        first, second, first_angles, second_angles, on_first, on_second, error_N, error_Nm
    )


def refuse_too_many(pairs: Iterable[tuple[PlacedRotor, PlacedRotor]], angles: int) -> None:
    """Refuse more forces between magnets than can be worked out in some twenty seconds.

    Raises
    ------
    ImpossibleError
        With how many they are.

    Examples
    --------
    >>> refuse_too_many([], 128)
    """
    forces = angles * sum(len(a.magnets) * len(b.magnets) for a, b in pairs)
    if forces > _MOST_FORCES:
        raise ImpossibleError(
            f"rotors: between their magnets there are {forces / 1e6:.3g} million forces, at "
            f"{angles} angles; at most {_MOST_FORCES // 10**6} million are worked out: leave out "
            "magnets or rotors"
        )


def neighbour_forces(rotor: PlacedRotor, tolerance: float = _TOLERANCE) -> Array:
    """Return the force on each magnet from the others of its own rotor, in arm axes.

    Returns
    -------
    ndarray
        [N], shape (magnets, 3): outward along the arm, forward, along the shaft. It turns with the
        rotor and does not depend on the angle.

    Examples
    --------
    >>> from fieldsim.machine.magnets import Cuboid, Magnet, North
    >>> from fieldsim.machine.placed import PlacedRotor
    >>> from fieldsim.machine.shaft import Shaft
    >>> bar = Magnet("bar", Cuboid((0.02, 0.01, 0.005)), 1.2)
    >>> pair = tuple(PlacedMagnet(bar, 0.022, a, 0.0, North.PLUS_SHAFT) for a in (0.0, np.pi))
    >>> rotor = PlacedRotor("r", Shaft((0, 0, 0), (0, 0, 1)), (1, 0, 0), pair)
    >>> bool(neighbour_forces(rotor)[0, 0] > 0)
    True
    """
    centre, turn = magnet_poses(rotor, 0.0)
    felt = _nothing(centre)
    body = (rotor.magnets, centre, turn, felt)
    count = len(rotor.magnets)
    pairs = [(i, j) for i in range(count) for j in range(i + 1, count)]
    _add_pairs(body, body, pairs, tolerance)
    return np.asarray(np.einsum("mji,mj->mi", turn[0], felt.force_N[0]))


def _nothing(centre: Array) -> MagnetForces:
    return MagnetForces(np.zeros_like(centre), np.zeros_like(centre), centre)


_Side = tuple[tuple[PlacedMagnet, ...], Array, Array, MagnetForces]


def _add_pairs(
    first: _Side, second: _Side, pairs: list[tuple[int, int]], tolerance: float
) -> tuple[Array, Array]:
    """Add what the pairs of magnets exert to both sides; return errors [N], [N m] by angle."""
    first_magnets, first_centre, first_turn, on_first = first
    second_magnets, second_centre, second_turn, on_second = second
    groups: dict[tuple[Body, Body], list[tuple[int, int, int]]] = defaultdict(list)
    for i, j in pairs:
        (a, sign_a), (b, sign_b) = _unsigned(first_magnets[i]), _unsigned(second_magnets[j])
        groups[a, b].append((i, j, sign_a * sign_b))
    angles = len(first_centre)
    error = np.zeros(angles), np.zeros(angles)
    for (a, b), members in groups.items():
        table = np.array(members)
        from_, to, sign = table[:, 0], table[:, 1], table[:, 2, None]
        at_once = max(1, _AT_ONCE // len(members))
        for few in (slice(i, i + at_once) for i in range(0, angles, at_once)):
            turn, beside = first_turn[few][:, from_], second_turn[few][:, to]
            away = second_centre[few][:, to] - first_centre[few][:, from_]
            offset = np.einsum("apji,apj->api", turn, away)
            relative = np.einsum("apji,apjk->apik", turn, beside)
            force, torque, error_N, error_Nm = _shared(a, b, offset, relative, tolerance)
            back = -(torque + np.cross(offset, force))
            _add(on_second, few, to, sign * _turned(turn, force), sign * _turned(turn, torque))
            _add(on_first, few, from_, -sign * _turned(turn, force), sign * _turned(turn, back))
            error[0][few] += error_N.sum(axis=1)
            error[1][few] += error_Nm.sum(axis=1)
    return error


def _turned(turn: Array, vectors: Array) -> Array:
    return np.asarray(np.einsum("apij,apj->api", turn, vectors))


def _add(
    felt: MagnetForces, few: slice, which: NDArray[np.int_], force: Array, torque: Array
) -> None:
    """Add the pairs' force and torque to magnets, one of which may be in several pairs."""
    for column, magnet in enumerate(which):
        felt.force_N[few, magnet] += force[:, column]
        felt.torque_Nm[few, magnet] += torque[:, column]


def _unsigned(mounted: PlacedMagnet) -> tuple[Body, int]:
    """Return a magnet as a body whose polarisation points along its arm axis, and the sign."""
    body = Body.from_mounted(mounted)
    x, y, z = body.polarization_T
    return Body(body.shape, (abs(x), abs(y), abs(z))), mounted.north.sign


def _shared(
    a: Body, b: Body, offset: Array, relative: Array, tolerance: float
) -> tuple[Array, Array, Array, Array]:
    """Return `pair_force` for poses (angles, pairs), computing each distinct pose once."""
    shape = offset.shape[:2]
    poses = np.concatenate([offset, relative.reshape(*shape, 9)], axis=2).reshape(-1, 12)
    steps = np.array([_SAME_LENGTH_m] * 3 + [_SAME_DIRECTION] * 9)
    _, chosen, back = np.unique(
        np.rint(poses / steps).astype(np.int64), axis=0, return_index=True, return_inverse=True
    )
    distinct = poses[chosen]
    result = pair_force(a, b, distinct[:, :3], distinct[:, 3:].reshape(-1, 3, 3), tolerance)
    back = back.reshape(shape)
    return (
        result.force_N[back],
        result.torque_Nm[back],
        result.error_N[back],
        result.error_Nm[back],
    )
