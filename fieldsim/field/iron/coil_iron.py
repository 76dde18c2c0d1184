"""What iron adds to the linkage and inductance of a machine's coils."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fieldsim.errors import ImpossibleError
from fieldsim.field.iron.fineness import FINENESSES, Fineness
from fieldsim.field.iron.iron_curve import SeenIron
from fieldsim.field.iron.iron_system import Body, IronSystem, iron_system
from fieldsim.field.iron.reach import from_rotor, from_winding, swept_distance
from fieldsim.field.iron.rings import ChargedPoints, OwnRings, own_rings, patch_rings
from fieldsim.field.iron.round_body import RoundBody
from fieldsim.field.potential.winding_field import winding_field, winding_potential
from fieldsim.machine.magnets import Sphere
from fieldsim.machine.placed import PlacedCoil, PlacedIron, PlacedRotor

__all__ = ["NO_IRON", "CoilIron", "IronLevel", "is_about"]

Array = NDArray[np.float64]
_Charges = tuple[Array, Array]  # points and the charge at each

_MU0 = 4e-7 * math.pi
_LAYERS = (3, 4, 5, 7)  # of turns, by level
_MORE = 1.0  # digits, natural, by which points on iron are better than what is asked for
_MORE_OF_BALLS = 2.0  # as much beyond that, whose field is singular in their centre
_MORE_ON_RINGS = 3.0  # as much for rings, which are interpolated to


@dataclass(frozen=True)
class IronLevel:
    """The iron at one fineness of nodes, and the charge that each coil draws to it.

    Parameters
    ----------
    pieces, coils, rotors
        Of one machine.
    fine
        How many nodes the iron gets.
    layers
        Of turns, into which the quadrature divides windings.
    """

    pieces: tuple[PlacedIron, ...]
    coils: tuple[PlacedCoil, ...]
    rotors: tuple[PlacedRotor, ...]
    fine: Fineness
    layers: int

    @cached_property
    def system(self) -> IronSystem:
        """The iron, ready to be solved for."""
        sources = [from_winding(coil) for coil in self.coils]
        listeners = [from_rotor(rotor) for rotor in self.rotors]
        return iron_system(self.pieces, sources, listeners, self.fine)

    @cached_property
    def fields(self) -> Array:
        """Field at the system's points of one ampere in each coil [1/m], (points, 3, coils)."""
        points = self.system.points
        fields = [winding_field(coil, points, self.layers) for coil in self.coils]
        return np.stack(fields, axis=-1)

    @cached_property
    def charges(self) -> Array:
        """Charge at the system's points for one ampere in each coil [A m], (points, coils)."""
        return np.asarray(self.system.charges(self.fields))

    def charge_per_turn(self, coil: PlacedCoil) -> list[Array]:
        """Return the charge that an ampere in one turn of a coil draws to each body [A m]."""
        which = [each.name for each in self.coils].index(coil.name)
        return self.system.split(self.charges[:, which] / coil.turns)

    @cached_property
    def inductance_H(self) -> Array:
        """What the iron adds to the inductances of the coils, (coils, coils) [H].

        The linkage of one coil with the iron that an ampere in another magnetises: -mu0 times the
        sum of charge and the first coil's own potential.
        """
        return np.asarray(self.inductance_of_H(self.charges))

    def inductance_of_H(self, charges: Any) -> Any:
        """Return the inductances of charge drawn by an ampere in each coil [H], (coils, coils).

        Parameters
        ----------
        charges
            At the system's points [A m], real or complex, (points, coils).
        """
        total = -_MU0 * (self.potentials @ charges)
        return (total + total.T) / 2

    @cached_property
    def potentials(self) -> Array:
        """Potential at the system's points of one ampere in each coil, (coils, points).

        Raises
        ------
        ImpossibleError
            If a piece goes round one side of a winding.
        """
        found = [
            [
                winding_potential(coil, body.points, self.layers, _goes_through(body, coil))
                for body in self.system.bodies
            ]
            for coil in self.coils
        ]
        return np.array([np.concatenate(parts) for parts in found])


def is_about(body: RoundBody, rotor: PlacedRotor) -> bool:
    """Return whether a body is round about the line that a rotor turns about."""
    (x, y, z), (a, b, c) = body.origin.tolist(), body.frame[:, 2].tolist()
    return rotor.shaft.sense_of((x, y, z), (a, b, c)) != 0


