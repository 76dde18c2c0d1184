"""All iron of a machine together: the charge that the field of a coil or a magnet draws to it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import combinations
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.iron.block_body import BlockBody
from fieldsim.field.iron.fineness import Fineness, block_body, round_body
from fieldsim.field.iron.point_charges import Reach, Reduction, normal_field_matrix
from fieldsim.field.iron.reach import from_iron, nearest_of
from fieldsim.field.iron.round_body import RoundBody
from fieldsim.field.iron.screened_bodies import (
    ScreenedBlock,
    ScreenedRound,
    of_complex,
    screened_body,
)
from fieldsim.machine.frames import cross
from fieldsim.machine.iron import Ball, Block
from fieldsim.machine.placed import PlacedIron

__all__ = ["Body", "FewPoints", "IronSystem", "iron_system"]

Array = NDArray[np.float64]
Body = RoundBody | BlockBody | ScreenedRound | ScreenedBlock

_SAME_LINE_M = 1e-9
_SOLVED = 1e-9  # what bodies do to each other is solved for to this share
_MANY = 16  # fields, from which on a matrix is worth while


@dataclass(frozen=True, eq=False)
class IronSystem:
    """Pieces of iron as bodies that are solved for together.

    Parameters
    ----------
    bodies
        Blocks, and all round pieces of each axis.
    others
        How far points are from the other bodies, for each body.
    digits
        Natural logarithm of one over the error aimed at where they meet.
    pieces
        Of iron, that each body is made of.
    """

    bodies: tuple[Body, ...]
    others: tuple[Reach, ...] = field(repr=False)
    digits: float
    pieces: tuple[tuple[PlacedIron, ...], ...]

    def screened(self, omega_rad_per_s: float) -> IronSystem:
        """Return the same iron in fields that go as exp(i omega t), with its eddy currents.

        Its charges are complex.
        """
        bodies = tuple(
            screened_body(body, pieces, omega_rad_per_s)
            for body, pieces in zip(self.bodies, self.pieces, strict=True)
        )
        found = replace(self, bodies=bodies)
        alike = ("points", "normals", "_meetings", "_couplings")  # of where all is
        found.__dict__.update((k, v) for k, v in self.__dict__.items() if k in alike)
        return found

    @cached_property
    def points(self) -> Array:
        """Points of all surfaces in space [m], (points, 3)."""
        return np.concatenate([body.points for body in self.bodies])

    @cached_property
    def normals(self) -> Array:
        """Outward normals there, (points, 3)."""
        return np.concatenate([body.normals for body in self.bodies])

    @property
    def ends(self) -> NDArray[np.int64]:
        """Where in `points` the second and each further body begins."""
        return np.cumsum([len(body.points) for body in self.bodies])[:-1]

    def split(self, values: Any) -> list[Any]:
        """Return values at `points` for each body."""
        return np.split(values, self.ends)

    def charges(self, applied: Array) -> Any:
        """Return the charge at `points` that applied fields draw [A m], (points, fields).

        Parameters
        ----------
        applied
            Fields at `points` [A/m], (points, 3, fields).
        """
        normal = np.einsum("pif,pi->pf", applied, self.normals)
        parts = self.split(normal)
        if len(self.bodies) > 1:
            parts = [own + more for own, more in zip(parts, self._exchanged(parts), strict=True)]
        pairs = zip(self.bodies, parts, strict=True)
        return np.concatenate([_charges(body, part) for body, part in pairs])

    def points_of(self, piece: PlacedIron) -> NDArray[np.bool_]:
        """Return which of `points` are on a piece's surface."""
        return np.array([each.name == piece.name for each in self.all_pieces])[self.piece]

    @property
    def all_pieces(self) -> tuple[PlacedIron, ...]:
        """The pieces of all bodies."""
        return tuple(piece for pieces in self.pieces for piece in pieces)

    @cached_property
    def piece(self) -> NDArray[np.intp]:
        """The place of each point's piece among `all_pieces`, (points,)."""
        return self.place_of(self.bodies)

    def place_of(self, bodies: Sequence[Body | Reduction]) -> NDArray[np.intp]:
        """Return the place of each point's piece among `all_pieces`, of one thing for each body."""
        first = np.cumsum([0, *(len(pieces) for pieces in self.pieces)])
        pairs = zip(first[:-1], bodies, strict=True)
        return np.concatenate([start + body.pieces for start, body in pairs])

    @property
    def first(self) -> list[int]:
        """Where in `points` each body begins."""
        return [0, *self.ends.tolist()]

    def few_points(self, reaches: Sequence[Reach], digits: float) -> FewPoints:
        """Return points that stand for all of them, seen by what is some distance off.

        Parameters
        ----------
        reaches
            How far points in space are from what feels the charge, of each of `all_pieces`.
        digits
            Natural logarithm of one over the error aimed at.
        """
        left = iter(reaches)
        pairs = zip(self.bodies, self.pieces, strict=True)
        return FewPoints(
            self, tuple(body.reduction([next(left) for _ in own], digits) for body, own in pairs)
        )

    def mutual_powers(self, charge: Any) -> dict[tuple[int, int], float]:
        """Return what charge of one body does to another's, for every two of them.

        Parameters
        ----------
        charge
            Complex, at `points` [A m], (points,).

        Returns
        -------
        dict
            By places of both bodies, mu0 Im of the sum of charge of the first and the conjugate
            potential of the second's [A2 m2 H/m]. For the second it is the opposite.
        """
        if len(self.bodies) < 2:
            return {}
        parts = [part[:, None] for part in self.split(charge)]
        pairs = zip(self._meetings, parts, strict=True)
        few = [of_complex(meeting.down, part)[:, 0] for meeting, part in pairs]
        found = {}
        for i, j in combinations(range(len(few)), 2):
            gap = self._meetings[i].points[:, None] - self._meetings[j].points
            potential = (1.0 / np.linalg.norm(gap, axis=2)) @ few[j].conj()
            found[i, j] = 1e-7 * float((few[i] @ potential).imag)
        return found

    @cached_property
    def _meetings(self) -> list[Reduction]:
        """The points at which each body feels and affects the others."""
        trios = zip(self.bodies, self.others, self.pieces, strict=True)
        return [body.reduction([reach] * len(own), self.digits) for body, reach, own in trios]

    @cached_property
    def _couplings(self) -> list[list[Array]]:
        """Normal field at each body's meeting points of unit charges at every other's."""
        return [
            [
                normal_field_matrix(source.points, at.points, at.normals)
                if source is not at
                else np.zeros((len(at.points), 0))
                for source in self._meetings
            ]
            for at in self._meetings
        ]

    def _drawn(self, normal: list[Any]) -> list[Any]:
        """Return the charge at each body's meeting points that fields at all its points draw."""
        trios = zip(self.bodies, self._meetings, normal, strict=True)
        return [of_complex(meeting.down, _charges(body, part)) for body, meeting, part in trios]

    def _felt(self, charge: list[Any]) -> list[Any]:
        """Return the normal field at each body's points of charge at the others' meeting points."""
        found = []
        for i, meeting in enumerate(self._meetings):
            normal = sum(self._couplings[i][j] @ charge[j] for j in range(len(charge)) if j != i)
            found.append(of_complex(meeting.up, np.asarray(normal)))
        return found

    @cached_property
    def _meeting_solver(self) -> Any:
        """LU factors of what charge at all meeting points lacks of what it draws itself."""
        from scipy.linalg import lu_factor

        count = sum(len(meeting.points) for meeting in self._meetings)
        one = np.eye(count)
        ends = np.cumsum([len(meeting.points) for meeting in self._meetings])[:-1]
        return lu_factor(one - np.concatenate(self._drawn(self._felt(np.split(one, ends)))))

    def _exchanged(self, applied: list[Array]) -> list[Any]:
        """Return the normal field at each body's points of the others' charges.

        Few fields are iterated, each for itself; for many one matrix costs less.
        """
        from scipy.linalg import lu_solve
        from scipy.sparse.linalg import LinearOperator, gmres

        ends = np.cumsum([len(meeting.points) for meeting in self._meetings])
        first = np.concatenate(self._drawn(applied))
        if first.shape[1] >= _MANY:
            solved = lu_solve(self._meeting_solver, first)
            return self._felt(np.split(solved, ends[:-1]))

        def missing(flat: Any) -> Any:
            charge = [part[:, None] for part in np.split(flat, ends[:-1])]
            return flat - np.concatenate(self._drawn(self._felt(charge)))[:, 0]

        operator = LinearOperator((int(ends[-1]),) * 2, matvec=missing, dtype=first.dtype)
        columns = [gmres(operator, each, rtol=_SOLVED, restart=60)[0] for each in first.T]
        return self._felt(np.split(np.stack(columns, axis=1), ends[:-1]))


