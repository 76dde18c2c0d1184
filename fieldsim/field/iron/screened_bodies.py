"""Iron with eddy currents, as bodies whose charge in a changing field is complex.

What a field along a solid rod finds is the rod's effective permeability
(`fieldsim.field.iron.skin_effect`). Along a rod goes what is even round its axis, so the lowest
harmonic of a round body is solved with that, all others as for a field that stands still; so are
tubes that are slit along their axis, with the permeability of a plate as thick as their wall. In a
block the symmetries tell: what is odd about the middle plane across a long edge only goes along
that edge, through a rectangle of the other two.

That covers pieces that are long in the direction of the field, whose surface then carries nearly
the same field all round. Not covered, and taken as in a field that stands still: whole tubes, which
are turns that are shorted, balls, discs, and fields across a piece. Fast fields leave a rod as
what lets no flux in at all, which is right for every shape.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, Generic, TypeVar

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.iron.block_body import SYMMETRIES, BlockBody, Symmetry
from fieldsim.field.iron.point_charges import Reach, Reduction
from fieldsim.field.iron.round_body import RoundBody
from fieldsim.field.iron.skin_effect import (
    plate_permeability,
    rectangle_permeability,
    rod_permeability,
)
from fieldsim.machine.iron import Block, Rod, Tube
from fieldsim.machine.placed import PlacedIron

__all__ = ["ScreenedBlock", "ScreenedRound", "has_eddies", "of_complex", "screened_body"]

Array = NDArray[np.float64]
Still = TypeVar("Still", RoundBody, BlockBody)

_LONG = 2.0  # times the shortest edge of a block: fields along such an edge go along the block


def of_complex(linear: Callable[[Array], Array], values: Any) -> Any:
    """Return what a real linear function makes of real or complex values."""
    if np.iscomplexobj(values):
        return linear(values.real) + 1j * linear(values.imag)
    return linear(values)


class _Screened(Generic[Still]):
    """What of a body does not depend on how fast fields change."""

    body: Still

    @property
    def points(self) -> Array:
        """As of the body."""
        return self.body.points

    @property
    def normals(self) -> Array:
        """As of the body."""
        return self.body.normals

    @property
    def pieces(self) -> NDArray[np.intp]:
        """As of the body."""
        return self.body.pieces

    def reduction(self, reaches: Sequence[Reach], digits: float) -> Reduction:
        """As of the body."""
        return self.body.reduction(reaches, digits)


@dataclass(frozen=True, eq=False)
class ScreenedRound(_Screened[RoundBody]):
    """Round pieces in a changing field.

    Parameters
    ----------
    body
        Of the same pieces.
    along
        Complex susceptibility of each to what is even round the axis, (pieces,).
    """

    body: RoundBody
    along: NDArray[np.complex128] = field(repr=False)

    @cached_property
    def solver(self) -> Any:
        """LU factors of what is even round the axis."""
        return self.body.even_solver(self.along[self.body.piece])

    def charges(self, normal_field: Any) -> Any:
        """Return the charge at each point that an applied field draws [A m], (points, fields).

        Parameters
        ----------
        normal_field
            Outward part of each field at `points` [A/m], (points, fields).
        """
        from scipy.linalg import lu_solve

        body, around = self.body, self.body.around
        even = normal_field.reshape(-1, around, normal_field.shape[1]).mean(axis=1)
        right = body.weight[:, None] * even
        chi = self.along[body.piece][:, None] * right, body.susceptibility[:, None] * right
        now = lu_solve(self.solver, chi[0], check_finite=False)
        still = of_complex(lambda part: lu_solve(body.solvers[0], part), chi[1])
        change = (2 * math.pi / around) * body.places[0][:, None] * (now - still)
        return of_complex(body.charges, normal_field) + np.repeat(change, around, axis=0)


@dataclass(frozen=True, eq=False)
class ScreenedBlock(_Screened[BlockBody]):
    """A block in a changing field.

    Parameters
    ----------
    body
        Of the same block.
    along
        Complex susceptibility to fields of those symmetries that go along it.
    """

    body: BlockBody
    along: Mapping[Symmetry, complex] = field(repr=False)

    @cached_property
    def solvers(self) -> dict[Symmetry, Any]:
        """LU factors of the fields that go along it."""
        return {kind: self.body.factors(kind, chi) for kind, chi in self.along.items()}

    def charges(self, normal_field: Any) -> Any:
        """Return the charge at each point that an applied field draws [A m], (points, fields).

        Parameters
        ----------
        normal_field
            Outward part of each field at `points` [A/m], (points, fields).
        """
        from scipy.linalg import lu_solve

        body = self.body

        def change(kind: Symmetry, right: Any) -> Any:
            right = body.areas[:, None] * right
            now = lu_solve(self.solvers[kind], self.along[kind] * right)
            held = body.susceptibility * right
            return now - of_complex(lambda part: lu_solve(body.solvers[kind], part), held)

        changed = body.by_symmetry(normal_field, change, self.along)
        return of_complex(body.charges, normal_field) + changed


def has_eddies(piece: PlacedIron) -> bool:
    """Return whether eddy currents in a piece are reckoned with, in some fields at least."""
    of = piece.material
    if of.resistivity is None or not of.susceptibility > 0:
        return False
    shape = piece.shape
    if isinstance(shape, Block):
        return any(_is_long(shape))
    return isinstance(shape, Rod) or (isinstance(shape, Tube) and shape.slit)


def screened_body(body: Any, pieces: Sequence[PlacedIron], omega_rad_per_s: float) -> Any:
    """Return a body in fields that go as exp(i omega t).

    Parameters
    ----------
    body
        Of iron in a field that stands still.
    pieces
        That it is made of; where none has eddy currents, it stays as it is.
    omega_rad_per_s
        Angular frequency.
    """
    if not any(has_eddies(piece) for piece in pieces):
        return body
    if isinstance(body, BlockBody):
        return ScreenedBlock(body, _along_block(pieces[0], omega_rad_per_s))
    return ScreenedRound(body, np.array([_along_axis(p, omega_rad_per_s) for p in pieces]))


def _along_axis(piece: PlacedIron, omega_rad_per_s: float) -> complex:
    """Return the susceptibility of a round piece to fields along its axis."""
    of, shape = piece.material, piece.shape
    if isinstance(shape, Rod):
        return complex(rod_permeability(of, shape.diameter / 2, omega_rad_per_s)) - 1.0
    if isinstance(shape, Tube) and shape.slit:
        wall_m = (shape.outer - shape.inner) / 2
        return complex(plate_permeability(of, wall_m, omega_rad_per_s)) - 1.0
    return complex(of.susceptibility)


def _is_long(block: Block) -> list[bool]:
    """Return for each edge of a block whether fields along it go along the block."""
    return [edge >= _LONG * min(block.size) for edge in block.size]


def _along_block(piece: PlacedIron, omega_rad_per_s: float) -> dict[Symmetry, complex]:
    """Return the susceptibility of a block to the symmetries that go along it.

    A field along an edge is odd about the middle plane across it. What is odd about two long edges,
    or about none, goes along the longer.
    """
    shape = piece.shape
    assert isinstance(shape, Block)  # noqa: S101  (who asks has looked)
    size, long = shape.size, _is_long(shape)
    found = {}
    for kind in SYMMETRIES:
        odd = [axis for axis in range(3) if kind[axis]]
        if all(long[axis] for axis in odd):
            along = max(odd or range(3), key=lambda axis: size[axis])
            section = (size[(along + 1) % 3], size[(along + 2) % 3])
            mu = rectangle_permeability(piece.material, section, omega_rad_per_s)
            found[kind] = complex(mu) - 1.0
    return found