def _goes_through(body: Body, coil: PlacedCoil) -> NDArray[np.bool_]:
    """Return which points of a body belong to pieces that are in the opening of a winding.

    Raises
    ------
    ImpossibleError
        If a piece goes round one side of the winding.
    """
    x, y, z = np.abs((body.points - np.array(coil.centre)) @ coil.frame).T
    beside = z < coil.length / 2
    within = beside & (x <= coil.opening[0] / 2) & (y <= coil.opening[1] / 2)
    pieces = body.pieces
    through = np.bincount(pieces, within) > 0
    if (through & (np.bincount(pieces, beside & ~within) > 0)).any():
        raise ImpossibleError(
            f'iron goes round one side of coil "{coil.name}", in the opening and outside; what '
            "such a ring adds to its inductance is not known"
        )
    return np.asarray(through[pieces])


@dataclass(frozen=True, eq=False)
class CoilIron:
    """The iron of a machine, and what it adds to linkages and inductances.

    Solved for when it is first asked for, and kept.

    Parameters
    ----------
    pieces
        Of iron.
    coils, rotors
        In whose fields it is.

    Examples
    --------
    >>> bool(CoilIron((), (), ()))
    False
    """

    pieces: tuple[PlacedIron, ...]
    coils: tuple[PlacedCoil, ...] = field(repr=False)
    rotors: tuple[PlacedRotor, ...] = field(repr=False)
    _seen: dict[tuple[str, str, int, float], SeenIron] = field(default_factory=dict, repr=False)

    def __bool__(self) -> bool:
        """Return whether there is anything magnetic."""
        return any(piece.material.susceptibility > 0 for piece in self.pieces)

    @cached_property
    def levels(self) -> tuple[IronLevel, ...]:
        """The iron at ever finer nodes."""
        parts = self.pieces, self.coils, self.rotors
        return tuple(IronLevel(*parts, f, n) for f, n in zip(FINENESSES, _LAYERS, strict=True))

    def seen(self, coil: PlacedCoil, rotor: PlacedRotor, level: int, relative: float) -> SeenIron:
        """Return the charge of an ampere in one turn of a coil, as a rotor's magnets see it.

        Parameters
        ----------
        coil, rotor
            Of the machine.
        level
            Of nodes, from 1; those of the level below stand for their error.
        relative
            Error of the linkage asked for, relative to its swing.
        """
        key = (coil.name, rotor.name, level, relative)
        if key not in self._seen:
            self._seen[key] = self._seen_by(coil, rotor, level, relative)
        return self._seen[key]

    def _seen_by(
        self, coil: PlacedCoil, rotor: PlacedRotor, level: int, relative: float
    ) -> SeenIron:
        digits, swept = -math.log(relative) + _MORE, swept_distance(rotor)
        if any(isinstance(mounted.magnet.shape, Sphere) for mounted in rotor.magnets):
            digits += _MORE_OF_BALLS
        whole, fine, own = self._charges_seen(coil, rotor, self.levels[level], digits)
        _, rough, rough_own = self._charges_seen(coil, rotor, self.levels[level - 1], digits)
        few = [ChargedPoints.both(*both) for both in zip(fine, rough, strict=True)]
        rings = [r for each in few for r in patch_rings(each, swept, digits + _MORE_ON_RINGS)]
        every = tuple(ChargedPoints.at(*each) for each in whole)
        return SeenIron(every, tuple(few), tuple(rings), tuple(own), tuple(rough_own))

    @staticmethod
    def _charges_seen(
        coil: PlacedCoil, rotor: PlacedRotor, level: IronLevel, digits: float
    ) -> tuple[list[_Charges], list[_Charges], list[OwnRings]]:
        """Return points in the rotor's coordinates with charges, and rings about its shaft.

        All points, and the few that stand for them.
        """
        swept, reach = swept_distance(rotor), from_rotor(rotor)
        whole, points, rings = [], [], []

        def seen(place: Array) -> Array:
            return np.asarray((place - np.array(rotor.shaft.through)) @ rotor.frame)

        system = level.system
        for body, pieces, charge in zip(
            system.bodies, system.pieces, level.charge_per_turn(coil), strict=True
        ):
            if isinstance(body, RoundBody) and is_about(body, rotor):
                rings.append(own_rings(body, charge, rotor, swept))
                continue
            reduction = body.reduction([reach] * len(pieces), digits)
            whole.append((seen(body.points), charge))
            points.append((seen(reduction.points), reduction.down(charge[:, None])[:, 0]))
        return whole, points, rings

    def inductance(self, relative: float) -> tuple[Array, Array]:
        """Return what the iron adds to the inductances [H], and its error, (coils, coils).

        Parameters
        ----------
        relative
            Error asked for, of the largest entry.
        """
        before = self.levels[0].inductance_H
        for level in self.levels[1:]:
            now = level.inductance_H
            error = np.abs(now - before)
            if float(error.max()) <= relative * float(np.abs(now).max()):
                break
            before = now
        return now, error


NO_IRON = CoilIron((), (), ())
"""A machine without iron."""
