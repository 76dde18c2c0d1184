"""What iron pulls at: every magnet on its own, and the iron that turns with a rotor.

The charge that all magnets together draw to the iron stands in the field of each of them; what that
does to the charge, the charge does to the magnet the other way.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fieldsim.field.force.charge_field import Body, outside_field_T
from fieldsim.field.force.rotor_force import MagnetForces, magnet_poses
from fieldsim.field.iron.magnetised_iron import MagnetisedIron
from fieldsim.field.iron.point_charges import field_of_charges
from fieldsim.machine.placed import PlacedRotor
from fieldsim.mechanics.attraction import hub_m
from fieldsim.mechanics.fourier import fourier_walk, two_sided
from fieldsim.mechanics.magnet_retention import arm_forces_N
from fieldsim.mechanics.shaft_loads import in_turning_axes

__all__ = ["IronPull", "iron_pull", "pull_through_repeat"]

Array = NDArray[np.float64]

_MU0 = 4e-7 * math.pi
_PER_TURN = 64  # angles of a rotor's turn: magnets pass iron in some of them
_POINTS = 200_000  # at once, to bound memory


@dataclass(frozen=True, eq=False)
class IronPull:
    """Forces between magnets and iron while the rotors turn.

    Parameters
    ----------
    on_magnets
        By rotor, from all iron but what turns with it, which only presses its magnets on.
    iron_force_N, iron_moment_Nm
        By rotor, on the iron that turns with it, from all other rotors' magnets and all other iron,
        and the moment about the rotor's hub, shape (samples, 3); empty without such iron.
    """

    on_magnets: dict[str, MagnetForces] = field(repr=False)
    iron_force_N: dict[str, Array] = field(repr=False)
    iron_moment_Nm: dict[str, Array] = field(repr=False)


def iron_pull(
    iron: MagnetisedIron, angles_rad: ArrayLike, told: Collection[str] | None = None
) -> IronPull:
    """Return the forces between magnets and iron at some angles of the rotors.

    Parameters
    ----------
    iron
        In the field of the magnets.
    angles_rad
        Of each rotor [rad], shape (rotors, samples).
    told
        Names of the rotors that are asked for; by default all.

    Notes
    -----
    Charge q [A m] in a flux density B feels the force q B (J. D. Jackson, Classical
    Electrodynamics, section 5.10, from memory), and so does every magnet from it the other way.
    Iron feels other iron as charges feel charges.
    """
    angles = np.asarray(angles_rad, dtype=np.float64)
    few, rotors = iron.few, iron.rotors
    points, asked = few.points, {rotor.name for rotor in rotors} if told is None else set(told)
    holder = np.array([piece.rotor for piece in iron.pieces])[few.piece]
    held = {str(name): np.flatnonzero(holder == name) for name in np.unique(holder)}
    magnets = {
        rotor.name: _nothing(rotor, angle) for rotor, angle in zip(rotors, angles, strict=True)
    }
    hubs = {r.name: hub_m(r) for r in rotors if r.magnets and r.name in asked & held.keys()}
    own = {name: np.zeros((2, angles.shape[1], 3)) for name in hubs}
    at_once = max(1, _POINTS // len(points))
    for first in range(0, angles.shape[1], at_once):
        part = slice(first, first + at_once)
        charge = few.down(iron.charge_at(angles[:, part]).T).T
        for rotor, angle in zip(rotors, angles, strict=True):
            felt = magnets[rotor.name]
            for m, mounted in enumerate(rotor.magnets):
                centre = felt.centre_m[part, m, None]
                turn = magnet_poses(rotor, angle[part])[1][:, m]
                for name, some in held.items():
                    if name == rotor.name or asked.isdisjoint((name, rotor.name)):
                        continue
                    arms = points[some] - centre
                    seen = outside_field_T(
                        Body.from_mounted(mounted), (arms @ turn).reshape(-1, 3)
                    ).reshape(arms.shape) @ turn.transpose(0, 2, 1)
                    on_iron = charge[:, some, None] * seen
                    felt.force_N[part, m] -= on_iron.sum(axis=1)
                    felt.torque_Nm[part, m] -= np.cross(arms, on_iron).sum(axis=1)
                    if name in own:
                        _add(own[name], part, points[some] - hubs[name], on_iron)
        for name, total in own.items():
            some, other = held[name], np.flatnonzero(holder != name)
            beside = field_of_charges(points[other], charge[:, other].T, points[some])
            on_iron = _MU0 * np.moveaxis(beside, -1, 0) * charge[:, some, None]
            _add(total, part, points[some] - hubs[name], on_iron)
    return IronPull(
        magnets, {n: f for n, (f, _) in own.items()}, {n: m for n, (_, m) in own.items()}
    )


def pull_through_repeat(
    iron: MagnetisedIron, whole_turns: Sequence[int], count: int
) -> tuple[dict[str, Array], dict[str, Array]]:
    """Return what iron does to rotors and their magnets at equal steps of the crank.

    Parameters
    ----------
    iron
        In the field of the magnets; the rotors stand at their starts at the first step.
    whole_turns
        That each rotor makes until all repeats, signed; none where nothing ever changes.
    count
        Number of steps.

    Returns
    -------
    tuple of dict
        By rotor with magnets: force and moment about its hub, its own iron's share with it, in axes
        that turn with it, (count, 2, 3) [N, N m]; and the force on each magnet in its arm's axes,
        (count, magnets, 3) [N].
    """
    steps = max(1, _PER_TURN * max(map(abs, whole_turns)))
    start = np.array([rotor.start for rotor in iron.rotors])[:, None]
    angles = start + np.outer(whole_turns, 2 * math.pi * np.arange(steps) / steps)
    found = iron_pull(iron, angles)
    loads, on_magnets = {}, {}
    for rotor, angle in zip(iron.rotors, angles, strict=True):
        if not rotor.magnets:
            continue
        felt = found.on_magnets[rotor.name]
        force, moment = felt.total_N, felt.moment_about_Nm(hub_m(rotor))
        if rotor.name in found.iron_force_N:
            force = force + found.iron_force_N[rotor.name]
            moment = moment + found.iron_moment_Nm[rotor.name]
        both = in_turning_axes(rotor, np.stack([force, moment], axis=1), angle)
        loads[rotor.name] = _at_steps(both, count)
        on_magnets[rotor.name] = _at_steps(arm_forces_N(rotor, felt, angle), count)
    return loads, on_magnets


def _at_steps(samples: Array, count: int) -> Array:
    """Return the same curves at another number of equal steps through the repeat."""
    series, orders = two_sided(samples.reshape(len(samples), -1))
    return fourier_walk(series, orders, count).reshape(count, *samples.shape[1:])


def _add(total: Array, part: slice, arms: Array, force_N: Array) -> None:
    total[0, part] += force_N.sum(axis=1)
    total[1, part] += np.cross(arms, force_N).sum(axis=1)


def _nothing(rotor: PlacedRotor, angles_rad: Array) -> MagnetForces:
    centre, _ = magnet_poses(rotor, angles_rad)
    return MagnetForces(np.zeros_like(centre), np.zeros_like(centre), centre)
