"""Closed-form vector potential of a uniformly magnetised cuboid.

A body magnetised along z with remanence Br has

    A = Br / (4 pi) * (grad phi x z),   phi(p) = integral dV' / |p - p'|,

so it takes two components of the gradient of the Newtonian potential of the homogeneous cuboid:
the difference of the potentials of its two charged-sheet faces. That potential has the classical
closed form of logarithms along edges and solid angles of faces (W. D. MacMillan, "The Theory of the
Potential", 1930, section 43; D. Nagy, Geophysics 31 (1966) 362-371, eq. 8).

Two rewritings make it stable and cheap:

* The logarithms of an edge of length l seen at distances r1, r2 from its ends combine to
  ln((r1 + r2 + l) / (r1 + r2 - l)): finite on the lines that extend the edge, infinite only on the
  edge itself, where the distance that multiplies it is zero: there it counts as zero. Edges that
  share a factor are multiplied before the one logarithm is taken.
* The four arctangents of a face are the argument of a product of four complex numbers; since a
  face's solid angle lies in [0, 2 pi), one arctangent and its sign give it without ambiguity.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

__all__ = ["newtonian_gradient_xy"]

Array = NDArray[np.float64]
Length = float | Array

# Solid angles this far below zero are wrapped ones near 2 pi; nearer to zero they are rounding.
_WRAPPED = -1e-9
_BESIDE_EDGE = 1e-4  # r1 + r2 - l over l, from which on the difference loses digits that count
_BLOCK = 8192  # points at once: long enough to hide the call overhead, short enough for the caches


class _Workspace:
    """Arrays that every block of one call writes over: fresh ones would cost more than the sums."""

    def __init__(self, n: int) -> None:
        rows = np.empty((57, n))  # one allocation, whose pages the system keeps for the next call
        self.x, self.y, self.z, self.pair = rows[0:8].reshape(4, 2, n)
        self.xx, self.yy, self.zz = rows[8:14].reshape(3, 2, n)
        self.total, self.less, self.quad = rows[14:26].reshape(3, 2, 2, n)
        self.r, self.real, self.imag = rows[26:50].reshape(3, 2, 2, 2, n)
        self.logs = rows[50:57]
        self.wrapped = np.empty((2, 2, n), dtype=np.bool_)


def newtonian_gradient_xy(
    x: Array, y: Array, z: Array, half: tuple[Length, Length, Length]
) -> tuple[Array, Array]:
    """Return the x and y derivatives of the integral of dV'/|p - p'| over a cuboid [m].

    Parameters
    ----------
    x, y, z
        Points relative to the centre, along the edges [m], any common shape.
    half
        Half lengths of the edges [m], of one cuboid or of another at each of the points, (points,).

    Notes
    -----
    Finite and continuous everywhere, on edges and corners too. The relative rounding error grows
    with the cube of distance over size: about 1e-13 at ten sizes away.
    """
    shape = x.shape
    x, y, z = x.ravel(), y.ravel(), z.ravel()
    gx, gy = np.empty(x.size), np.empty(x.size)
    n = min(x.size, _BLOCK)
    work = _Workspace(n)
    for start in range(0, x.size, _BLOCK):
        part = slice(start, start + _BLOCK)
        if x.size - start < n:
            work = _Workspace(x.size - start)
        a, b, c = (one[part] if isinstance(one, np.ndarray) else one for one in half)
        _block(x[part], y[part], z[part], (a, b, c), work, gx[part], gy[part])
    return gx.reshape(shape), gy.reshape(shape)


def _block(
    x: Array,
    y: Array,
    z: Array,
    half: tuple[Length, Length, Length],
    work: _Workspace,
    gx: Array,
    gy: Array,
) -> None:
    """Write both derivatives into ``gx`` and ``gy``; axes of stacked arrays run over x, y, z."""
    mul, add, sub = np.multiply, np.add, np.subtract
    w = work
    for p, centre, c, square in (
        (w.x, x, half[0], w.xx),
        (w.y, y, half[1], w.yy),
        (w.z, z, half[2], w.zz),
    ):
        add(centre, c, p[0])
        sub(centre, c, p[1])
        mul(p, p, square)
    add(w.xx[:, None], w.yy, w.quad)
    add(w.quad[:, :, None], w.zz, w.r)
    np.sqrt(w.r, w.r)
    r = w.r

    # Edges along z, y, x: differences over x (over y for the third and the last two).
    _edge_sums(r[:, :, 0], r[:, :, 1], w.z, w.xx, w.yy, 2 * half[2], w)
    _log_ratios(w.total[0], w.total[1], w.less[0], w.less[1], w.pair, w.logs[0:2])
    _log_ratios(w.total[1, 0], w.total[1, 1], w.less[1, 0], w.less[1, 1], w.pair[0], w.logs[2])
    _edge_sums(r[:, 0], r[:, 1], w.y, w.xx, w.zz, 2 * half[1], w)
    _log_ratios(w.total[0], w.total[1], w.less[0], w.less[1], w.pair, w.logs[3:5])
    _edge_sums(r[0], r[1], w.x, w.yy, w.zz, 2 * half[0], w)
    _log_ratios(w.total[0], w.total[1], w.less[0], w.less[1], w.pair, w.logs[5:7])
    logs = np.log(w.logs, w.logs)

    mul(w.y, logs[0:2], w.pair)
    sub(w.pair[0], w.pair[1], gx)
    mul(w.z, logs[3:5], w.pair)
    gx += w.pair[0]
    gx -= w.pair[1]
    # The edge along z at (+x, over y) follows from the other three.
    add(logs[2], logs[0], w.pair[0])
    w.pair[0] -= logs[1]
    mul(w.pair[0], w.x[0], gy)
    mul(w.x[1], logs[2], w.pair[0])
    gy -= w.pair[0]
    mul(w.z, logs[5:7], w.pair)
    gy += w.pair[0]
    gy -= w.pair[1]

    # Faces across x, then across y: angles of the pairs of corners at equal z.
    _corner_pairs(r[:, 0], r[:, 1], w.y, w.x, w.xx, w, w.real[0], w.imag[0])
    _corner_pairs(r[0], r[1], w.x, w.y, w.yy, w, w.real[1], w.imag[1])
    # Their differences over z are the faces' solid angles.
    real, imag = w.real, w.imag
    mul(imag[:, :, 0], real[:, :, 1], w.less)
    mul(real[:, :, 0], imag[:, :, 1], w.quad)
    w.less -= w.quad
    mul(real[:, :, 0], real[:, :, 1], w.total)
    mul(imag[:, :, 0], imag[:, :, 1], w.quad)
    w.total += w.quad
    angle = np.arctan2(w.less, w.total, w.less)
    if np.less(angle, _WRAPPED, w.wrapped).any():
        mul(w.wrapped, 2 * math.pi, w.quad)
        angle += w.quad
    mul(angle[0], np.abs(w.x, w.x), w.pair)
    gx -= w.pair[0]
    gx += w.pair[1]
    mul(angle[1], np.abs(w.y, w.y), w.pair)
    gy -= w.pair[0]
    gy += w.pair[1]


def _edge_sums(
    r1: Array,
    r2: Array,
    along: Array,
    across1: Array,
    across2: Array,
    length: Length,
    w: _Workspace,
) -> None:
    """Set ``total`` and ``less`` to r1 + r2 plus and minus the edge's length.

    Parameters
    ----------
    r1, r2
        Distances from the edges' ends, (2, 2, points).
    along
        Places along the edges, from either end, (2, points).
    across1, across2
        Squared distances from the edges, in either direction across, (2, points).
    """
    np.add(r1, r2, w.less)
    np.add(w.less, length, w.total)
    w.less -= length
    if w.less.min() < _BESIDE_EDGE * np.max(length):
        # Beside an edge: r - s = rho^2 / (r + s), with s along the edge and rho from its line.
        rho2 = across1[:, None] + across2
        first, second = along[0], -along[1]
        near = _excess(r1, first, rho2) + _excess(r2, second, rho2)
        # On the edge itself the infinite logarithm meets a factor of zero: it counts as zero.
        w.less[:] = np.where(near > 0.0, near, w.total)


def _excess(r: Array, s: Array, rho2: Array) -> Array:
    """Return r - s for r^2 = s^2 + rho2 without cancellation."""
    ahead = s > 0.0
    return np.where(ahead, rho2 / np.where(ahead, r + s, 1.0), r - s)


def _log_ratios(n1: Array, n2: Array, d1: Array, d2: Array, spare: Array, out: Array) -> None:
    """Set ``out`` to (n1 / d1) / (n2 / d2), whose logarithm is the difference of two edges."""
    np.multiply(n1, d2, out)
    np.multiply(d1, n2, spare)
    np.divide(out, spare, out)


def _corner_pairs(
    r1: Array, r2: Array, y: Array, x: Array, xx: Array, w: _Workspace, real: Array, imag: Array
) -> None:
    """Set the complex numbers (|x| r1 + i y1 z)(|x| r2 - i y2 z) for faces across x."""
    mul = np.multiply
    mul(r1, r2, real)
    real *= xx[:, None]
    mul(y[0], y[1], w.pair[0])
    mul(w.pair[0], w.zz, w.pair)
    real += w.pair
    mul(y[0], r2, imag)
    mul(y[1], r1, w.quad)
    imag -= w.quad
    imag *= w.z
    imag *= np.abs(x)[:, None]
