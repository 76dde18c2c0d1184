"""The energy of iron in the field of the rotors' magnets, as Fourier series in their angles.

The iron is round about its shaft where it turns, so its surface never changes: only the magnets
move past it. Each rotor's potential and field on that surface is one Fourier series in its angle;
every order is solved for once, and all orders of all rotors meet in one matrix.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.force.charge_field import Body as MagnetBody
from fieldsim.field.force.charge_field import outside_field_T
from fieldsim.field.iron.coil_iron import is_about
from fieldsim.field.iron.fineness import FINENESSES, Fineness
from fieldsim.field.iron.iron_system import IronSystem, iron_system
from fieldsim.field.iron.point_charges import Reach
from fieldsim.field.iron.reach import from_rotor
from fieldsim.field.iron.round_body import RoundBody
from fieldsim.field.linkage.track import magnets_by_track
from fieldsim.field.potential.magnet_potential import magnet_potential
from fieldsim.machine.frames import Vec3
from fieldsim.machine.magnets import Shape
from fieldsim.machine.placed import PlacedIron, PlacedRotor

__all__ = [
    "IronEnergy",
    "drawn_charge",
    "iron_among_magnets",
    "iron_energy",
    "outward_series",
    "potential_series",
    "resolved_potential",
    "within_harmonics",
]

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]
Orders = NDArray[np.int64]

_MU0 = 4e-7 * math.pi
_FIRST, _MOST = 128, 256  # angles of a turn
_NEAREST_M = 2.5e-3  # nothing nearer is resolved; where magnets touch iron the error tells
_INTO_M = 1e-9  # iron that magnets lie against is outside them, which rounding must not decide
_RESOLVED = 1e-5  # the highest orders of the potential beside the largest
_NOTHING = 1e-7  # an order beside the largest: the poles' symmetry leaves most of them out
_GOOD = 1e-3  # by which two sets of nodes may differ
_SMALL = 1e-9  # of the energy: no torque at all
_POINTS = 200_000  # at once, to bound memory


@dataclass(frozen=True, eq=False)
class IronEnergy:
    """Energy of linear iron between rigid magnets.

    The energy is the sum over i and j of
    ``energy_J[i, j] exp(1j (order[i] angle(rotor[i]) + order[j] angle(rotor[j])))``.

    Parameters
    ----------
    rotors
        Their names.
    rotor
        Which of them each row belongs to, shape (rows,).
    order
        Order of each row in its rotor's angle, of both signs, shape (rows,).
    energy_J
        Symmetric, shape (rows, rows).
    rough_J
        The same from rougher nodes, that tell its error.
    tail
        Size of the highest orders beside the largest: what more angles would have told.

    Notes
    -----
    Iron that a fixed field H magnetises to M has the energy -mu0/2 times the integral of M H over
    its volume (J. D. Jackson, Classical Electrodynamics, section 5.16, from memory). With H minus
    the gradient of a potential, and no charge but on the surface, that is +mu0/2 times the integral
    of charge and potential over the surface.
    """

    rotors: tuple[str, ...]
    rotor: Orders = field(repr=False)
    order: Orders = field(repr=False)
    energy_J: Complex = field(repr=False)
    rough_J: Complex = field(repr=False)
    tail: float

    def torque_series(self, name: str, rough: bool = False) -> Complex:
        """Return coefficients of the torque on a rotor's magnets about its ``along`` [N m].

        Minus the derivative of the energy by that rotor's angle, in the same rows and columns.

        Parameters
        ----------
        name
            Of the rotor.
        rough
            From the rougher nodes.
        """
        own = np.where(self.rotor == self.rotors.index(name), self.order, 0)
        energy = self.rough_J if rough else self.energy_J
        return np.asarray(-1j * (own[:, None] + own) * energy)


def iron_energy(pieces: Sequence[PlacedIron], rotors: Sequence[PlacedRotor]) -> IronEnergy:
    """Return the energy of iron in the field of magnets.

    Parameters
    ----------
    pieces
        Of iron; still, or round about the shaft of the rotor that they turn with.
    rotors
        With the magnets.
    """
    names = tuple(rotor.name for rotor in rotors)
    none = np.zeros(0, dtype=np.int64)
    nothing = np.zeros((0, 0), dtype=np.complex128)
    magnetic = [piece for piece in pieces if piece.material.susceptibility > 0]
    if not magnetic or not any(rotor.magnets for rotor in rotors):
        return IronEnergy(names, none, none, nothing, nothing, 0.0)
    rough = iron_among_magnets(magnetic, rotors, FINENESSES[0])
    alike = _turned_alike(rough, rotors)
    if (
        alike is not None
        and len({r.gear_ratio * s for r, s in zip(rotors, alike, strict=True)}) < 2
    ):
        # All turns as one about what is round about the same line: nothing ever changes.
        rows = np.arange(len(rotors), dtype=np.int64)
        still = np.zeros((len(rotors),) * 2, dtype=np.complex128)
        return IronEnergy(names, rows, np.zeros_like(rows), still, still, 0.0)
    kept, steps, tail = _kept_orders(rotors, rough)
    which = np.concatenate([np.full(len(k), i) for i, k in enumerate(kept)]).astype(np.int64)
    order = np.concatenate(kept)
    signed = order if alike is None else order * np.array(alike)[which]
    may_be = np.ones((len(order),) * 2, bool) if alike is None else signed[:, None] == -signed
    before = np.where(may_be, _energy_J(rotors, rough, kept, steps), 0.0)
    for fine in FINENESSES[1:]:
        system = iron_among_magnets(magnetic, rotors, fine)
        now = np.where(may_be, _energy_J(rotors, system, kept, steps), 0.0)
        found = IronEnergy(names, which, order, now, before, tail)
        if _is_good(found):
            break
        before = now
    return found


def iron_among_magnets(
    pieces: Sequence[PlacedIron], rotors: Sequence[PlacedRotor], fine: Fineness
) -> IronSystem:
    """Return iron with nodes as fine as rotors' magnets need, which feel its charge too.

    Parameters
    ----------
    pieces, fine
        As for `iron_system`.
    rotors
        At least one of them with magnets.
    """
    reaches = [_not_too_near(from_rotor(rotor)) for rotor in rotors if rotor.magnets]
    return iron_system(pieces, reaches, reaches, fine)


def _not_too_near(reach: Reach) -> Reach:
    return lambda points: np.maximum(reach(points), _NEAREST_M)


def _is_good(found: IronEnergy) -> bool:
    """Return whether two sets of nodes tell the same torques."""
    nothing = _SMALL * float(np.abs(found.energy_J).max(initial=0.0))
    for name in found.rotors:
        fine, rough = (_by_harmonic(found, name, r) for r in (False, True))
        if np.abs(fine - rough).max() > max(_GOOD * float(np.abs(fine).max()), nothing):
            return False
    return True


def _by_harmonic(found: IronEnergy, name: str, rough: bool) -> Complex:
    """Return what a rotor feels, with all that has one order in every rotor's angle as one."""
    series = found.torque_series(name, rough)
    span = 4 * int(np.abs(found.order).max(initial=0)) + 1
    of = np.where(np.arange(len(found.rotors))[:, None] == found.rotor, found.order, 0)
    key = np.zeros(series.shape, dtype=np.int64)
    for each in of:
        key = key * span + each[:, None] + each
    keys, back = np.unique(key.ravel(), return_inverse=True)
    total = np.zeros(len(keys), dtype=np.complex128)
    np.add.at(total, back.ravel(), series.ravel())
    return total


