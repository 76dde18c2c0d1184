"""Flux density in iron, averaged over sections of each piece, while magnets turn past it.

What flux a section carries follows from the charge beyond it: no flux ends inside the iron, so all
that crosses the section leaves through the surface behind it, where the charge tells how much.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.iron.magnetised_iron import MagnetisedIron
from fieldsim.machine.iron import Ball, Block, Tube
from fieldsim.machine.placed import PlacedIron

__all__ = ["SectionFlux", "section_flux"]

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]
Orders = NDArray[np.int64]

_MU0 = 4e-7 * math.pi
_CUTS = 9
_OUTERMOST = 0.7  # of half a piece: the sections beyond are small, and carry little
_THICK = 0.5  # of half a piece, over which the flux of a section is averaged: nodes are few
_DIRECTIONS = 16  # of half planes from the axis of a round piece


@dataclass(frozen=True, eq=False)
class SectionFlux:
    """Average flux density over many sections of each piece of iron.

    Over section k it is the real part of the sum over rows i of
    ``density_T[i, k] exp(1j order[i] angle(rotor[i]))``.

    Parameters
    ----------
    rotors, pieces
        Their names.
    rotor, order
        Of each row: which rotor, and the order in its angle, of both signs, (rows,).
    piece
        Of each section, which piece it cuts, (sections,).
    density_T
        (rows, sections).
    """

    rotors: tuple[str, ...]
    pieces: tuple[str, ...]
    rotor: Orders = field(repr=False)
    order: Orders = field(repr=False)
    piece: Orders = field(repr=False)
    density_T: Complex = field(repr=False)

    def greatest_T(self, angles: Array) -> dict[str, float]:
        """Return the greatest average over any section of each piece [T].

        Parameters
        ----------
        angles
            Of each rotor at some times [rad], (rotors, times).
        """
        found = np.zeros(len(self.piece))
        for first in range(0, angles.shape[1], 64):  # to bound memory
            turned = np.exp(1j * self.order[:, None] * angles[self.rotor, first : first + 64])
            seen = np.abs((self.density_T.T @ turned).real)
            found = np.maximum(found, seen.max(axis=1, initial=0.0))
        return {
            name: float(found[self.piece == i].max(initial=0.0))
            for i, name in enumerate(self.pieces)
        }


def section_flux(iron: MagnetisedIron) -> SectionFlux:
    """Return the flux density over sections of iron in the field of magnets.

    Parameters
    ----------
    iron
        In the field of the magnets.

    Notes
    -----
    Charge is the outward magnetisation at the surface, so that the outward flux density inside is
    mu0 (1 + 1/chi) times it (J. D. Jackson, Classical Electrodynamics, sections 5.8 and 5.9, from
    memory). Sections are slabs across each of a piece's three directions and, in round pieces,
    wedges between two half planes from the axis, over both of which a wedge's flux is spread.
    """
    density, of = [], []
    for i, piece in enumerate(iron.pieces):
        held = np.flatnonzero(iron.piece == i)
        beyond, area_m2 = _sections(piece, (iron.system.points[held] - piece.centre) @ piece.frame)
        outward_T = _MU0 * (1.0 + 1.0 / piece.material.susceptibility)
        density.append(outward_T * (iron.charge[:, held] @ beyond) / area_m2)
        of.append(np.full(len(area_m2), i, dtype=np.int64))
    names = tuple(rotor.name for rotor in iron.rotors)
    own = tuple(piece.name for piece in iron.pieces)
    return SectionFlux(
        names, own, iron.rotor, iron.order, np.concatenate(of), np.concatenate(density, axis=1)
    )


def _sections(piece: PlacedIron, local: Array) -> tuple[Array, Array]:
    """Return how far points lie beyond each section, (points, sections), and areas [m2]."""
    beyond: list[Array] = []
    areas: list[float] = []
    half = np.array(piece.shape.size) / 2
    for axis in range(3):
        thick = _THICK * half[axis]
        for place in np.linspace(-_OUTERMOST, _OUTERMOST, _CUTS) * half[axis]:
            beyond.append(np.clip((local[:, axis] - place) / thick + 0.5, 0.0, 1.0))
            near = place + thick * np.linspace(-0.4, 0.4, 5)
            areas.append(float(np.mean([_area_m2(piece, axis, each) for each in near])))
    if not isinstance(piece.shape, Block | Ball):
        inner = piece.shape.inner / 2 if isinstance(piece.shape, Tube) else 0.0
        walls_m2 = 2 * float((half[0] - inner) * 2 * half[2])
        turn = np.arctan2(local[:, 1], local[:, 0]) % math.tau
        step = math.tau / _DIRECTIONS
        for first in range(_DIRECTIONS):
            for wide in range(1, _DIRECTIONS // 2 + 1):
                beyond.append(((turn - first * step) % math.tau < wide * step).astype(float))
                areas.append(walls_m2)
    return np.stack(beyond, axis=1), np.array(areas)


def _area_m2(piece: PlacedIron, axis: int, place: float) -> float:
    """Return the area of a section across one of a piece's directions, off its middle [m2]."""
    shape = piece.shape
    half = np.array(shape.size) / 2
    if isinstance(shape, Block):
        return float(4 * half.prod() / half[axis])
    if isinstance(shape, Ball):
        return float(math.pi * (half[0] ** 2 - place**2))
    inner = shape.inner / 2 if isinstance(shape, Tube) else 0.0
    if axis == 2:
        return float(math.pi * (half[0] ** 2 - inner**2))
    chord = math.sqrt(half[0] ** 2 - place**2) - math.sqrt(max(inner**2 - place**2, 0.0))
    return float(4 * chord * half[2])
