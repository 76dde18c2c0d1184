"""Iron that is round about an axis: its charge in an applied field, by harmonics round the axis.

With charge sigma on the surface of linear iron of susceptibility chi in a field H0,

    sigma (1 + chi/2) - chi n . H[sigma] = chi n . H0,

H[sigma] being the principal value of that charge's own field on the surface; a ball in an even
field gets 3 chi / (3 + chi) times the normal part. Round an axis every harmonic stands alone: a few
small systems in the nodes of a cross-section take the place of a large one. The charge of every
piece adds to zero, which the lowest harmonic would hold but weakly at high permeability, so it is
demanded.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.iron.point_charges import Reach, order_seen
from fieldsim.field.iron.ring_kernel import ring_field
from fieldsim.field.iron.sides import (
    Arc,
    PanelNodes,
    Side,
    crowded,
    near_rule,
    panel_nodes,
    uncrowded,
)
from fieldsim.field.linkage.quadrature import chebyshev, gauss_legendre, lagrange

__all__ = ["Profile", "RoundBody", "RoundReduction"]

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]

_NEAR = 1.0  # lengths of a panel within which a node is near it
_SAMPLES = 8  # of a panel, by which distances to it are judged
_LOOKS = 24  # round the axis, likewise


@dataclass(frozen=True)
class Profile:
    """The cross-section of one piece in the half-plane (distance from the axis, height).

    Parameters
    ----------
    sides
        With the iron on their left.
    susceptibility
        Of its material.
    """

    sides: tuple[Side, ...]
    susceptibility: float


@dataclass(frozen=True, eq=False)
class RoundBody:
    """Pieces of iron that are round about one axis.

    Parameters
    ----------
    origin, frame
        A point of the axis [m], (3,), and the axes' columns in space, the third along it, (3, 3).
    profiles
        Of the pieces.
    panels
        Into which each of their sides is divided.
    order
        Nodes on a panel.
    harmonics
        The highest order round the axis.
    """

    origin: Array
    frame: Array
    profiles: tuple[Profile, ...]
    panels: tuple[int, ...]
    order: int
    harmonics: int

    @property
    def around(self) -> int:
        """Points round the axis, enough for all harmonics."""
        return 2 * self.harmonics + 2

    @cached_property
    def sides(self) -> list[Side]:
        """All sides of all pieces."""
        return [side for profile in self.profiles for side in profile.sides]

    @cached_property
    def side_nodes(self) -> list[PanelNodes]:
        """Nodes on each side."""
        pairs = zip(self.sides, self.panels, strict=True)
        return [panel_nodes(side.edges, count, self.order) for side, count in pairs]

    @cached_property
    def first(self) -> list[int]:
        """The first node of each side, and one beyond the last."""
        return [0, *np.cumsum([len(nodes.t) for nodes in self.side_nodes]).tolist()]

    @property
    def of_side(self) -> list[int]:
        """The piece of each side."""
        return [i for i, profile in enumerate(self.profiles) for _ in profile.sides]

    @cached_property
    def piece(self) -> NDArray[np.intp]:
        """The piece of each node, (nodes,)."""
        return np.repeat(self.of_side, np.diff(self.first))

    @property
    def pieces(self) -> NDArray[np.intp]:
        """The piece of each point, (nodes * around,)."""
        return np.repeat(self.piece, self.around)

    @cached_property
    def places(self) -> tuple[Array, Array, Array, Array]:
        """Distance from the axis and height [m], and normal in those two directions, (nodes,)."""
        found = [s.at(n.share) for s, n in zip(self.sides, self.side_nodes, strict=True)]
        r, z, nr, nz = (np.concatenate(part) for part in zip(*found, strict=True))
        return r, z, nr, nz

    @cached_property
    def weight(self) -> Array:
        """Length of the side that each node stands for [m], (nodes,)."""
        pairs = zip(self.sides, self.side_nodes, strict=True)
        return np.concatenate([side.length * nodes.slope * nodes.weight for side, nodes in pairs])

    @cached_property
    def points(self) -> Array:
        """Points of the surface in space [m], (nodes * around, 3)."""
        r, z, _, _ = self.places
        return self.in_space(r, z, self.around)

    @cached_property
    def normals(self) -> Array:
        """Outward normals there, (nodes * around, 3)."""
        _, _, nr, nz = self.places
        return np.asarray(_round(nr, nz, self.around) @ self.frame.T)

    def in_space(self, r: Array, z: Array, around: int) -> Array:
        """Return points equally round the axis at (r, z) in space [m], (len(r) * around, 3)."""
        return np.asarray(self.origin + _round(r, z, around) @ self.frame.T)

    def charges(self, normal_field: Array) -> Array:
        """Return the charge at each point that an applied field draws [A m], (points, fields).

        Parameters
        ----------
        normal_field
            Outward part of each field at `points` [A/m], (points, fields).
        """
        from scipy.linalg import lu_solve

        nodes, fields = len(self.weight), normal_field.shape[1]
        spectrum = np.fft.rfft(normal_field.reshape(nodes, self.around, fields), axis=1)
        found = np.zeros_like(spectrum)
        for m, solver in enumerate(self.solvers):
            right = (self.susceptibility * self.weight)[:, None] * spectrum[:, m]
            found[:, m] = lu_solve(solver, right, check_finite=False)
        r = self.places[0]
        charge = np.fft.irfft(found, self.around, axis=1) * (2 * math.pi / self.around)
        return np.asarray((charge * r[:, None, None]).reshape(-1, fields))

    def reduction(self, reaches: Sequence[Reach], digits: float) -> RoundReduction:
        """Return the points that stand for the surface, seen by what is some distance off.

        Parameters
        ----------
        reaches
            How far points in space are from what feels the charge, of each piece.
        digits
            Natural logarithm of one over the error aimed at.
        """
        orders, around = [], []
        for side, nodes, piece in zip(self.sides, self.side_nodes, self.of_side, strict=True):
            share, reach = np.linspace(0.0, 1.0, _SAMPLES * nodes.panels + 1), reaches[piece]
            r, z, _, _ = side.at(share)
            surface = self.in_space(r, z, _LOOKS)
            distance = reach(surface).reshape(len(share), -1).min(axis=1)
            orders.append(order_seen(2 * share - 1, 2 * distance / side.length, digits))
            rate = float(np.log1p(distance / np.maximum(r, 1e-3 * side.length)).min())
            around.append(min(int(digits / max(rate, 1e-3)) + 3, self.around))
        return RoundReduction(self, tuple(orders), tuple(around))

    def rings(
        self,
        charge: Array,
        radii: Collection[float],
        heights: Collection[float],
        distance: Callable[[Array, Array], Array],
    ) -> tuple[Array, Array, Array]:
        """Return the charge on rings, with panels that end where something has kinks.

        Parameters
        ----------
        charge
            At `points` [A m], (points,).
        radii, heights
            Where the kinks are [m].
        distance
            From (r, z) to how far that is from what has them [m].

        Returns
        -------
        Radius and height of each ring [m], (rings,), and the charge at equal steps round it [A m],
        (rings, around).
        """
        r, z, found = [], [], []
        for s, (side, nodes) in enumerate(zip(self.sides, self.side_nodes, strict=True)):
            ends = np.linspace(0.0, 1.0, nodes.panels + 1)
            cuts = _cuts(side, radii, heights)
            near = distance(*side.at(cuts)[:2]) < side.length / nodes.panels
            t = np.unique(np.concatenate([ends, uncrowded(cuts[near], side.edges)]))
            t = t[np.diff(t, prepend=-1.0) > 1e-9]
            x, w = gauss_legendre(self.order)
            new = (t[:-1, None] + np.diff(t)[:, None] * (x + 1) / 2).ravel()
            weight = (np.diff(t)[:, None] * w / 2).ravel()
            panel = np.minimum((new * nodes.panels).astype(np.intp), nodes.panels - 1)
            basis = lagrange(x, 2 * (new * nodes.panels - panel) - 1)
            own = charge[self.first[s] * self.around : self.first[s + 1] * self.around]
            per_step = own.reshape(-1, self.around) / nodes.weight[:, None]
            by_panel = per_step.reshape(nodes.panels, self.order, self.around)
            fresh = np.einsum("nk,nka->na", basis, by_panel[panel]) * weight[:, None]
            places = side.at(crowded(new, side.edges)[0])
            r.append(places[0])
            z.append(places[1])
            found.append(fresh)
        return np.concatenate(r), np.concatenate(z), np.concatenate(found)

    @cached_property
    def susceptibility(self) -> Array:
        """Of each node's material, (nodes,)."""
        return np.array([profile.susceptibility for profile in self.profiles])[self.piece]

    @cached_property
    def solvers(self) -> list[Any]:
        """LU factors of every harmonic."""
        pairs = enumerate(self._kernel(self.harmonics))
        return [self._factors(m, kernel, self.susceptibility) for m, kernel in pairs]

    def even_solver(self, susceptibility: Complex) -> Any:
        """Return LU factors of what is even round the axis, for a susceptibility of each node."""
        return self._factors(0, self._even_kernel, susceptibility)

    def _factors(self, m: int, kernel: Array, susceptibility: Array | Complex) -> Any:
        from scipy.linalg import lu_factor

        r, chi, weight = self.places[0], susceptibility, self.weight
        matrix = -(chi * weight)[:, None] * kernel
        matrix[np.diag_indices_from(matrix)] += 1 + chi / 2
        if m == 0:
            same = self.piece[:, None] == self.piece
            area = np.bincount(self.piece, r * weight)[self.piece]
            matrix += same * ((1 + chi) * weight / area)[:, None] * r
        return lu_factor(matrix, overwrite_a=True, check_finite=False)

    @cached_property
    def _even_kernel(self) -> Array:
        kernel: Array = self._kernel(0)[0]
        return kernel

    def _kernel(self, harmonics: int) -> Array:
        """Return the normal field at node i of charge times length at node j [1/m].

        Shape (harmonics + 1, i, j).
        """
        r, z, nr, nz = self.places
        near = [self._near(s) for s in range(len(self.sides))]
        far = ~np.concatenate([np.repeat(each, self.order, axis=1) for each in near], axis=1)
        i, j = np.nonzero(far)
        kernel = np.zeros((harmonics + 1, *far.shape))
        kernel[:, i, j] = ring_field(r[i], z[i], (nr[i], nz[i]), (r[j], z[j]), harmonics)
        for s, each in enumerate(near):
            if each.any():
                self._add_near(kernel, s, each)
        return kernel

    def _near(self, s: int) -> NDArray[np.bool_]:
        """Return which nodes are near which panels of a side, (nodes, panels)."""
        side, panels = self.sides[s], self.panels[s]
        r, z, _, _ = self.places
        t = np.linspace(0.0, 1.0, _SAMPLES * panels + 1)
        br, bz, _, _ = side.at(crowded(t, side.edges)[0])
        distance = np.hypot(r[:, None] - br, z[:, None] - bz)
        of_panel = np.arange(panels)[:, None] * _SAMPLES + np.arange(_SAMPLES + 1)
        length = np.hypot(np.diff(br), np.diff(bz)).reshape(panels, _SAMPLES).sum(axis=1)
        return np.asarray(distance[:, of_panel].min(axis=2) < _NEAR * length)

    def _add_near(self, kernel: Array, s: int, near: NDArray[np.bool_]) -> None:
        """Integrate over the panels of a side that nodes are near to, on points of their own."""
        side, nodes, panels = self.sides[s], self.side_nodes[s], self.panels[s]
        r, z, nr, nz = self.places
        i, p = np.nonzero(near)
        # Where on its panel the node is nearest, and over what distance the kernel changes there.
        nearest = uncrowded(side.nearest(r[i], z[i]), side.edges)
        own = (i >= self.first[s]) & (i < self.first[s + 1])
        nearest[own] = nodes.t[i[own] - self.first[s]]
        low, high = p / panels, (p + 1) / panels
        own &= (low < nearest) & (nearest < high)
        nearest = np.clip(nearest, low, high)
        share = crowded(nearest, side.edges)[0]
        br, bz, _, _ = side.at(share)
        gap = np.hypot(r[i] - br, z[i] - bz) / side.length
        scales = [nearest - uncrowded(share - gap, side.edges)]
        scales.append(uncrowded(share + gap, side.edges) - nearest)
        down, down_weight = near_rule(nearest - low, np.where(own, 0.0, scales[0]))
        up, up_weight = near_rule(high - nearest, np.where(own, 0.0, scales[1]))
        t = np.concatenate([nearest[:, None] - down, nearest[:, None] + up], axis=1)
        w = np.concatenate([down_weight, up_weight], axis=1)

        br, bz, _, _ = side.at(crowded(t, side.edges)[0])
        who = np.broadcast_to(i[:, None], t.shape)
        there = (w > 0.0) & ((r[who] != br) | (z[who] != bz))
        one = who[there]
        values = np.zeros((len(kernel), *t.shape))
        values[:, there] = ring_field(
            r[one], z[one], (nr[one], nz[one]), (br[there], bz[there]), len(kernel) - 1
        )
        x, gauss = gauss_legendre(self.order)
        on_panel = 2 * panels * (t - low[:, None]) - 1
        basis = lagrange(x, on_panel.ravel()).reshape(*t.shape, -1)
        # What is interpolated is charge for each step of the parameter.
        basis *= (2 * panels * w)[..., None] / gauss
        at = self.first[s] + p[:, None] * self.order + np.arange(self.order)
        kernel[:, i[:, None], at] = np.matmul(values[:, :, None, :], basis)[:, :, 0]


