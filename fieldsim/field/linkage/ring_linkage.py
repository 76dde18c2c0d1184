"""Linkage of a winding that stands square to the shaft, by harmonics about the shaft.

Where a rectangular winding has an edge along the shaft, its points run through a rectangle of
(rho, z), distance from the shaft and height, as the magnet turns; only their angle about the shaft
changes relative to it. So the magnet's vector potential is needed on a few nodes (rho, z) only, at
equal steps of angle; its Fourier series there is interpolated to every point of the winding, whose
own harmonics are pure geometry:

    linkage(angle) = sum over m of exp(-i m angle) sum over components c and nodes n of
                     A[c, m, n] W[c, m, n],
    W[c, m, n] = mean over the section of the integral round the turn of t_c exp(i m phi) L_n dl,

t_c being the turn's direction in polar components at the point (rho, phi, z) and L_n the node's
Lagrange polynomial in rho and z. Three dimensions of quadrature become two of interpolation.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.linkage.quadrature import gauss_legendre, log_ellipse
from fieldsim.field.linkage.track import CoilInRotor, Track
from fieldsim.field.potential.cuboid import newtonian_gradient_xy
from fieldsim.field.potential.round_potential import (
    ball_gradient,
    cylinder_axial_gradient,
    cylinder_radial_gradient,
)
from fieldsim.machine.magnets import ArmAxis, Cuboid, Shape, Sphere

__all__ = ["FAR_RAD", "Nodes", "Patch", "RingLinkage", "folded", "forget_windings", "stands_square"]

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]
Waves = tuple[Array, Array]
Winding = list[Complex]  # W, one a patch

_SQUARE = 1e-12
_THREADLESS = 250_000  # multiplications; OpenBLAS shares out products from 262144 on
_AT_ONCE = 4_000_000  # waves at points, of two real numbers each
_LONG = 6.0  # a side is long beside a distance this many times shorter than its half
_NEAR = 2.5  # times the smallest distance is still the near part of a side
FAR_RAD = 1.4  # from the arm: beyond, the potential is smooth enough for fewer nodes


def stands_square(coil: CoilInRotor) -> bool:
    """Return whether an edge of the winding runs along the shaft."""
    return bool((np.abs(coil.frame[2]) > 1.0 - _SQUARE).any())


@dataclass(frozen=True)
class Piece:
    """A side of the winding.

    Parameters
    ----------
    along, outward, axial
        Directions of the turn, through the build and along the coil, in rotor coordinates (3,).
    half
        Half length of the side inside the winding [m].
    offset
        Of the inside from the coil's centre [m].
    start
        Where along the side it begins, -1 for the whole side and 0 for its second half.
    """

    along: Array
    outward: Array
    axial: Array
    half: float
    offset: float
    start: float = -1.0


@dataclass(frozen=True)
class Patch:
    """A rectangle of (rho, z) and the pieces of the winding that lie in it.

    With ``mirror``, the pieces are half of the winding, and the plane through the shaft at that
    angle about it mirrors them onto the other half.
    """

    rho: tuple[float, float]
    z: tuple[float, float]
    pieces: tuple[Piece, ...]
    mirror: float | None = None

    @property
    def in_plane(self) -> bool:
        """Whether the turns lie square to the shaft, so that height is the winding's length."""
        return bool(abs(self.pieces[0].axial[2]) > 1.0 - _SQUARE)


@dataclass(frozen=True)
class Nodes:
    """Interpolation nodes of a patch: ``rho`` (n_rho,) and ``z`` (n_z,), Gauss-Legendre."""

    rho: Array
    z: Array


