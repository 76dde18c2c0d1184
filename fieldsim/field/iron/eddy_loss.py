"""The power that turning magnets lose to eddy currents in iron.

Every magnet works on the iron's charge as it turns past: mu0 times the average of charge times the
rate of the magnet's potential. Charge that follows the field at once gives back all it takes; what
comes late does not. All rotors that change the field at one frequency count together.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.iron.iron_eddies import IronEddies, orders_that_count
from fieldsim.field.iron.iron_system import IronSystem
from fieldsim.field.iron.screened_bodies import has_eddies, of_complex
from fieldsim.machine.placed import PlacedRotor

__all__ = ["EddyLoss", "eddy_loss"]

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]

_MU0 = 4e-7 * math.pi
_LEFT_OUT = 5e-3  # of the loss, by orders that hardly count


@dataclass(frozen=True, eq=False)
class EddyLoss:
    """Average powers that eddy currents take from turning magnets.

    Parameters
    ----------
    drawn_W
        From each rotor, (rotors,) [W]; one that helps another on may be below zero.
    pieces
        Names of those with eddy currents.
    lost_W
        In each, (pieces,) [W]. Both add up to the same. Of what round pieces about one axis do to
        each other, how it is shared between them is not reckoned with.
    """

    drawn_W: Array = field(repr=False)
    pieces: tuple[str, ...]
    lost_W: Array = field(repr=False)


def eddy_loss(
    eddies: IronEddies,
    rotors: Sequence[PlacedRotor],
    ratios: Sequence[Fraction],
    base_rad_per_s: float,
) -> EddyLoss:
    """Return what eddy currents take from magnets that turn at steady speeds.

    Parameters
    ----------
    eddies
        Of the iron.
    rotors
        With the magnets, as they stand at the start.
    ratios, base_rad_per_s
        Turns of each for a turn of the base, signed, and the base's speed.

    Notes
    -----
    With amplitudes s of charge and f of potential at the angular frequency w the average is
    (w/2) Im sum s conj(f); all potentials are real in time, so that is twice for the amplitudes of
    a series. How good the nodes are is said in `fieldsim.field.iron.iron_eddies`.
    """
    system = eddies.level.system
    magnetic = system.all_pieces
    drawn, lost = np.zeros(len(rotors)), np.zeros(len(magnetic))
    if not eddies:
        return EddyLoss(drawn, (), lost[:0])
    waves: dict[Fraction, list[tuple[int, Complex, Complex]]] = defaultdict(list)
    for j, (rotor, ratio) in enumerate(zip(rotors, ratios, strict=True)):
        potential, outward = eddies.potential(rotor), eddies.outward(rotor)
        order = np.arange(len(potential))
        weight = order**1.5 * np.abs(outward).max(axis=1, initial=0.0) ** 2
        for k in orders_that_count(weight / max(float(weight.sum()), 1e-300), _LEFT_OUT).tolist():
            phase = np.exp(1j * k * rotor.start)
            both = potential[k] * phase, outward[k] * phase / _MU0
            if ratio * base_rad_per_s < 0:  # it runs through its orders the other way
                both = both[0].conj(), both[1].conj()
            waves[k * abs(ratio)].append((j, *both))
    for times, together in waves.items():
        omega = float(times) * abs(base_rad_per_s)
        acting = np.sum([potential for _, potential, _ in together], axis=0)
        normal = np.sum([outward for _, _, outward in together], axis=0)
        applied = (normal[:, None] * system.normals)[:, :, None]
        late = system.screened(omega).charges(applied)[:, 0]
        at_once = of_complex(system.charges, applied)[:, 0]
        for j, potential, _ in together:
            drawn[j] += 2 * omega * float(((late - at_once) @ potential.conj()).imag)
        lost += 2 * omega * _powers(system, late, acting)
        lost -= 2 * omega * _powers(system, at_once, acting)
    # Nodes leave a little of it in pieces without eddy currents, where it cannot be.
    solid = [i for i, piece in enumerate(magnetic) if has_eddies(piece)]
    lost = lost[solid] * (drawn.sum() / (lost[solid].sum() or 1.0))
    return EddyLoss(drawn, tuple(magnetic[i].name for i in solid), lost)


def _powers(system: IronSystem, charge: Complex, potential: Complex) -> Array:
    """Return Im of the sum of charge and what acts on it, for each piece.

    That is the magnets' potential and that of the other bodies' charge.
    """
    piece_of, count = system.piece, len(system.all_pieces)
    power: Array = (charge * potential.conj()).imag
    found = np.asarray(np.bincount(piece_of, power, count), dtype=np.float64)
    for (i, j), mutual in system.mutual_powers(charge).items():
        first, second = (int(piece_of[at]) for at in (system.first[i], system.first[j]))
        found[first] += mutual
        found[second] -= mutual
    return found