def _turned_alike(system: IronSystem, rotors: Sequence[PlacedRotor]) -> tuple[int, ...] | None:
    """Return how each rotor turns about the one line that all is round about; None without one.

    Turning all rotors together about it then changes nothing.
    """
    round_ = [body for body in system.bodies if isinstance(body, RoundBody)]
    if len(round_) < len(system.bodies):
        return None
    if not all(is_about(body, rotor) for body in round_ for rotor in rotors):
        return None
    first = np.array(rotors[0].shaft.along)
    return tuple(1 if first @ np.array(rotor.shaft.along) > 0 else -1 for rotor in rotors)


def _kept_orders(
    rotors: Sequence[PlacedRotor], system: IronSystem
) -> tuple[list[Orders], list[int], float]:
    """Return the orders that each rotor's magnets have on the iron, of both signs.

    Then the angles of a turn that tell them, and the size of the highest beside the largest.
    """
    kept, wanted, worst = [], [], 0.0
    for rotor in rotors:
        potential, steps, tail = resolved_potential(rotor, system)
        normal = outward_series(rotor, system, steps)
        worst = max(worst, tail)
        height, slope = (np.abs(s).max(axis=1, initial=0.0) for s in (potential, normal))
        largest = float(height.max())
        counts = (height > _NOTHING * largest) | (slope > _NOTHING * float(slope.max()))
        orders = np.flatnonzero(counts & (slope + height > 0))
        kept.append(np.concatenate([orders, -orders[orders > 0]]).astype(np.int64))
        wanted.append(steps)
    return kept, wanted, worst