@dataclass(frozen=True, eq=False)
class FewPoints:
    """Few points that stand for all of a system's.

    Parameters
    ----------
    system
        Whose points they stand for.
    of_bodies
        Those of each body.
    """

    system: IronSystem = field(repr=False)
    of_bodies: tuple[Reduction, ...] = field(repr=False)

    @cached_property
    def points(self) -> Array:
        """In space [m], (points, 3)."""
        return np.concatenate([few.points for few in self.of_bodies])

    @cached_property
    def piece(self) -> NDArray[np.intp]:
        """The place of each point's piece among all pieces of the system, (points,)."""
        return self.system.place_of(self.of_bodies)

    def down(self, charge: Array) -> Array:
        """Return the charges at these points that are as good as many, (points, fields)."""
        pairs = zip(self.of_bodies, self.system.split(charge), strict=True)
        return np.concatenate([few.down(part) for few, part in pairs])


def _charges(body: Body, normal_field: Any) -> Any:
    """Return the charge that real or complex fields draw to a body, (points, fields)."""
    if isinstance(body, RoundBody | BlockBody):
        return of_complex(body.charges, normal_field)
    return body.charges(normal_field)


def iron_system(
    pieces: Sequence[PlacedIron],
    sources: Sequence[Reach],
    listeners: Sequence[Reach],
    fine: Fineness,
) -> IronSystem:
    """Return pieces of iron with nodes as fine as what is near them needs.

    Parameters
    ----------
    pieces
        Of iron; those that are not magnetic are left out.
    sources, listeners
        How far points are from what magnetises the iron, and from what feels its charge.
    fine
        How many nodes they get.
    """
    magnetic = [piece for piece in pieces if piece.material.susceptibility > 0]
    groups = _groups(magnetic)
    bodies: list[Body] = []
    others = []
    for group in groups:
        rest = [from_iron(piece) for other in groups if other is not group for piece in other]
        others.append(nearest_of(rest))
        near, heard = nearest_of([*sources, *rest]), nearest_of([*listeners, *rest])
        if isinstance(group[0].shape, Block):
            bodies.append(block_body(group[0], near, fine))
        else:
            bodies.append(round_body(group, near, heard, fine))
    made_of = tuple(tuple(group) for group in groups)
    return IronSystem(tuple(bodies), tuple(others), fine.meeting_digits, made_of)


def _groups(pieces: Sequence[PlacedIron]) -> list[list[PlacedIron]]:
    """Return the pieces by the axis that they are round about; each block alone."""
    groups: list[list[PlacedIron]] = []
    for piece in sorted(pieces, key=lambda p: isinstance(p.shape, Ball)):
        home = next((g for g in groups if _shares_axis(piece, g[0])), None)
        if home is None:
            groups.append([piece])
        else:
            home.append(piece)
    return groups


def _shares_axis(piece: PlacedIron, other: PlacedIron) -> bool:
    if isinstance(piece.shape, Block) or isinstance(other.shape, Block):
        return False
    x, y, z = (a - b for a, b in zip(piece.centre, other.centre, strict=True))
    if math.hypot(*cross((x, y, z), other.axis)) > _SAME_LINE_M:
        return False
    return isinstance(piece.shape, Ball) or math.hypot(*cross(piece.axis, other.axis)) < 1e-9
