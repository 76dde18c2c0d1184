"""The harmonics of straight turns square to the shaft, by integrals along the edges of each side.

Seen along the shaft, a side of a winding is a quadrangle in which current has one direction, at an
angle a, and one density. Its direction has the components t_rho + i t_phi = exp(i (a - phi)), so
its part of the winding's harmonics,

    W[c, n, m] = density * integral over the area of t_c exp(i m phi) L_n(rho) rho drho dphi,

is made of the integrals of exp(i k phi) L_n for k = m - 1 and k = m + 1. By Green's theorem these
go once round the quadrangle (counter-clockwise), wherever the shaft is:

    integral over the area of exp(i k phi) L_n = i / k * integral of exp(i k phi) L_n rho drho,
    integral over the area of L_n = integral of Q_n dphi, Q_n being that of rho L_n from the least
                                    rho on.

Along an edge that is smooth, but for the shaft if it is near; there edges are cut into pieces that
grow with their distance from it.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Iterator
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.linkage.quadrature import gauss_legendre, lagrange, lagrange_of_gauss
from fieldsim.field.linkage.ring_patches import FlatTurns, RingSide
from fieldsim.field.linkage.waves import few_at_once, summed_waves

__all__ = ["LEAST", "straight_harmonics"]

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]
Sums = Array | Complex
Edge = tuple[complex, complex, complex]  # where it begins and ends [m], direction times density

LEAST = 12  # points of quadrature along a piece of an edge
_A_RADIAN = 0.35  # more of them, of the waves and of the polynomials
_MOST = 96  # of them: longer rules take long to make
_REACH = 1.2  # times its distance from the shaft: the longest piece
_NEAREST = 1e-8  # of an edge's length: what is nearer to the shaft counts for nothing
_ON_PLANE = 1e-12


def straight_harmonics(turns: FlatTurns, n_rho: int, orders: int) -> Complex:
    """Return W of the straight parts of turns square to the shaft, (2, n_rho, orders).

    Of the radial and of the angular component [m], to 1e-12 of the largest or so. Where the build
    goes into the distance from the shaft hundreds of times, rounding takes a digit of that: what
    the inner and the outer edge say nearly cancels.

    Parameters
    ----------
    turns
        The winding's; nodes are Gauss-Legendre between their least and greatest distance.
    n_rho, orders
        How many nodes, and orders m = 0..orders - 1.

    Examples
    --------
    A thin side of 20 mm that passes the shaft at 10 mm: its angular part is the integral of 10 mm
    over the distance from the shaft.

    >>> side = RingSide(*np.array([[0, 1, 0], [1, 0, 0], [0, 0, 1], [0.01, 0, 0]]), 0.01, 1e-9, 1)
    >>> w = straight_harmonics(FlatTurns((side,), side.rho_range_m(), None), 1, 1)
    >>> float(w[1, 0, 0].real.round(6)), round(0.02 * math.asinh(1), 6)
    (0.017627, 0.017627)
    """
    sides, rho_m, mirror = turns
    # Angles count from the plane, or from the first side.
    along = sides[0].along
    zero = math.atan2(along[1], along[0]) if mirror is None else mirror
    edges = [edge for side in sides for edge in _edges(side, cmath.rect(1.0, -zero))]
    if mirror is not None:
        edges = [edge for edge in edges if not _cut_by_plane(edge, _ON_PLANE * rho_m[1])]
    below, above, level = _integrals(edges, rho_m, n_rho, orders, mirror is not None)
    # Over the area, for k = m - 1 and k = m + 1, but for Green's factor i. That for k = -1 is the
    # conjugate of the one for k = 1.
    above = above[:, 1:] / np.arange(1, orders + 1)
    below = below[:, :-2] / np.maximum(np.arange(orders - 1), 1)
    below[:, :1] = level[:, None]
    below = np.concatenate([-np.conj(above[:, :1]), below], axis=1)
    turned = np.exp(1j * zero * np.arange(orders)) / 2
    w = np.empty((2, n_rho, orders), dtype=np.complex128)
    np.multiply(below + above, 1j * turned, out=w[0])
    np.multiply(below - above, turned, out=w[1])
    return w


def _integrals(
    edges: list[Edge], rho_m: tuple[float, float], n_rho: int, orders: int, mirrored: bool
) -> tuple[Sums, Sums, Sums]:
    """Return integrals along edges of exp(i k phi) L_n rho drho, and of Q_n dphi over i.

    The first times the current's direction (for k = m - 1) and times its conjugate (k = m + 1),
    each (n_rho, orders + 1) for k = 0..orders; the last times the direction, (n_rho,). Where edges
    are mirrored, they and their image add up to twice the real parts.
    """
    at, step, way = _points(edges, rho_m, n_rho, orders)
    rho = np.abs(at)
    phase = at / rho
    area = np.conj(phase) * step  # drho + i rho dphi
    by_rho, by_angle = way * (rho * area.real), way * (area.imag / rho)
    # Two nodes more hold the integrals of the polynomials too.
    middle, half = (rho_m[0] + rho_m[1]) / 2, (rho_m[1] - rho_m[0]) / 2
    to_nodes, to_integrals, to_moments = _from_more(n_rho)
    nodes = middle + half * gauss_legendre(n_rho + 2)[0]
    cosines, sines = np.zeros((2, n_rho if mirrored else 2 * n_rho, orders + 1))
    swept = np.zeros((len(nodes), 2))
    for part in few_at_once(len(rho), len(nodes)):
        in_rho = lagrange(nodes, rho[part]).T
        swept += in_rho @ by_angle[part].view(np.float64).reshape(-1, 2)
        in_rho = to_nodes @ in_rho
        real, imaginary = by_rho[part].real * in_rho, by_rho[part].imag * in_rho
        if not mirrored:
            real = imaginary = np.concatenate([real, imaginary])
        c, s = summed_waves(real, imaginary, phase[part], orders + 1)
        cosines += c
        sines += s
    level = half * (middle * (to_integrals @ swept) + half * (to_moments @ swept))
    if mirrored:
        return 2 * (cosines - sines), 2 * (cosines + sines), 2 * level[:, 1]
    waves = cosines + 1j * sines
    real_part, imaginary_part = waves[:n_rho], 1j * waves[n_rho:]
    return real_part + imaginary_part, real_part - imaginary_part, level[:, 1] - 1j * level[:, 0]


def _edges(side: RingSide, back: complex) -> list[Edge]:
    """Return the edges of a side's straight part seen along the shaft, counter-clockwise.

    Turned by the phase ``back``.
    """
    along, outward, middle = (
        complex(*v[:2].tolist()) * back for v in (side.along, side.outward, side.middle_m)
    )
    inner, outer = side.half_m, side.half_m if side.is_round else side.longest_m
    corners = [
        middle + side.start * inner * along,
        middle + side.stop * inner * along,
        middle + side.stop * outer * along + side.build_m * outward,
        middle + side.start * outer * along + side.build_m * outward,
    ]
    turn = math.copysign(side.share / side.build_m, (along.conjugate() * outward).imag)
    ends = zip(corners, [*corners[1:], corners[0]], strict=True)
    return [(begin, end, turn * along) for begin, end in ends if begin != end]


def _cut_by_plane(edge: Edge, near_m: float) -> bool:
    """Return whether an edge is where the plane cuts turns: with its image it is none."""
    begin, end, way = edge
    return max(abs(begin.imag), abs(end.imag)) < near_m and abs(way.real) < abs(way.imag)


def _points(
    edges: list[Edge], rho_m: tuple[float, float], n_rho: int, orders: int
) -> tuple[Complex, Complex, Complex]:
    """Return places along edges, steps to integrate by, and the current's direction, all flat."""
    todo = [piece for edge in edges for piece in _pieces(edge)]
    pieces, rules = [], []
    while todo:
        piece = todo.pop()
        needed = _points_needed(piece, rho_m, n_rho, orders)
        if needed > _MOST:
            begin, end, way = piece
            middle = (begin + end) / 2
            todo += [(begin, middle, way), (middle, end, way)]
        else:
            pieces.append(piece)
            rules.append(gauss_legendre(needed))
    begins, ends, ways = np.repeat(np.array(pieces), [len(x) for x, _ in rules], axis=0).T
    half = (ends - begins) / 2
    x, w = (np.concatenate(each) for each in zip(*rules, strict=True))
    return begins + half * (1 + x), half * w, ways


