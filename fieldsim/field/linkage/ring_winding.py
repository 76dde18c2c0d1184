"""The harmonics of a square-standing winding about the shaft: its part of the linkage.

    W[c, n, m] = mean over the section of the integral round the turn of t_c exp(i m phi) L_n dl,

t_c being the turn's direction in polar components at the point (rho, phi, z) and L_n the Lagrange
polynomial in rho and z of a node. Straight turns square to the shaft go by their edges
(`flat_turns`). Of all others Gauss-Legendre does the integral, as many points as the waves and the
polynomials need. Bends (`round_corner`) that stand along the shaft are integrated by products: what
depends on the angle about the shaft is interpolated between Gauss nodes across the shaft, and the
integral of those polynomials with L_n over the quarter disc is exact.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.linkage.flat_turns import straight_harmonics
from fieldsim.field.linkage.quadrature import gauss_legendre, lagrange, lagrange_of_gauss
from fieldsim.field.linkage.ring_nodes import Nodes
from fieldsim.field.linkage.ring_patches import FlatTurns, Patch, RingSide
from fieldsim.field.linkage.round_corner import bend_points, points_for_products
from fieldsim.field.linkage.waves import few_at_once, summed_waves

__all__ = ["SHARE", "forget_windings", "winding_harmonics"]

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]

SHARE = 0.18  # points of quadrature a radian and order, and a polynomial
_POINTS = 12  # at least


def winding_harmonics(
    patch: Patch, nodes: Nodes, orders: int, part_of: tuple[Nodes, int] | None = None
) -> Complex:
    """Return W on one patch for orders m = 0..orders - 1.

    Parameters
    ----------
    patch
        Of the winding.
    nodes
        Of one row on it.
    orders
        How many.
    part_of
        Finer nodes and more orders that are needed too, whose sums these are a part of.

    Returns
    -------
    Shape (components, n_rho, n_z, orders); n_z is one in the plane.
    """
    if patch.in_plane:
        finest, most_orders = part_of or (nodes, orders)
        most = (len(finest.rho_m), most_orders)
        if patch.piece:  # which is another magnet's hardly ever
            return _on_fewer(_flat(patch.turns, *most), len(nodes.rho_m), orders)
        return _in_plane(patch.turns, len(nodes.rho_m), orders, most)
    kind = _along_shaft if patch.along_shaft else _build_along_shaft
    first, *rest = (kind(patch, side, nodes, orders) for side in patch.sides)
    return np.asarray(sum(rest, start=first))


def forget_windings() -> None:
    """Forget the windings' harmonics, to time what the first table of a winding takes."""
    _in_plane.cache_clear()
    _kept_flat.cache_clear()


@lru_cache(maxsize=64)
def _in_plane(turns: FlatTurns, n_rho: int, orders: int, most: tuple[int, int]) -> Complex:
    """Return W of turns square to the shaft, (2, n_rho, 1, orders), read-only.

    Made for the most nodes and orders, and kept. They do not depend on the magnet or on height: all
    tracks past the same coil and every row of a gap study need the same ones.
    """
    return _on_fewer(_kept_flat(turns, *most), n_rho, orders)


def _on_fewer(w: Complex, n_rho: int, orders: int) -> Complex:
    """Return W at fewer nodes and of fewer orders, (2, n_rho, 1, orders), read-only.

    The Lagrange polynomials of fewer nodes are sums of those of more.
    """
    few = w[..., :orders]
    if n_rho < w.shape[1]:
        few = (lagrange_of_gauss(n_rho, w.shape[1]).T @ few.view(np.float64)).view(np.complex128)
    few = np.asarray(few[:, :, None])
    few.flags.writeable = False
    return few


def _flat(turns: FlatTurns, n_rho: int, orders: int) -> Complex:
    """Return W of turns square to the shaft, (2, n_rho, orders)."""
    straight = straight_harmonics(turns, n_rho, orders)
    if not any(side.ends for side in turns.sides):
        return straight
    return straight + _bent(turns, n_rho, orders)


_kept_flat = lru_cache(maxsize=64)(_flat)


def _bent(turns: FlatTurns, n_rho: int, orders: int) -> Complex:
    """Return W of the bends of turns square to the shaft, (2, n_rho, orders)."""
    sides, (low, high), mirror = turns
    places, turned = [], []
    # Each bend once, with what the next side has of its current; of a half that a plane mirrors,
    # the sides that it cuts in two lead to all bends.
    for side in (side for side in sides if mirror is None or side.start == 0.0):
        size = (side.rho_range_m()[0], high - low, orders, n_rho)
        n = (_points_needed(side.build_m / 2, *size), _points_needed(side.build_m, *size))
        along, deep, area = bend_points(side.build_m, n)
        places.append(_polar(side, side.half_m + along, deep, 0.0))
        this, following = (v[0] + 1j * v[1] for v in (side.along, -side.outward))
        current = (this + following * (along / deep)) * (area * side.share / side.build_m)
        turned.append(np.conj(places[-1][1]) * current)
    rho, phase = (np.concatenate(each) for each in zip(*places, strict=True))
    weight = np.concatenate(turned)
    nodes = (low + high) / 2 + (high - low) / 2 * gauss_legendre(n_rho)[0]
    if mirror is None:
        return _across(nodes, rho, phase, weight, orders)
    # With phases counted from the plane, a point and its image add up to twice a cosine or sine:
    # the images run the other way, their radial part with the opposite sign.
    phase = phase * np.exp(-1j * mirror)
    w = np.zeros((2, n_rho, orders), dtype=np.complex128)
    for part in few_at_once(len(rho), n_rho):
        in_rho = lagrange(nodes, rho[part]).T
        angular, radial = weight[part].imag * in_rho, weight[part].real * in_rho
        cosines, sines = summed_waves(angular, radial, phase[part], orders)
        w += np.stack([2j * sines, 2.0 * cosines])
    return np.asarray(w * np.exp(1j * mirror * np.arange(orders)))