def resolved_potential(rotor: PlacedRotor, system: IronSystem) -> tuple[Complex, int, float]:
    """Return mu0 times the potential of a rotor's magnets at the iron's points [T m].

    As `potential_series`; then the angles of a turn that tell it, and the size of its highest
    orders beside the largest.
    """
    steps = _FIRST
    while True:
        potential = potential_series(rotor, system, steps)
        height = np.abs(potential).max(axis=1, initial=0.0)
        largest = float(height.max())
        top = float(height[-(len(height) // 4) :].max())
        if top <= _RESOLVED * largest or steps >= _MOST:
            return potential, steps, top / largest if largest > 0 else 0.0
        steps *= 2


def _energy_J(
    rotors: Sequence[PlacedRotor],
    system: IronSystem,
    kept: Sequence[Orders],
    steps: Sequence[int],
) -> Complex:
    """Return the matrix of `IronEnergy`, in rows by rotor and order."""
    trios = list(zip(rotors, kept, steps, strict=True))
    potentials = [_both_signs(potential_series(r, system, n), orders) for r, orders, n in trios]
    charges = [drawn_charge(r, system, orders, n) for r, orders, n in trios]
    matrix = 0.5 * np.concatenate(potentials) @ np.concatenate(charges).T
    # What one field does to the charge of another is mutual; nodes keep that to their error.
    return np.asarray((matrix + matrix.T) / 2)


def drawn_charge(rotor: PlacedRotor, system: IronSystem, orders: Orders, steps: int) -> Complex:
    """Return the charge that a rotor's magnets draw to the iron's points [A m], (orders, points).

    Parameters
    ----------
    rotor
        Whose magnets draw it.
    system
        The iron.
    orders
        In the rotor's angle: first those from zero, then the opposites of those above it.
    steps
        Angles of a turn to take them from, more than twice the highest.
    """
    normal = within_harmonics(rotor, system, outward_series(rotor, system, steps))
    some = orders[orders >= 0]
    # Real and imaginary parts side by side: each is a field of its own.
    parts = np.concatenate([normal[some].real, normal[some].imag]).T / _MU0
    drawn = system.charges(parts[:, None, :] * system.normals[:, :, None])
    charge = (drawn[:, : len(some)] + 1j * drawn[:, len(some) :]).T
    return np.concatenate([charge, charge[some > 0].conj()])


def _both_signs(series: Complex, orders: Orders) -> Complex:
    """Return some orders of a real curve's series: those from zero, then their opposites."""
    some = orders[orders >= 0]
    return np.concatenate([series[some], series[some[some > 0]].conj()])


def within_harmonics(rotor: PlacedRotor, system: IronSystem, series: Complex) -> Complex:
    """Return a series without what nodes of iron round about the rotor's shaft cannot tell.

    There an order is a harmonic round the axis; nodes would take higher ones for lower.

    Parameters
    ----------
    rotor
        That turns.
    system
        The iron.
    series
        Orders from zero at its points, (orders, points); changed in place.
    """
    places = np.split(np.arange(len(system.points)), system.ends)
    for body, held in zip(system.bodies, places, strict=True):
        if isinstance(body, RoundBody) and is_about(body, rotor):
            series[body.harmonics + 1 :, held] = 0.0
    return series


def potential_series(rotor: PlacedRotor, system: IronSystem, steps: int) -> Complex:
    """Return mu0 times the potential of a rotor's magnets at the iron's points [T m].

    Orders from zero of its Fourier series in the rotor's angle, (orders, points).

    Parameters
    ----------
    rotor
        With the magnets.
    system
        The iron.
    steps
        Angles of a turn to take them from.
    """

    def potential(shape: Shape, north: int, arm: Array, _: Array) -> Array:
        return magnet_potential(shape, arm, north)

    return _orders(rotor, system, steps, potential)


def outward_series(rotor: PlacedRotor, system: IronSystem, steps: int) -> Complex:
    """Return the outward field of a rotor's magnets at the iron's points [T], likewise."""

    def outward(shape: Shape, north: int, arm: Array, normals: Array) -> Array:
        along: Vec3 = (float(north == 0), float(north == 1), float(north == 2))
        field_T = outside_field_T(MagnetBody(shape, along), np.ascontiguousarray(arm.T))
        return np.asarray(np.einsum("ni,in->n", field_T, normals))

    return _orders(rotor, system, steps, outward)


def _orders(
    rotor: PlacedRotor,
    system: IronSystem,
    steps: int,
    of_magnet: Callable[[Shape, int, Array, Array], Array],
) -> Complex:
    """Return orders of what a rotor's magnets do at the iron's points, (orders, points).

    ``of_magnet`` takes a shape of 1 T, its axis, points and normals seen from its arm, (3, n).
    """
    total = np.zeros((steps // 2, len(system.points)), dtype=np.complex128)
    orders = np.arange(steps // 2)
    angle = 2 * math.pi / steps * np.arange(steps)[:, None]
    cos, sin = np.cos(angle), np.sin(angle)

    def on_arm(vectors: Array) -> Array:
        x, y, z = vectors.T
        turned = (cos * x + sin * y, cos * y - sin * x, np.broadcast_to(z, (steps, len(z))))
        return np.stack(turned).reshape(3, -1)

    for track, mounts in magnets_by_track(rotor).items():
        factor = sum(strength_T * np.exp(1j * orders * at) for strength_T, at in mounts)
        some = max(1, _POINTS // steps)
        for first in range(0, len(system.points), some):
            part = slice(first, first + some)
            into = system.points[part] - _INTO_M * system.normals[part]
            points = (into - np.array(rotor.shaft.through)) @ rotor.frame
            normals = system.normals[part] @ rotor.frame
            arm = on_arm(points) - np.array((track.radius, 0.0, track.height))[:, None]
            values = of_magnet(track.shape, track.north.value, arm, on_arm(normals))
            series = np.fft.rfft(values.reshape(steps, -1), axis=0)[: steps // 2] / steps
            total[:, part] += factor[:, None] * series
    return total