def _pieces(edge: Edge) -> Iterator[Edge]:
    """Yield pieces of an edge, none longer than its distance from the shaft allows."""
    begin, end, way = edge
    length = abs(end - begin)
    along = (end - begin) / length
    local = begin * along.conjugate()
    foot, beside = begin - local.real * along, abs(local.imag)
    low, high = local.real, local.real + length
    # What is next to the shaft counts for nothing if the edge passes through it.
    least = _NEAREST * length if beside < _NEAREST * length else 0.0
    # Ahead of the foot of the shaft, and back from there.
    for sign, near, far in ((1, max(low, least), high), (-1, max(-high, least), -low)):
        at = near
        while at < far:
            last, at = at, min(at + _REACH * math.hypot(at, beside), far)
            yield foot + sign * last * along, foot + sign * at * along, sign * way


def _points_needed(piece: Edge, rho_m: tuple[float, float], n_rho: int, orders: int) -> int:
    """Return Gauss points for exp(i k phi) and polynomials in rho along a piece of an edge.

    Both are waves, the polynomials in the arc cosine of rho; a wave takes a quarter of a point a
    radian and some more.
    """
    begin, end, _ = piece
    middle, half = (rho_m[0] + rho_m[1]) / 2, (rho_m[1] - rho_m[0]) / 2
    low, high = (abs(begin) - middle) / half, (abs(end) - middle) / half
    across = abs(math.acos(min(max(low, -1.0), 1.0)) - math.acos(min(max(high, -1.0), 1.0)))
    turned = abs(cmath.phase(end * begin.conjugate()))
    return LEAST + int(_A_RADIAN * (orders * turned + n_rho * across))


@lru_cache(maxsize=64)
def _from_more(n_rho: int) -> tuple[Array, Array, Array]:
    """Return what becomes of values at two nodes more, from -1 to 1, (n_rho, n_rho + 2) each.

    The Lagrange polynomials L_n themselves, their integrals from -1 on, and those of x L_n.
    """
    nodes, more = gauss_legendre(n_rho)[0], gauss_legendre(n_rho + 2)[0]
    x, w = gauss_legendre(n_rho // 2 + 1)
    half = (1 + more[:, None]) / 2
    at = half * (1 + x) - 1
    values = (half * w)[..., None] * lagrange(nodes, at.ravel()).reshape(*at.shape, n_rho)
    integrals, moments = values.sum(axis=1).T, (at[..., None] * values).sum(axis=1).T
    integrals.flags.writeable = moments.flags.writeable = False
    return lagrange_of_gauss(n_rho, n_rho + 2).T, integrals, moments