def _along_shaft(patch: Patch, side: RingSide, nodes: Nodes, orders: int) -> Complex:
    """Return W of a side along the shaft, (1, n_rho, n_z, orders)."""
    low, high = patch.rho_m
    size = (low, high - low, orders, len(nodes.rho_m))
    u, wu = gauss_legendre(_across_build(side, *size))
    v, wv = gauss_legendre(_points_needed(side.half_length_m, *size))
    depth = side.build_m / 2 * (1 + u)
    weight = math.copysign(side.share / 4, side.along[2]) * wv
    up = _integrals_over_height(nodes.z_m, patch, side, side.straight_m(depth))
    if side.is_round:
        up = up + _bends_over_height(nodes.z_m, patch, side, depth) / (wu / 2)[:, None]
    n_rho, n_z = nodes.counts
    # Heights depend on the depth alone: a depth at a time, all its points share them.
    at_depths = np.empty((len(u), n_rho, orders), dtype=np.complex128)
    for at, d, w in zip(at_depths, depth, wu, strict=True):
        rho, phase = _polar(side, 0.0, d, side.half_length_m * v)
        at[:] = _waved((lagrange(nodes.rho_m, rho) * (w * weight)[:, None]).T, phase, orders)
    found = up.T @ at_depths.reshape(len(u), -1)
    return np.asarray(found.reshape(1, n_z, n_rho, orders).transpose(0, 2, 1, 3))


def _build_along_shaft(patch: Patch, side: RingSide, nodes: Nodes, orders: int) -> Complex:
    """Return W of a side whose build runs along the shaft: a height of it is a depth in it."""
    if side.is_round:
        return _bent_build_along_shaft(patch, side, nodes, orders)
    low, high = patch.rho_m
    size = (low, high - low, orders, len(nodes.rho_m))
    ends = side.ends_m
    t, wt = gauss_legendre(_points_needed((ends[1] - ends[0]) / 2, *size))
    t = (side.start + side.stop) / 2 + (side.stop - side.start) / 2 * t
    wt = side.share * (side.stop - side.start) / 2 * wt
    v, wv = gauss_legendre(_points_needed(side.half_length_m, *size))
    layers = []
    depths = (nodes.z_m - side.middle_m[2]) * math.copysign(1.0, side.outward[2])
    for depth, wz in zip(depths, gauss_legendre(len(depths))[1] / 2, strict=True):
        reach = side.half_m + depth
        rho, phase = _polar(side, (reach * t)[:, None], depth, side.half_length_m * v)
        weight = _turned(side, phase) * ((wz * reach / 2) * np.outer(wt, wv).ravel())
        layers.append(_across(nodes.rho_m, rho, phase, weight, orders))
    return np.stack(layers, axis=2)


def _bent_build_along_shaft(patch: Patch, side: RingSide, nodes: Nodes, orders: int) -> Complex:
    """Return the same with bends: all depths have their points at the same distances."""
    low, high = patch.rho_m
    size = (low, high - low, orders, len(nodes.rho_m))
    t, wt = gauss_legendre(_points_needed(side.half_m, *size))
    v, wv = gauss_legendre(_points_needed(side.half_length_m, *size))
    beyond = side.build_m / 2 * (1 + gauss_legendre(_across_build(side, *size))[0])
    along, deep, weight = points_for_products(side.build_m, len(beyond) + len(nodes.z_m))
    height, weight = side.middle_m[2] + side.outward[2] * deep, weight / side.build_m
    bent = np.zeros((len(beyond), len(nodes.z_m)))
    for part in few_at_once(len(along), len(beyond)):
        at_height = lagrange(nodes.z_m, height[part]) * weight[part, None]
        bent += lagrange(beyond, along[part]).T @ at_height
    straight = side.half_m * np.outer(wt, gauss_legendre(len(nodes.z_m))[1] / 2)
    places = [side.half_m * t, *(end * (side.half_m + beyond) for end in side.ends)]
    share = np.concatenate([straight, *(bent for _ in side.ends)])  # (places, n_z)
    rho, phase = _polar(side, np.concatenate(places)[:, None], 0.0, side.half_length_m * v)
    way = _turned(side, phase) * np.tile(wv / 2, len(share))
    in_z = np.repeat(share, len(v), axis=0)
    w = np.zeros((2 * math.prod(nodes.counts), orders), dtype=np.complex128)
    for part in few_at_once(len(rho), len(w)):
        in_rho, ways = lagrange(nodes.rho_m, rho[part]), np.stack([way[part].real, way[part].imag])
        flat = ways[:, :, None, None] * in_rho[:, :, None] * in_z[part, None, :]
        w += _waved(flat.transpose(0, 2, 3, 1).reshape(len(w), -1), phase[part], orders)
    return w.reshape(2, *nodes.counts, orders)


