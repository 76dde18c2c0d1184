"""A block of iron: its charge in an applied field, by the block's own mirror symmetries.

The same equation as for round bodies (`fieldsim.field.iron.round_body`), on the six faces. A charge
that is even or odd about each of the three middle planes draws a field of the same kind, so the
nodes of one eighth, in eight small systems, take the place of all. A face has no field normal to
itself from its own charge; where faces meet, charge and nodes crowd towards the edge.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import product
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.iron.point_charges import Reach, order_seen
from fieldsim.field.iron.sides import PanelNodes, crowded, near_rule, panel_nodes, uncrowded
from fieldsim.field.linkage.quadrature import chebyshev, gauss_legendre, lagrange

__all__ = ["SYMMETRIES", "BlockBody", "BlockReduction", "Symmetry"]

Array = NDArray[np.float64]
Symmetry = tuple[int, ...]
"""Even (0) or odd (1) about each of the three middle planes."""

SYMMETRIES: tuple[Symmetry, ...] = tuple(product((0, 1), repeat=3))

_EDGES = (True, True)
_NEAR = 1.0  # of the longer edge of a panel, within which a node is near it
_RULE = (8, 12)  # nodes of almost singular integrals, in either direction
_LOOKS = 17  # along each edge of a face, by which distances to it are judged
_PAIRS = 4000  # of node and near panel at once, to bound memory


@dataclass(frozen=True, eq=False)
class BlockBody:
    """A block of iron.

    Parameters
    ----------
    origin, frame
        Its middle in space [m], (3,), and its edges' directions, (3, 3).
    half
        Half lengths of its edges [m].
    susceptibility
        Of its material.
    panels
        Into which each edge is divided.
    order
        Nodes on a panel, along each edge; even.
    """

    origin: Array
    frame: Array
    half: tuple[float, float, float]
    susceptibility: float
    panels: tuple[int, int, int]
    order: int

    @cached_property
    def along(self) -> list[PanelNodes]:
        """Nodes along each edge."""
        return [panel_nodes(_EDGES, count, self.order) for count in self.panels]

    @cached_property
    def coordinates(self) -> list[Array]:
        """Of the nodes along each edge, from the middle [m]."""
        pairs = zip(self.half, self.along, strict=True)
        return [half * (2 * nodes.share - 1) for half, nodes in pairs]

    @cached_property
    def steps(self) -> list[Array]:
        """Length that each node along an edge stands for [m]."""
        pairs = zip(self.half, self.along, strict=True)
        return [2 * half * nodes.slope * nodes.weight for half, nodes in pairs]

    def shape(self, axis: int) -> tuple[int, int, int]:
        """Of an array over the two faces across an axis: low and high, and along the next two."""
        u, v = (axis + 1) % 3, (axis + 2) % 3
        return 2, len(self.coordinates[u]), len(self.coordinates[v])

    @cached_property
    def points(self) -> Array:
        """Points of the surface in space [m]: for each axis the low face, then the high one."""
        return np.concatenate([self.on_faces(a, *self._grid(a)) for a in range(3)])

    def _grid(self, axis: int) -> tuple[Array, Array]:
        return self.coordinates[(axis + 1) % 3], self.coordinates[(axis + 2) % 3]

    def on_faces(self, axis: int, u: Array, v: Array) -> Array:
        """Return points of the two faces across an axis in space [m], (2 * u * v, 3)."""
        found = np.empty((2, len(u), len(v), 3))
        found[..., axis] = np.array([-1.0, 1.0])[:, None, None] * self.half[axis]
        found[..., (axis + 1) % 3] = u[:, None]
        found[..., (axis + 2) % 3] = v
        return np.asarray(self.origin + found.reshape(-1, 3) @ self.frame.T)

    @cached_property
    def normals(self) -> Array:
        """Outward normals there."""
        sizes = [math.prod(self.shape(axis)) // 2 for axis in range(3)]
        return np.concatenate([_normals(self.frame, axis, size) for axis, size in enumerate(sizes)])

    @property
    def pieces(self) -> NDArray[np.intp]:
        """The piece of each point: there is one."""
        return np.zeros(len(self.points), dtype=np.intp)

    def split(self, values: Array) -> list[Array]:
        """Return values at `points` as an array over each pair of faces, (2, u, v, fields)."""
        shapes = [self.shape(axis) for axis in range(3)]
        ends = np.cumsum([math.prod(shape) for shape in shapes])
        parts = np.split(values, ends[:-1])
        return [p.reshape(*s, -1) for p, s in zip(parts, shapes, strict=True)]

    def charges(self, normal_field: Array) -> Array:
        """Return the charge at each point that an applied field draws [A m], (points, fields).

        Parameters
        ----------
        normal_field
            Outward part of each field at `points` [A/m], (points, fields).
        """
        from scipy.linalg import lu_solve

        def solved(kind: Symmetry, right: Any) -> Any:
            right = self.susceptibility * self.areas[:, None] * right
            return lu_solve(self.solvers[kind], right, check_finite=False)

        return np.asarray(self.by_symmetry(normal_field, solved, SYMMETRIES))

    def by_symmetry(
        self,
        normal_field: Any,
        solved: Callable[[Symmetry, Any], Any],
        symmetries: Iterable[Symmetry],
    ) -> Any:
        """Return charge at each point of fields that are taken apart by symmetry.

        Parameters
        ----------
        normal_field
            Outward part of each field at `points` [A/m], real or complex, (points, fields).
        solved
            From a symmetry and that field at the nodes of the eighth to the charge there.
        symmetries
            Those that are asked for; there is no charge of others.
        """
        fields = normal_field.shape[1]
        kinds = [_kinds(part, axis) / 8 for axis, part in enumerate(self.split(normal_field))]
        ends = np.cumsum([kind[0, 0, 0].size // fields for kind in kinds])
        charges = {
            kind: solved(kind, np.concatenate([each[kind].reshape(-1, fields) for each in kinds]))
            for kind in symmetries
        }
        dtype = np.result_type(*charges.values())
        found = [np.zeros(each.shape, dtype) for each in kinds]
        for kind, charge in charges.items():
            for each, part in zip(found, np.split(charge, ends[:-1]), strict=True):
                each[kind] = part.reshape(each[kind].shape)
        whole = [_together(each, axis).reshape(-1, fields) for axis, each in enumerate(found)]
        return np.concatenate(whole)

    @cached_property
    def areas(self) -> Array:
        """Area that each node of the eighth stands for [m2]."""
        parts = []
        for axis in range(3):
            u, v = (self.steps[(axis + i) % 3] for i in (1, 2))
            parts.append(np.outer(u[len(u) // 2 :], v[len(v) // 2 :]).ravel())
        return np.concatenate(parts)

    @cached_property
    def solvers(self) -> dict[Symmetry, Any]:
        """LU factors for each symmetry."""
        return {kind: self.factors(kind, self.susceptibility) for kind in SYMMETRIES}

    def factors(self, kind: Symmetry, susceptibility: complex) -> Any:
        """Return LU factors for one symmetry and a susceptibility."""
        from scipy.linalg import lu_factor

        chi, areas = susceptibility, self.areas
        by_kind = [np.moveaxis(part, 0, 3)[kind].reshape(len(areas), -1) for part in self.kernel]
        matrix = np.concatenate(by_kind, axis=1)
        matrix = -(chi * areas)[:, None] * matrix
        matrix[np.diag_indices_from(matrix)] += 1 + chi / 2
        if kind == (0, 0, 0):  # all charge together is nothing
            matrix += ((1 + chi) * areas / areas.sum())[:, None]
        return lu_factor(matrix, overwrite_a=True, check_finite=False)

    @cached_property
    def kernel(self) -> list[Array]:
        """Normal field at the nodes of the eighth of charges on each pair of faces [1/m2].

        Each (nodes, 2, 2, 2, u / 2, v / 2): by kind about x, y, z and node of the eighth.
        """
        targets = [self._eighth(axis) for axis in range(3)]
        kernels = []
        for source in range(3):
            rows = [self._between(axis, targets[axis], source) for axis in range(3)]
            by_point = np.moveaxis(np.concatenate(rows), 0, -1)
            kernels.append(np.moveaxis(_kinds(by_point, source), -1, 0))
        return kernels

    def _eighth(self, axis: int) -> Array:
        """Return the nodes of the eighth on the high face across an axis, block axes [m]."""
        u, v = (part[len(part) // 2 :] for part in self._grid(axis))
        found = np.empty((len(u), len(v), 3))
        found[..., axis] = self.half[axis]
        found[..., (axis + 1) % 3] = u[:, None]
        found[..., (axis + 2) % 3] = v
        return found.reshape(-1, 3)

    def _between(self, axis: int, at: Array, source: int) -> Array:
        """Return the field along an axis at points of charges on a pair of faces.

        Shape (points, 2, u, v).
        """
        u, v = (source + 1) % 3, (source + 2) % 3
        shape = self.shape(source)
        result = np.zeros((len(at), *shape))
        gap_u = at[:, u, None] - self.coordinates[u]
        gap_v = at[:, v, None] - self.coordinates[v]
        for side, sign in enumerate((-1.0, 1.0)):
            if axis == source and sign > 0:
                continue  # a face has no field normal to itself
            gap = at[:, source] - sign * self.half[source]
            square = (gap_u**2)[:, :, None] + (gap_v**2)[:, None, :] + (gap**2)[:, None, None]
            top = {u: gap_u[:, :, None], v: gap_v[:, None, :], source: gap[:, None, None]}[axis]
            result[:, side] = top / (4 * math.pi * square**1.5)
            self._correct_near(result[:, side], axis, at, source, sign)
        return result

    def _correct_near(self, result: Array, axis: int, at: Array, source: int, sign: float) -> None:
        """Integrate over the panels that points are near to, on points of their own."""
        u, v = (source + 1) % 3, (source + 2) % 3
        breaks = [self._breaks(d) for d in (u, v)]
        beyond = []
        for d, edge in zip((u, v), breaks, strict=True):
            x = at[:, d, None]
            beyond.append(np.maximum(np.maximum(edge[:-1] - x, x - edge[1:]), 0.0))
        gap = at[:, source] - sign * self.half[source]
        square = (gap**2)[:, None, None] + beyond[0][:, :, None] ** 2 + beyond[1][:, None] ** 2
        size = np.maximum(np.diff(breaks[0])[:, None], np.diff(breaks[1]))
        i, pu, pv = np.nonzero(square < (_NEAR * size) ** 2)
        for first in range(0, len(i), _PAIRS):
            part = slice(first, first + _PAIRS)
            rows, ku, kv = i[part], pu[part], pv[part]
            gaps = (
                np.hypot(gap[rows], beyond[1][rows, kv]),
                np.hypot(gap[rows], beyond[0][rows, ku]),
            )
            cu, bu = self._near_nodes(u, at[rows, u], ku, gaps[0])
            cv, bv = self._near_nodes(v, at[rows, v], kv, gaps[1])
            du, dv = (at[rows, u, None] - cu)[:, :, None], (at[rows, v, None] - cv)[:, None]
            dz = gap[rows][:, None, None]
            top = {u: du, v: dv, source: dz}[axis]
            values = top / (4 * math.pi * (du * du + dv * dv + dz * dz) ** 1.5)
            block = np.matmul(np.matmul(bu.transpose(0, 2, 1), values), bv)
            nodes = np.arange(self.order)
            at_u = ku[:, None] * self.order + nodes
            at_v = kv[:, None] * self.order + nodes
            result[rows[:, None, None], at_u[:, :, None], at_v[:, None]] = block

    def _breaks(self, axis: int) -> Array:
        """Return where the panels along an edge end [m], (panels + 1,)."""
        t = np.linspace(0.0, 1.0, self.panels[axis] + 1)
        return np.asarray(self.half[axis] * (2 * crowded(t, _EDGES)[0] - 1))

    def _near_nodes(
        self, axis: int, x: Array, panel: NDArray[np.intp], gap: Array
    ) -> tuple[Array, Array]:
        """Return coordinates (pairs, points) [m] and what each tells of a panel's nodes.

        The latter (pairs, points, order): weights that take the kernel at these points to what a
        charge at a node of the panel does.
        """
        panels, length = self.panels[axis], 2 * self.half[axis]
        low, high = panel / panels, (panel + 1) / panels
        share = np.clip((x / self.half[axis] + 1) / 2, 0.0, 1.0)
        nearest = np.clip(uncrowded(share, _EDGES), low, high)
        share = crowded(nearest, _EDGES)[0]
        reach = np.maximum(gap, np.abs(x - self.half[axis] * (2 * share - 1))) / length
        down, down_weight = near_rule(
            nearest - low, nearest - uncrowded(share - reach, _EDGES), *_RULE
        )
        up, up_weight = near_rule(
            high - nearest, uncrowded(share + reach, _EDGES) - nearest, *_RULE
        )
        t = np.concatenate([nearest[:, None] - down, nearest[:, None] + up], axis=1)
        w = np.concatenate([down_weight, up_weight], axis=1)
        nodes, gauss = gauss_legendre(self.order)
        on_panel = 2 * panels * (t - low[:, None]) - 1
        basis = lagrange(nodes, on_panel.ravel())
        basis = basis.reshape(*t.shape, -1) * (2 * panels * w)[..., None] / gauss
        return self.half[axis] * (2 * crowded(t, _EDGES)[0] - 1), basis

    def reduction(self, reaches: Sequence[Reach], digits: float) -> BlockReduction:
        """Return the points that stand for the surface, seen by what is some distance off.

        Parameters
        ----------
        reaches
            How far points in space are from what feels the charge, of the one piece.
        digits
            Natural logarithm of one over the error aimed at.
        """
        place = np.linspace(-1.0, 1.0, _LOOKS)
        orders = []
        for axis in range(3):
            u, v = (axis + 1) % 3, (axis + 2) % 3
            surface = self.on_faces(axis, self.half[u] * place, self.half[v] * place)
            distance = reaches[0](surface).reshape(2, _LOOKS, _LOOKS)
            for side in (0, 1):
                d = distance[side]
                orders.append(
                    (
                        order_seen(place, d.min(axis=1) / self.half[u], digits),
                        order_seen(place, d.min(axis=0) / self.half[v], digits),
                    )
                )
        return BlockReduction(self, tuple(orders))


@dataclass(frozen=True, eq=False)
class BlockReduction:
    """Few points on the faces of a block: Chebyshev's along both edges.

    Parameters
    ----------
    body
        Whose surface they stand for.
    orders
        Along the two edges of each face; for each axis the low face, then the high one.
    """

    body: BlockBody
    orders: tuple[tuple[int, int], ...]

    @property
    def pieces(self) -> NDArray[np.intp]:
        """The piece of each point, the only one, (points,)."""
        return np.zeros(len(self.points), dtype=np.intp)

    @cached_property
    def points(self) -> Array:
        """In space [m], (points, 3)."""
        body, parts = self.body, []
        for face, (nu, nv) in enumerate(self.orders):
            axis, side = divmod(face, 2)
            u = body.half[(axis + 1) % 3] * chebyshev(nu)[0]
            v = body.half[(axis + 2) % 3] * chebyshev(nv)[0]
            parts.append(body.on_faces(axis, u, v)[side * nu * nv : (side + 1) * nu * nv])
        return np.concatenate(parts)

    @cached_property
    def normals(self) -> Array:
        """Outward normals there, (points, 3)."""
        parts = []
        for face, (nu, nv) in enumerate(self.orders):
            axis, side = divmod(face, 2)
            both = _normals(self.body.frame, axis, nu * nv)
            parts.append(both[side * nu * nv : (side + 1) * nu * nv])
        return np.concatenate(parts)

    def _matrices(self, face: int) -> tuple[Array, Array]:
        """Return the polynomials of few nodes at the many along both edges, (many, few)."""
        body, axis = self.body, face // 2
        return tuple(  # type: ignore[return-value]
            lagrange(chebyshev(n)[0], 2 * body.along[(axis + i) % 3].share - 1, chebyshev(n)[1])
            for i, n in zip((1, 2), self.orders[face], strict=True)
        )

    def down(self, charge: Array) -> Array:
        """Return the charges at these points that are as good as many, (points, fields)."""
        parts = []
        for axis, pair in enumerate(self.body.split(charge)):
            for side in (0, 1):
                bu, bv = self._matrices(2 * axis + side)
                fewer = np.einsum("uvf,ui,vj->ijf", pair[side], bu, bv, optimize=True)
                parts.append(fewer.reshape(-1, charge.shape[1]))
        return np.concatenate(parts)

    def up(self, values: Array) -> Array:
        """Return what is known at these points at all points of the body, (points, fields)."""
        parts, first = [], 0
        for face, (nu, nv) in enumerate(self.orders):
            own = values[first : first + nu * nv].reshape(nu, nv, -1)
            first += nu * nv
            bu, bv = self._matrices(face)
            many = np.einsum("ijf,ui,vj->uvf", own, bu, bv, optimize=True)
            parts.append(many.reshape(-1, values.shape[1]))
        return np.concatenate(parts)


def _normals(frame: Array, axis: int, size: int) -> Array:
    """Return the outward normals of the two faces across an axis, of ``size`` points each."""
    out = np.repeat([-1.0, 1.0], size)
    return np.asarray(out[:, None] * frame[:, axis])


def _places(axis: int) -> tuple[int, int, int]:
    """Return where x, y and z stand among the signs of (v, u, axis)."""
    places = {axis: 2, (axis + 1) % 3: 1, (axis + 2) % 3: 0}
    return places[0], places[1], places[2]


def _kinds(faces: Array, axis: int) -> Array:
    """Return sums of mirror images: (2, u, v, n) to (2, 2, 2, u / 2, v / 2, n).

    The first three say even or odd about the middle planes across x, y and z.
    """
    found = np.stack([faces[1] + faces[0], faces[1] - faces[0]])
    half = found.shape[1] // 2
    high, low = found[:, half:], found[:, half - 1 :: -1]
    found = np.stack([high + low, high - low])
    half = found.shape[3] // 2
    high, low = found[:, :, :, half:], found[:, :, :, half - 1 :: -1]
    found = np.stack([high + low, high - low])
    return found.transpose(*_places(axis), 3, 4, 5)


def _together(kinds: Array, axis: int) -> Array:
    """Return what `_kinds` took apart, but for a factor of eight."""
    found = kinds.transpose(*np.argsort(_places(axis)), 3, 4, 5)
    even, odd = found
    found = np.concatenate([(even - odd)[:, :, :, ::-1], even + odd], axis=3)
    even, odd = found
    found = np.concatenate([(even - odd)[:, ::-1], even + odd], axis=1)
    even, odd = found
    return np.stack([even - odd, even + odd])
