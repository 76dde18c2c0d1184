"""The charge that magnets draw to iron while they turn past it, of every piece."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.iron.fineness import FINENESSES, Fineness
from fieldsim.field.iron.iron_energy import drawn_charge, iron_among_magnets
from fieldsim.field.iron.iron_system import FewPoints, IronSystem
from fieldsim.field.iron.reach import from_iron, from_rotor, nearest_of
from fieldsim.machine.placed import PlacedIron, PlacedRotor

__all__ = ["MagnetisedIron", "magnetised_iron"]

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]
Whole = NDArray[np.int64]

_FEW_DIGITS = 14.0  # of what few points tell of many: forces to 1e-4
_ORDERS = 32  # in a rotor's angle: higher ones end within a section, or a magnet's own width


@dataclass(frozen=True, eq=False)
class MagnetisedIron:
    """Iron in the field of all magnets.

    At point k its charge is the real part of the sum over rows i of
    ``charge[i, k] exp(1j order[i] angle(rotor[i]))``.

    Parameters
    ----------
    rotors
        All of the machine.
    system
        With the points.
    rotor, order
        Of each row: which rotor, and the order in its angle, of both signs, (rows,).
    charge
        [A m], (rows, points).
    """

    rotors: tuple[PlacedRotor, ...]
    system: IronSystem = field(repr=False)
    rotor: Whole = field(repr=False)
    order: Whole = field(repr=False)
    charge: Complex = field(repr=False)

    @property
    def pieces(self) -> tuple[PlacedIron, ...]:
        """Those that are magnetic."""
        return self.system.all_pieces

    @property
    def piece(self) -> NDArray[np.intp]:
        """Which piece each point belongs to, (points,)."""
        return self.system.piece

    @cached_property
    def few(self) -> FewPoints:
        """Points that stand for the iron, for all magnets and iron that do not turn with it."""
        reaches = []
        for piece in self.pieces:
            others = [r for r in self.rotors if r.magnets and r.name != piece.rotor]
            beside = [each for each in self.pieces if each.rotor != piece.rotor]
            reaches.append(nearest_of([*map(from_rotor, others), *map(from_iron, beside)]))
        return self.system.few_points(reaches, _FEW_DIGITS)

    def charge_at(self, angles_rad: Array) -> Array:
        """Return the charge [A m] while the rotors stand at angles.

        Parameters
        ----------
        angles_rad
            Of each rotor [rad], (rotors, samples).

        Returns
        -------
        ndarray
            Shape (samples, points).
        """
        turned = np.exp(1j * self.order[:, None] * np.asarray(angles_rad)[self.rotor])
        return np.asarray((turned.T @ self.charge).real)


def magnetised_iron(
    pieces: Sequence[PlacedIron], rotors: Sequence[PlacedRotor], fine: Fineness = FINENESSES[0]
) -> MagnetisedIron | None:
    """Return iron with the charge that magnets draw to it, or None without either.

    Parameters
    ----------
    pieces
        Of iron; still, or round about the shaft of the rotor that they turn with.
    rotors
        With the magnets.
    fine
        How many nodes it gets; the roughest is good to some per cent.
    """
    magnetic = [piece for piece in pieces if piece.material.susceptibility > 0]
    moving = [i for i, rotor in enumerate(rotors) if rotor.magnets]
    if not magnetic or not moving:
        return None
    system = iron_among_magnets(magnetic, [rotors[i] for i in moving], fine)
    orders = np.concatenate([np.arange(_ORDERS), -np.arange(1, _ORDERS)])
    drawn = [drawn_charge(rotors[i], system, orders, 4 * _ORDERS) for i in moving]
    return MagnetisedIron(
        tuple(rotors), system, np.repeat(moving, len(orders)),
        np.tile(orders, len(moving)), np.concatenate(drawn),
    )  # fmt: skip