def _across(nodes: Array, rho: Array, phase: Complex, weight: Complex, orders: int) -> Complex:
    """Return W of points across the shaft, (2, n_rho, orders).

    The weight's real part is for the radial direction of the turn, the imaginary for the angular.
    """
    w = np.zeros((2 * len(nodes), orders), dtype=np.complex128)
    for part in few_at_once(len(rho), len(nodes)):
        in_rho = lagrange(nodes, rho[part]).T
        flat = np.concatenate([weight[part].real * in_rho, weight[part].imag * in_rho])
        w += _waved(flat, phase[part], orders)
    return w.reshape(2, len(nodes), orders)


def _waved(weights: Array, phase: Complex, orders: int) -> Complex:
    cosines, sines = summed_waves(weights, weights, phase, orders)
    return np.asarray(cosines + 1j * sines)


def _across_build(side: RingSide, nearest: float, across: float, orders: int, n_rho: int) -> int:
    """Return Gauss points across the build: twice as many where bends are to be interpolated."""
    points = _points_needed(side.build_m / 2, nearest, across, orders, n_rho)
    return 2 * points if side.is_round else points


def _points_needed(half: float, nearest: float, across: float, orders: int, n_rho: int) -> int:
    """Return Gauss points for exp(i m phi) and the polynomials in rho over a length.

    The highest orders, which hardly count, are resolved roughly, half of them very well. The share
    is refitted by ``benchmarks/fits/ring_constants.py``.

    Parameters
    ----------
    half, nearest
        Half the length, and its distance from the shaft [m].
    across
        Of the patch in rho [m].
    orders, n_rho
        How many.
    """
    spread = math.pi if nearest < half else 2.0 * math.asin(half / (nearest + half))
    covered = 2 * half / max(across, 2 * half)
    return _POINTS + int(SHARE * (orders * spread + n_rho * covered))


def _polar(
    side: RingSide, t: Array | float, u: Array | float, w: Array | float
) -> tuple[Array, Complex]:
    """Return distance from the shaft and exp(i phi) of points of a side, both flat."""
    x, y = (
        side.middle_m[d] + t * side.along[d] + u * side.outward[d] + w * side.axial[d]
        for d in (0, 1)
    )
    x, y = (np.ravel(part) for part in np.broadcast_arrays(x, y))
    rho = np.hypot(x, y)
    # On the shaft line every direction is radial; one must be chosen, and any will do.
    on_line = rho == 0.0
    return rho, np.where(on_line, 1.0, (x + 1j * y) / np.where(on_line, 1.0, rho))


def _turned(side: RingSide, phase: Complex) -> Complex:
    """Return the radial (real) and angular (imaginary) parts of a side's direction at points."""
    return np.asarray(np.conj(phase) * (side.along[0] + 1j * side.along[1]))


def _integrals_over_height(z: Array, patch: Patch, side: RingSide, reach: Array) -> Array:
    """Return the integrals of the Lagrange polynomials of nodes z, (depths, nodes).

    Over what a side of half length ``reach`` has of the patch's heights.
    """
    middle = side.middle_m[2]
    low = np.maximum(middle - reach, patch.z_m[0])
    half = np.maximum(np.minimum(middle + reach, patch.z_m[1]) - low, 0.0) / 2
    x, w = gauss_legendre(len(z) // 2 + 2)
    points = (low + half)[:, None] + np.outer(half, x)
    values = lagrange(z, points.ravel()).reshape(*points.shape, len(z))
    return np.asarray(np.einsum("uxz,x->uz", values, w) * half[:, None])


def _bends_over_height(z: Array, patch: Patch, side: RingSide, depth: Array) -> Array:
    """Return what the bends add to these, times each depth's share of the build, (depths, nodes).

    Of each end that lies in the patch.
    """
    along, deep, weight = points_for_products(side.build_m, len(depth) + len(z))
    found = np.zeros((len(depth), len(z)))
    heights = [side.middle_m[2] + end * side.along[2] * (side.half_m + along) for end in side.ends]
    inside = [h for h in heights if patch.z_m[0] <= h.min() and h.max() <= patch.z_m[1]]
    for part in few_at_once(len(along), len(depth)):
        at_depth = lagrange(depth, deep[part]) * (weight[part] / side.build_m)[:, None]
        for height in inside:
            found += at_depth.T @ lagrange(z, height[part])
    return found
