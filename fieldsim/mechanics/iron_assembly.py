"""The pull on a rotor while it is brought to its place beside iron and the other rotors."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.force.rotor_force import rotor_forces
from fieldsim.field.iron.fineness import FINENESSES
from fieldsim.field.iron.magnetised_iron import MagnetisedIron, magnetised_iron
from fieldsim.machine.placed import PlacedRotor
from fieldsim.mechanics.attraction import hub_m
from fieldsim.mechanics.iron_pull import iron_pull

__all__ = ["AWAY_M", "RotorAssembly", "rotor_assembly"]

Array = NDArray[np.float64]

AWAY_M = 0.01
"""How far from its place the pull on a rotor is told, too."""
_ANGLES = 24


@dataclass(frozen=True)
class RotorAssembly:
    """What a builder must hold back while a rotor comes to its place along its shaft.

    Parameters
    ----------
    rotor
        Its name.
    in_place_N, away_N
        Pull towards its place, there and `AWAY_M` before, at the angle where the first is
        strongest; negative where it is pushed away.
    """

    rotor: str
    in_place_N: float
    away_N: float


def rotor_assembly(iron: MagnetisedIron, name: str) -> RotorAssembly:
    """Return the pull of all iron and all other magnets on a rotor and the iron that it carries.

    Parameters
    ----------
    iron
        In the field of the machine's magnets; the other rotors stand at their starts.
    name
        Of the rotor, which has magnets and is free to turn. It comes from the side that lies away
        from what is there.
    """
    rotor = next(each for each in iron.rotors if each.name == name)
    along = np.array(rotor.shaft.along)
    others = [hub_m(each) for each in iron.rotors if each.magnets and each is not rotor]
    there = [np.array(piece.centre) for piece in iron.pieces if piece.rotor != name] + others
    side = 1.0 if not there or (hub_m(rotor) - np.mean(there, axis=0)) @ along >= 0 else -1.0
    turn = 2 * math.pi * np.arange(_ANGLES) / _ANGLES
    pull = -side * _axial_N(iron, rotor, turn)
    strongest = turn[pull.argmax(), None]
    step = side * AWAY_M * along
    moved = rotor.raised(side * AWAY_M)
    pieces = [
        replace(piece, centre=tuple((np.array(piece.centre) + step).tolist()))
        if piece.rotor == name
        else piece
        for piece in iron.pieces
    ]
    standing = [moved if each is rotor else each for each in iron.rotors]
    away = magnetised_iron(pieces, standing, FINENESSES[1])  # far off, few nodes tell less
    assert away is not None  # noqa: S101  (the iron and the magnets are still there)
    away_N = float(-side * _axial_N(away, moved, strongest)[0])
    return RotorAssembly(name, float(pull.max()), away_N)


def _axial_N(iron: MagnetisedIron, rotor: PlacedRotor, angles_rad: Array) -> Array:
    """Return the force on a rotor along its shaft at some of its angles."""
    held = [each for each in iron.rotors if each is not rotor]
    total = np.zeros((len(angles_rad), 3))
    for each in held:
        if each.magnets:
            total += rotor_forces(each, rotor, each.start, angles_rad).force_on_second_N
    found = iron_pull(
        iron,
        [
            angles_rad if each is rotor else np.full_like(angles_rad, each.start)
            for each in iron.rotors
        ],
        {rotor.name},
    )
    total += found.on_magnets[rotor.name].total_N
    total += found.iron_force_N.get(rotor.name, 0.0)
    return np.asarray(total @ np.array(rotor.shaft.along))