@dataclass(frozen=True)
class RingLinkage:
    """The linkage of one square-standing coil with a magnet on a track."""

    track: Track
    coil: CoilInRotor

    @cached_property
    def patches(self) -> tuple[Patch, ...]:
        """The winding, side by side; sides that share their rectangle share a patch."""
        coil = self.coil
        s, o, a = coil.frame.T
        h1, h2 = coil.half_opening
        sides = [
            Piece(s, -o, a, h1, h2),
            Piece(o, s, a, h2, h1),
            Piece(-s, o, a, h1, h2),
            Piece(-o, -s, a, h2, h1),
        ]
        if abs(a[2]) > 1.0 - _SQUARE:
            ranges = [self._rho_range(p) for p in sides]
            rho = (min(low for low, _ in ranges), max(high for _, high in ranges))
            middle, half = coil.centre[2], coil.half_length
            pieces, mirror = self._halved(sides)
            return (Patch(rho, (middle - half, middle + half), pieces, mirror),)
        groups: dict[tuple[float, ...], list[Piece]] = {}
        for piece in sides:
            rho = self._rho_range(piece)
            for z in self._z_ranges(piece, rho):
                key = tuple(round(k, 13) for k in (*rho, *z))
                groups.setdefault(key, []).append(piece)
        return tuple(
            Patch((key[0], key[1]), (key[2], key[3]), tuple(pieces))
            for key, pieces in groups.items()
            if not self._idle(pieces[0])
        )

    def _halved(self, sides: list[Piece]) -> tuple[tuple[Piece, ...], float | None]:
        """Return half of the sides and the angle of the plane that mirrors them, if any does."""
        x, y = self.coil.centre[:2]
        reach = math.hypot(x, y) + sum(self.coil.half_opening)
        for column in (0, 1):
            normal = self.coil.frame[:, column]
            if abs(normal[0] * x + normal[1] * y) < _SQUARE * reach:
                # Sides along the normal are cut in two by the plane, of the others one is kept.
                whole = sides[1 - column]
                halves = [replace(sides[i], start=0.0) for i in (column, column + 2)]
                return (*halves, whole), math.atan2(-normal[0], normal[1])
        return tuple(sides), None

    def _idle(self, piece: Piece) -> bool:
        """Return whether a side runs along the magnetisation at every angle."""
        return self.track.north.value == 2 and abs(piece.along[2]) > 1.0 - _SQUARE

    def _rho_range(self, piece: Piece) -> tuple[float, float]:
        """Return the smallest and largest distance of a side from the shaft."""
        build = self.coil.build
        middle = self.coil.centre + (piece.offset + build / 2) * piece.outward
        edges = [
            (piece.along, piece.half + build),
            (piece.outward, build / 2),
            (piece.axial, self.coil.half_length),
        ]
        flat = [(d[:2], half) for d, half in edges if abs(d[2]) < 0.5]
        local = [abs(float(d @ middle[:2])) for d, _ in flat]
        nearest = math.hypot(
            *(max(x - half, 0.0) for x, (_, half) in zip(local, flat, strict=True))
        )
        farthest = math.hypot(*(x + half for x, (_, half) in zip(local, flat, strict=True)))
        return nearest, farthest

    def _z_ranges(self, piece: Piece, rho: tuple[float, float]) -> list[tuple[float, float]]:
        """Return the heights that a side covers, cut round the part near the magnet if it is long.

        The ends of a side along the shaft depend on the depth in the build; these are the farthest.
        """
        build, centre = self.coil.build, float(self.coil.centre[2])
        if abs(piece.along[2]) < 0.5:
            rise = float(piece.outward[2])
            ends = [centre + rise * piece.offset, centre + rise * (piece.offset + build)]
            return [(min(ends), max(ends))]
        reach = piece.half + build
        z = centre + reach * np.linspace(-1, 1, 49)
        points = self._singular
        apart = np.maximum(np.maximum(rho[0] - points[:, 0], points[:, 0] - rho[1]), 0.0)
        distance = np.hypot(apart, z[:, None] - points[:, 1]).min(axis=1)
        near = z[distance <= _NEAR * distance.min()]
        cuts = [centre - reach, centre + reach]
        if reach > _LONG * distance.min() and near[-1] - near[0] < 1.2 * reach:
            # What is left beyond a cut must be worth a patch of its own.
            ends_of_near = sorted({float(near[0]), float(near[-1])})
            cuts[1:1] = [c for c in ends_of_near if abs(c - centre) < 0.9 * reach]
        return list(pairwise(cuts))

    @cached_property
    def _singular(self) -> Array:
        """Points where the potential is singular: rho, z, angle from the arm, (points, 3).

        They lie on a block's edges and on a cylinder's rims; a ball has its centre only.
        """
        edges = _edge_points(self.track.shape)
        outward, forward = edges[:, 0] + self.track.radius, edges[:, 1]
        return np.stack(
            [
                np.hypot(outward, forward),
                edges[:, 2] + self.track.height,
                np.abs(np.arctan2(forward, outward)),
            ],
            axis=1,
        )

    @cached_property
    def rates(self) -> list[tuple[float, float]]:
        """How fast interpolation converges in rho and z on each patch: error exp(-rate n)."""
        return self._rates_beyond(0.0)

    @cached_property
    def far_rates(self) -> list[tuple[float, float]]:
        """The same on the far side of the turn, from `FAR_RAD` on."""
        return self._rates_beyond(FAR_RAD)

    @cached_property
    def angular_rate(self) -> float:
        """How fast the curve's Fourier series converges, before what the winding evens out.

        Orders fall as exp(-rate m) between rings about the shaft: one through an edge of the
        magnet, one through the nearest point of the winding's rectangle.
        """
        ring, height = self._singular[:, 0], self._singular[:, 1]
        found = []
        for patch in self.patches:
            apart = np.maximum(np.maximum(patch.z[0] - height, height - patch.z[1]), 0.0)
            rho = np.clip(np.hypot(ring, apart), patch.rho[0], patch.rho[1])
            square = (rho - ring) ** 2 + apart**2
            found.append(float((square / np.maximum(2 * rho * ring, 1e-300)).min()))
        return math.acosh(1.0 + min(found))

    def _rates_beyond(self, angle_rad: float) -> list[tuple[float, float]]:
        """Return the rates where the magnet's arm is at least an angle away."""
        result = []
        turned = np.maximum(angle_rad - self._singular[:, 2], 0.0)
        for patch in self.patches:
            middle = [(patch.rho[0] + patch.rho[1]) / 2, (patch.z[0] + patch.z[1]) / 2]
            half = [(patch.rho[1] - patch.rho[0]) / 2, (patch.z[1] - patch.z[0]) / 2]
            x = np.abs(self._singular[:, :2] - middle)
            # The square of a chord between circles of the two distances, beyond their difference.
            chord = 4 * patch.rho[0] * self._singular[:, 0] * np.sin(turned / 2) ** 2
            found = []
            for d in (0, 1):
                across = np.sqrt(np.maximum(x[:, 1 - d] - half[1 - d], 0.0) ** 2 + chord)
                ends = np.hypot(x[:, d] + half[d], across) + np.hypot(x[:, d] - half[d], across)
                found.append(2.0 * float(log_ellipse(ends / (2 * half[d])).min()))
            result.append((found[0], found[1]))
        return result

    def nodes(self, orders: list[tuple[int, int]]) -> list[Nodes]:
        """Return the nodes of every patch for orders in rho and z."""
        result = []
        for patch, (n_rho, n_z) in zip(self.patches, orders, strict=True):
            x, y = gauss_legendre(n_rho)[0], gauss_legendre(n_z)[0]
            rho = (patch.rho[0] + patch.rho[1]) / 2 + (patch.rho[1] - patch.rho[0]) / 2 * x
            z = (patch.z[0] + patch.z[1]) / 2 + (patch.z[1] - patch.z[0]) / 2 * y
            result.append(Nodes(rho, z))
        return result

    def potentials(
        self, node_sets: list[tuple[list[Nodes], list[Nodes], Array]]
    ) -> list[list[Array]]:
        """Return the two components of the potential's gradient that matter, at nodes and angles.

        Parameters
        ----------
        node_sets
            Nodes, one a patch; fewer far ones, which serve from `FAR_RAD` on, and are interpolated;
            and the angles about the shaft, from the magnet's arm, rising [rad], (angles,).

        Returns
        -------
        For each set, one array (2, n_rho, n_z, angles) a patch.
        """
        jobs = []
        for nodes, far, angles in node_sets:
            split = int(np.searchsorted(angles, FAR_RAD))
            for n, f in zip(nodes, far, strict=True):
                jobs += [(n, angles[:split]), (f, angles[split:])]
        found = iter(self._gradients(jobs))
        result = []
        for nodes, far, _ in node_sets:
            patches = []
            for n, f in zip(nodes, far, strict=True):
                near, rest = next(found), next(found)
                by_z = _lagrange(f.z, n.z) @ rest  # (2, far rho, z, angles)
                flat = by_z.reshape(2, len(f.rho), -1)
                fine = (_lagrange(f.rho, n.rho) @ flat).reshape(2, len(n.rho), len(n.z), -1)
                patches.append(np.concatenate([near, fine], axis=-1))
            result.append(patches)
        return result

    def _gradients(self, jobs: list[tuple[Nodes, Array]]) -> list[Array]:
        """Return the components (2, n_rho, n_z, angles) of every job, computed in one stream."""
        shapes = [(len(n.rho), len(n.z), len(angles)) for n, angles in jobs]
        arm = np.empty((3, sum(math.prod(shape) for shape in shapes)))
        start = 0
        for (n, angles), shape in zip(jobs, shapes, strict=True):
            part = arm[:, start : start + math.prod(shape)].reshape(3, *shape)
            part[0] = (np.outer(n.rho, np.cos(angles)) - self.track.radius)[:, None, :]
            part[1] = np.outer(n.rho, np.sin(angles))[:, None, :]
            part[2] = (n.z - self.track.height)[:, None]
            start += math.prod(shape)
        g = _shape_gradient(self.track.shape, arm, self.track.north.value)
        result, start = [], 0
        for shape in shapes:
            stop = start + math.prod(shape)
            result.append(np.stack([one[start:stop].reshape(shape) for one in g]))
            start = stop
        return result

    def winding(self, node_sets: list[list[Nodes]], orders: list[int]) -> list[Winding]:
        """Return the winding's harmonics for m = 0..orders - 1, for each set of nodes.

        Parameters
        ----------
        node_sets
            Sets of nodes, one nodes a patch in each.
        orders
            Number of orders, for each set.
        """
        result: list[Winding] = [[] for _ in node_sets]
        for i, patch in enumerate(self.patches):
            nodes = [one[i] for one in node_sets]
            if patch.in_plane:
                found = _known_in_plane_harmonics(
                    tuple(self.coil.centre[:2].tolist()),
                    tuple(self.coil.frame.ravel().tolist()),
                    self.coil.half_opening,
                    self.coil.build,
                    tuple(len(n.rho) for n in nodes),
                    tuple(orders),
                )
            else:
                pieces = [self._piece_harmonics(patch, p, nodes, orders) for p in patch.pieces]
                found = [sum_of(piece[n] for piece in pieces) for n in range(len(nodes))]
            for winding, w in zip(result, found, strict=True):
                winding.append(w)
        return result

    def harmonics_m2(self, winding: Winding, spectra: list[Complex]) -> Complex:
        """Return c_k, k = 0..K - 1, of the linkage per turn and tesla against arm angle.

        Parameters
        ----------
        winding
            From `winding`, for K orders or more.
        spectra
            Of K + 1 orders, from `spectra` or `folded`.
        """
        orders = spectra[0].shape[-1] - 1
        total = np.zeros(orders, dtype=np.complex128)
        for weights, spectrum in zip(winding, spectra, strict=True):
            product = spectrum[..., :orders] * weights[..., :orders]
            total += product.reshape(-1, orders).sum(axis=0)
        conjugate: Complex = np.conj(total)
        return conjugate / (4 * math.pi)

    def spectra(self, potential: list[Array]) -> list[Complex]:
        """Return the potentials' Fourier coefficients about the shaft, m = 0..K, on each patch.

        Parameters
        ----------
        potential
            From `potentials`, at the K + 1 equal steps of angle from 0 to half a turn.
        """
        means = [
            # Turns square to the shaft count all heights alike, so their mean is all it takes.
            (g * gauss_legendre(g.shape[2])[1][:, None]).sum(axis=2, keepdims=True) / 2
            if patch.in_plane
            else g
            for patch, g in zip(self.patches, potential, strict=True)
        ]
        return [self._polar_spectra(p, g) for p, g in zip(self.patches, means, strict=True)]

    def _polar_spectra(self, patch: Patch, g: Array) -> Complex:
        """Return Fourier coefficients of A's components that act, (components, rho, z, orders).

        On sides along the shaft that is the one along it, on others the radial and angular ones.
        """
        half_turn = g.shape[-1]
        k = self.track.north.value
        i, j = (k + 1) % 3, (k + 2) % 3
        a: list[Array | float] = [0.0, 0.0, 0.0]
        a[i], a[j] = g[1], -g[0]
        # The magnet is even about its arm; magnetisation along or across it fixes each parity.
        sign = 1.0 if k == 1 else -1.0
        back = slice(half_turn - 2, 0, -1)
        along = abs(patch.pieces[0].along[2]) > 1.0 - _SQUARE
        full = np.empty((1 if along else 2, *g.shape[1:-1], 2 * half_turn - 2))
        if along:
            full[0, ..., :half_turn] = a[2]
            full[0, ..., half_turn:] = sign * full[0, ..., back]
        else:
            angles = np.linspace(0, math.pi, half_turn)
            c, s = np.cos(angles), np.sin(angles)
            full[0, ..., :half_turn] = c * a[0] + s * a[1]
            full[1, ..., :half_turn] = c * a[1] - s * a[0]
            full[0, ..., half_turn:] = sign * full[0, ..., back]
            full[1, ..., half_turn:] = -sign * full[1, ..., back]
        return np.asarray(np.fft.rfft(full, axis=-1) / full.shape[-1])

    def in_plane_harmonics(
        self, patch: Patch, node_sets: list[Nodes], counts: Sequence[int]
    ) -> list[Complex]:
        """Return W of turns square to the shaft, (2, n_rho, 1, orders), for each set of nodes."""
        build, orders = self.coil.build, max(counts)
        most = max(len(n.rho) for n in node_sets)
        u, wu = gauss_legendre(self._points_needed(build / 2, orders, patch, most))
        depth, wu = build / 2 * (1 + u), wu / 2
        rhos, phases, weights = [], [], []
        for piece in patch.pieces:
            span, reach = (1.0 - piece.start) / 2, piece.half + depth
            length = (piece.half + build) * span
            nearest = self._rho_range(piece)[0]
            t, wt = gauss_legendre(self._points_needed(length, orders, patch, most, nearest))
            rho, phase = self._flat(piece, (1.0 + span * (t - 1.0))[:, None] * reach, depth, 0.0)
            rhos.append(rho.ravel())
            phases.append(phase.ravel())
            turned = phases[-1].conj() * (piece.along[0] + 1j * piece.along[1])
            weights.append(turned * (span * wt[:, None] * (reach * wu)).ravel())
        rho, phase, weight = (np.concatenate(part) for part in (rhos, phases, weights))
        if patch.mirror is not None:
            phase = phase * np.exp(-1j * patch.mirror)

        def of(part: slice) -> list[Complex]:
            waves = _waves(phase[part], orders)
            if patch.mirror is not None:
                return [
                    _across_shaft_mirrored(n.rho, rho[part], weight[part], _first(waves, count))
                    for n, count in zip(node_sets, counts, strict=True)
                ]
            direction = np.stack([weight[part].real, weight[part].imag])
            return [
                _across_shaft(n.rho, rho[part], direction, _first(waves, count))
                for n, count in zip(node_sets, counts, strict=True)
            ]

        found = [w[:, :, None] for w in _added_up(of, len(rho), orders)]
        if patch.mirror is None:
            return found
        turn = np.exp(1j * patch.mirror * np.arange(orders))
        return [turn[:count] * w for count, w in zip(counts, found, strict=True)]

    def _piece_harmonics(
        self, patch: Patch, piece: Piece, node_sets: list[Nodes], counts: list[int]
    ) -> list[Complex]:
        """Return a side's W, (components, n_rho, n_z, orders), for each set of nodes."""
        coil, orders = self.coil, max(counts)
        most = max(len(n.rho) for n in node_sets)
        if abs(piece.along[2]) > 1.0 - _SQUARE:
            u, wu = gauss_legendre(self._points_needed(coil.build / 2, orders, patch, most))
            v, wv = gauss_legendre(self._points_needed(coil.half_length, orders, patch, most))
            depth = coil.build / 2 * (1 + u)
            rho, phase = self._flat(piece, 0.0, depth[:, None], coil.half_length * v)
            weight = math.copysign(0.25, piece.along[2]) * np.outer(wu, wv).ravel()
            depths = np.repeat(np.arange(len(depth)), len(v))
            ups = [self._integrals_over(n.z, patch, piece.half + depth) for n in node_sets]
            flat_rho, flat_phase = rho.ravel(), phase.ravel()

            def of(part: slice) -> list[Complex]:
                waves = _waves(flat_phase[part], orders)
                return [
                    _along_shaft(
                        n.rho, flat_rho[part], weight[part], up[depths[part]], _first(waves, count)
                    )
                    for n, up, count in zip(node_sets, ups, counts, strict=True)
                ]

            return _added_up(of, len(flat_rho), orders)
        longest = piece.half + coil.build
        t, wt = gauss_legendre(self._points_needed(longest, orders, patch, most))
        return [
            self._build_along_shaft(piece, patch, n, t, wt, count)
            for n, count in zip(node_sets, counts, strict=True)
        ]

    def _build_along_shaft(
        self, piece: Piece, patch: Patch, nodes: Nodes, t: Array, wt: Array, orders: int
    ) -> Complex:
        """Return W of a side whose build runs along the shaft, at the patch's own heights."""
        coil = self.coil
        v, wv = gauss_legendre(self._points_needed(coil.half_length, orders, patch, len(nodes.rho)))
        rise = (nodes.z - coil.centre[2]) * math.copysign(1.0, piece.outward[2])
        wz = gauss_legendre(len(nodes.z))[1] / 2
        layers = []
        for depth, w in zip(rise - piece.offset, wz, strict=True):
            far = piece.half + depth
            rho, phase = self._flat(piece, (far * t)[:, None], 0.0, coil.half_length * v)
            weight = (w * far / 2) * np.outer(wt, wv).ravel()
            layers.append(_layer(piece, nodes.rho, rho.ravel(), phase.ravel(), weight, orders))
        return np.stack(layers, axis=2)

    def _points_needed(
        self, half: float, orders: int, patch: Patch, n_rho: int, nearest: float | None = None
    ) -> int:
        """Return Gauss points for exp(i m phi) and the polynomials in rho over a length.

        The highest orders, which hardly count, are resolved roughly, half of them very well. The
        shares were found on many windings; sides along the shaft and across it need more.
        """
        rho = patch.rho[0] if nearest is None else nearest
        spread = math.pi if rho < half else 2.0 * math.asin(half / (rho + half))
        share = 2 * half / max(patch.rho[1] - patch.rho[0], 2 * half)
        wave, power = (0.22, 0.22) if patch.in_plane else (0.35, 0.5)
        return int(wave * orders * spread + power * n_rho * share + 5)

    def _flat(
        self, piece: Piece, t: Array | float, u: Array | float, w: Array | float
    ) -> tuple[Array, Complex]:
        """Return distance from the shaft and exp(i phi) of points of a side."""
        out = piece.offset + u
        x, y = (
            self.coil.centre[d] + t * piece.along[d] + out * piece.outward[d] + w * piece.axial[d]
            for d in (0, 1)
        )
        x, y = np.broadcast_arrays(x, y)
        rho = np.hypot(x, y)
        # On the shaft line every direction is radial; one must be chosen, and any will do.
        on_line = rho == 0.0
        return rho, np.where(on_line, 1.0, (x + 1j * y) / np.where(on_line, 1.0, rho))

    def _integrals_over(self, z: Array, patch: Patch, reach: Array) -> Array:
        """Return the integrals of the Lagrange polynomials of nodes z, (depths, nodes).

        Over what a side of half length ``reach`` has of the patch's heights.
        """
        low = np.maximum(self.coil.centre[2] - reach, patch.z[0])
        half = np.maximum(np.minimum(self.coil.centre[2] + reach, patch.z[1]) - low, 0.0) / 2
        x, w = gauss_legendre(len(z) // 2 + 2)
        points = (low + half)[:, None] + np.outer(half, x)
        values = _lagrange(z, points.ravel()).reshape(*points.shape, len(z))
        return np.asarray(np.einsum("uxz,x->uz", values, w) * half[:, None])


def _shape_gradient(shape: Shape, arm: Array, north: int) -> tuple[Array, Array]:
    """Return the two derivatives across the magnetisation of a shape's potential [m].

    Parameters
    ----------
    arm
        Points relative to its centre, in arm axes [m], (3, points).
    north
        Index of the magnetisation's axis; the derivatives are along the two that follow it.
    """
    i, j = (north + 1) % 3, (north + 2) % 3
    if isinstance(shape, Sphere):
        return ball_gradient(arm[i], arm[j], arm[north], shape.diameter / 2)
    half = [edge / 2 for edge in shape.size]
    if isinstance(shape, Cuboid):
        return newtonian_gradient_xy(arm[i], arm[j], arm[north], (half[i], half[j], half[north]))
    axis = shape.axis.value
    size = (shape.diameter / 2, shape.thickness / 2)
    across = [arm[d] for d in range(3) if d != axis]
    r = np.hypot(*across)
    outward = cylinder_radial_gradient(r, arm[axis], *size) / np.where(r > 0.0, r, 1.0)

    def along(d: int) -> Array:
        return cylinder_axial_gradient(r, arm[d], *size) if d == axis else outward * arm[d]

    return along(i), along(j)


def _edge_points(shape: Shape) -> Array:
    """Return points at which a shape's potential is singular, in arm axes [m], (points, 3)."""
    if isinstance(shape, Cuboid):
        return np.asarray(_unit_edges() * shape.size)
    if isinstance(shape, Sphere):
        return np.zeros((1, 3))
    turn = 2 * math.pi * np.arange(64) / 64
    ring = shape.diameter / 2 * np.stack([np.cos(turn), np.sin(turn)])
    points = np.empty((2, 64, 3))
    points[..., shape.axis.value] = np.array([[-0.5], [0.5]]) * shape.thickness
    first, second = (d for d in range(3) if d != shape.axis.value)
    points[..., first], points[..., second] = ring
    return points.reshape(-1, 3)


@lru_cache(maxsize=1)
def _unit_edges() -> Array:
    """Return points on the edges of the unit cube about the origin, eighths apart, (92, 3)."""
    steps = np.linspace(-0.5, 0.5, 9)
    grid = np.stack(np.meshgrid(steps, steps, steps, indexing="ij"), axis=-1).reshape(-1, 3)
    edges: Array = grid[(np.abs(grid) == 0.5).sum(axis=1) >= 2]
    edges.flags.writeable = False
    return edges


@lru_cache(maxsize=64)
def _known_in_plane_harmonics(
    centre_m: tuple[float, ...],
    frame: tuple[float, ...],
    half_opening_m: tuple[float, float],
    build_m: float,
    n_rho: tuple[int, ...],
    counts: tuple[int, ...],
) -> list[Complex]:
    """Return W of turns square to the shaft, remembered: no magnet, height or length is in it.

    Rotors on both sides of a coil, other magnets at the same coil and every row of a gap study
    need the same ones.
    """
    coil = CoilInRotor(
        np.array([*centre_m, 0.0]), np.array(frame).reshape(3, 3), half_opening_m, build_m, 0.5
    )
    linkage = RingLinkage(Track(Sphere(1.0), 0.0, 0.0, ArmAxis.SHAFT), coil)
    (patch,) = linkage.patches
    node_sets = [linkage.nodes([(n, 1)])[0] for n in n_rho]
    found = linkage.in_plane_harmonics(patch, node_sets, counts)
    for w in found:
        w.flags.writeable = False
    return found


def forget_windings() -> None:
    """Forget the windings' harmonics, to time what the first table of a winding takes."""
    _known_in_plane_harmonics.cache_clear()


def sum_of(parts: Iterable[Complex]) -> Complex:
    """Return the sum of arrays."""
    first, *rest = parts
    for part in rest:
        first = first + part
    return first


def _added_up(of: Callable[[slice], list[Complex]], points: int, orders: int) -> list[Complex]:
    """Return the sums of what a function gives for slices of the points.

    All waves at all points may be more than the memory holds.
    """
    step = max(1, _AT_ONCE // orders)
    totals = of(slice(0, step))
    for start in range(step, points, step):
        for total, more in zip(totals, of(slice(start, start + step)), strict=True):
            total += more
    return totals


def _layer(
    piece: Piece, nodes: Array, rho: Array, phase: Complex, weight: Array, orders: int
) -> Complex:
    """Return W of one height of a side whose build runs along the shaft, (2, n_rho, orders)."""
    direction = _polar_direction(piece, phase) * weight

    def of(part: slice) -> list[Complex]:
        return [_across_shaft(nodes, rho[part], direction[:, part], _waves(phase[part], orders))]

    return _added_up(of, len(rho), orders)[0]


def _along_shaft(nodes: Array, rho: Array, weight: Array, up: Array, waves: Waves) -> Complex:
    """Return W of a side along the shaft, (1, n_rho, n_z, orders).

    Parameters
    ----------
    nodes
        In rho.
    rho, weight
        Of the points, (points,).
    up
        Integrals of the heights' polynomials at each point's depth, (points, n_z).
    """
    lagrange = _lagrange(nodes, rho) * weight[:, None]
    # Nodes in rho and z together against the points: (n_rho * n_z, points).
    flat = (lagrange[:, :, None] * up[:, None, :]).reshape(len(rho), -1).T
    w = _summed(flat, waves[0]) + 1j * _summed(flat, waves[1])
    return w.reshape(1, len(nodes), up.shape[1], -1)


def _polar_direction(piece: Piece, phase: Complex) -> Array:
    """Return the radial and angular parts of a side's direction at points, (2, points)."""
    turned = np.conj(phase) * (piece.along[0] + 1j * piece.along[1])
    return np.stack([turned.real, turned.imag])


def _across_shaft(nodes: Array, rho: Array, weight: Array, waves: Waves) -> Complex:
    """Return W of a side across the shaft for weights (2, points), (2, n_rho, orders)."""
    flat = (weight[:, None, :] * _lagrange(nodes, rho).T).reshape(-1, len(rho))
    w = _summed(flat, waves[0]) + 1j * _summed(flat, waves[1])
    return np.asarray(w.reshape(2, len(nodes), -1))


def _across_shaft_mirrored(nodes: Array, rho: Array, weight: Complex, waves: Waves) -> Complex:
    """Return W of sides and their mirror images, for phases counted from the plane between them.

    The images run the other way: their radial part (the real part of ``weight``) has the opposite
    sign, their angular part the same.
    """
    lagrange = _lagrange(nodes, rho).T
    w = np.empty((2, len(nodes), len(waves[0])), dtype=np.complex128)
    w[0] = 2j * _summed(weight.real * lagrange, waves[1])
    w[1] = 2.0 * _summed(weight.imag * lagrange, waves[0])
    return w


def _summed(left: Array, right: Array) -> Array:
    """Return left @ right.T over their points, in products too small to be shared out to threads.

    Threads that wait for each other on a busy machine take a hundred times as long.
    """
    rows, points = left.shape
    orders = len(right)
    step = max(16, _THREADLESS // (rows * orders))
    whole = points // step * step
    total = left[:, whole:] @ right[:, whole:].T
    if whole:
        a = left[:, :whole].reshape(rows, -1, step).transpose(1, 0, 2)
        b = right[:, :whole].reshape(orders, -1, step).transpose(1, 2, 0)
        total = total + (a @ b).sum(axis=0)
    return np.asarray(total)


def folded(spectra: list[Complex]) -> list[Complex]:
    """Return the Fourier coefficients that every second angle alone would give, m = 0..K / 2.

    Parameters
    ----------
    spectra
        m = 0..K for an even K.
    """
    half = (spectra[0].shape[-1] - 1) // 2
    # Half as many angles cannot tell order m from m - K, which is the conjugate of K - m.
    return [s[..., : half + 1] + np.conj(s[..., : half - 1 : -1]) for s in spectra]


def _first(waves: Waves, orders: int) -> Waves:
    return waves[0][:orders], waves[1][:orders]


def _waves(phase: Complex, orders: int) -> Waves:
    """Return the real and imaginary parts of phase**m for m = 0..orders - 1, (orders, points)."""
    c, s = np.empty((orders, len(phase))), np.empty((orders, len(phase)))
    c[0], s[0] = 1.0, 0.0
    known, step = 1, phase
    while known < orders:
        more = min(known, orders - known)
        a, b = step.real, step.imag  # of phase**known
        c[known : known + more] = c[:more] * a - s[:more] * b
        s[known : known + more] = s[:more] * a + c[:more] * b
        known += more
        step = step * step
    return c, s


def _lagrange(nodes: Array, points: Array) -> Array:
    """Return the Lagrange polynomials of Gauss-Legendre nodes at points, (points, nodes).

    Barycentric (J.-P. Berrut, L. N. Trefethen, SIAM Review 46 (2004) 501-517, eq. 4.2; the weights
    of Legendre nodes from H. Wang, S. Xiang, Math. Comp. 81 (2012) 861-877, eq. 1.7).
    """
    x, quadrature = gauss_legendre(len(nodes))
    weights = np.sqrt((1.0 - x * x) * quadrature)
    weights[1::2] *= -1.0
    gap = points[:, None] - nodes
    hit = gap == 0.0
    if hit.any():
        gap[hit] = 1e-300
    terms = weights / gap
    return np.asarray(terms / terms.sum(axis=1, keepdims=True))