def _cuts(side: Side, radii: Collection[float], heights: Collection[float]) -> Array:
    """Return the shares of a straight side at which it has these radii or heights."""
    if isinstance(side, Arc):
        return np.empty(0)
    (r0, z0), (r1, z1) = side.start, side.end
    across, start, wanted = (r1 - r0, r0, radii) if r0 != r1 else (z1 - z0, z0, heights)
    shares = (np.array(list(wanted), dtype=float) - start) / across
    return np.sort(shares[(shares > 0) & (shares < 1)])


@dataclass(frozen=True, eq=False)
class RoundReduction:
    """Few points on the sides of a round body: Chebyshev's along them, equal steps round.

    Parameters
    ----------
    body
        Whose surface they stand for.
    orders, around
        Along each side, and round the axis on it.
    """

    body: RoundBody
    orders: tuple[int, ...]
    around: tuple[int, ...]

    @property
    def pieces(self) -> NDArray[np.intp]:
        """The piece of each point, (points,)."""
        return np.repeat(self.body.of_side, np.multiply(self.orders, self.around))

    @cached_property
    def points(self) -> Array:
        """In space [m], (points, 3)."""
        parts = [
            self.body.in_space(*side.at(_shares(order))[:2], around)
            for side, order, around in zip(self.body.sides, self.orders, self.around, strict=True)
        ]
        return np.concatenate(parts)

    @cached_property
    def normals(self) -> Array:
        """Outward normals there, (points, 3)."""
        parts = [
            _round(*side.at(_shares(order))[2:], around) @ self.body.frame.T
            for side, order, around in zip(self.body.sides, self.orders, self.around, strict=True)
        ]
        return np.concatenate(parts)

    def _matrix(self, s: int) -> Array:
        """Return the polynomials of a side's few nodes at its many, (many, few)."""
        order = self.orders[s]
        return lagrange(_shares(order), self.body.side_nodes[s].share, chebyshev(order)[1])

    def down(self, charge: Array) -> Array:
        """Return the charges at these points that are as good as many, (points, fields)."""
        body, parts = self.body, []
        many = charge.reshape(-1, body.around, charge.shape[1])
        for s, around in enumerate(self.around):
            own = many[body.first[s] : body.first[s + 1]]
            fewer = np.tensordot(self._matrix(s), own, (0, 0))
            parts.append(_resampled(fewer, around).reshape(-1, charge.shape[1]))
        # A charge is a share of the turn: on fewer points each is larger.
        return np.concatenate(parts)

    def up(self, values: Array) -> Array:
        """Return what is known at these points at all points of the body, (points, fields)."""
        body, parts, first = self.body, [], 0
        for s, (order, around) in enumerate(zip(self.orders, self.around, strict=True)):
            own = values[first : first + order * around].reshape(order, around, -1)
            first += order * around
            spread = _resampled(own, body.around) * (body.around / around)
            parts.append(np.tensordot(self._matrix(s), spread, (1, 0)).reshape(-1, values.shape[1]))
        return np.concatenate(parts)


def _shares(order: int) -> Array:
    return np.asarray((chebyshev(order)[0] + 1) / 2)


def _round(r: Array, z: Array, around: int) -> Array:
    """Return (r, z) equally round the axis, in the body's axes, (len(r) * around, 3)."""
    phi = 2 * math.pi / around * np.arange(around)
    found = np.empty((len(r), around, 3))
    found[..., 0] = r[:, None] * np.cos(phi)
    found[..., 1] = r[:, None] * np.sin(phi)
    found[..., 2] = z[:, None]
    return found.reshape(-1, 3)


def _resampled(charge: Array, around: int) -> Array:
    """Return charges (k, points round, fields) on more or fewer points with the same harmonics."""
    now = charge.shape[1]
    if around == now:
        return charge
    spectrum = np.fft.rfft(charge, axis=1)
    kept = min(now, around)
    spectrum = spectrum[:, : kept // 2 + 1]
    if kept % 2 == 0:  # the order that these points cannot tell from its negative
        spectrum[:, -1] = spectrum[:, -1].real / (2 if around > now else 1)
    return np.asarray(np.fft.irfft(spectrum, around, axis=1))
