"""The cuboid's potential averaged along a line through the magnet's frame, in closed form.

A winding edge that runs along the rotor's shaft keeps its direction in the magnet's frame as the
magnet turns, so the integral along it needs no quadrature points. Integrating the gradient of
`fieldsim.field.cuboid` once more along z gives, with corners (X, Y, Z) and R their distance,

    integral of g_x dz = sum +- [ Y Z ln(Z + R) - Y R / 2 + (Z*Z - X*X) / 2 ln(Y + R)
                                  - X Z atan(Y Z / (X R)) ],

over sixteen corners: those of the cuboid seen from both ends of the line. (Derived here; terms that
cancel in the sum are left out. The tests compare it with quadrature and with mpmath.)
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["mean_gradient_x"]

Array = NDArray[np.float64]

_BLOCK = 4096
_TINY = 1e-300  # keeps a logarithm finite where its factor is zero


class _Workspace:
    """Arrays that every block of one call writes over."""

    def __init__(self, n: int) -> None:
        rows = np.empty((68, n))  # one allocation, whose pages the system keeps for the next call
        self.x, self.y, self.xx, self.yy = rows[0:8].reshape(4, 2, n)
        self.z, self.zz, self.za, self.four = rows[8:24].reshape(4, 4, n)
        self.r = rows[24:40].reshape(2, 2, 4, n)  # by x, y, z
        self.a, self.b, self.c = rows[40:64].reshape(3, 2, 4, n)
        self.rho = rows[64:68].reshape(2, 2, n)


def mean_gradient_x(
    x: Array, y: Array, z: Array, half_line: Array, half: tuple[float, float, float]
) -> Array:
    """Return the mean, along a line in z, of the x derivative of the integral of dV'/|p - p'|.

    Parameters
    ----------
    x, y, z
        Middles of the lines relative to the cuboid's centre, along its edges [m], (points,).
    half_line
        Half lengths of the lines [m], (points,).
    half
        Half lengths of the cuboid's edges [m].

    Notes
    -----
    Swap x and y, with their half lengths, for the y derivative. Rounding grows with the fourth
    power of distance over size: about 1e-12 at ten sizes away.
    """
    result = np.empty(x.size)
    work = _Workspace(min(x.size, _BLOCK))
    for start in range(0, x.size, _BLOCK):
        part = slice(start, start + _BLOCK)
        if x[part].size < work.x.shape[1]:
            work = _Workspace(x[part].size)
        _block(x[part], y[part], z[part], half_line[part], half, work, result[part])
    return result


def _block(
    x: Array,
    y: Array,
    z: Array,
    line: Array,
    half: tuple[float, float, float],
    w: _Workspace,
    out: Array,
) -> None:
    a, b, c = half
    np.add(x, a, w.x[0])
    np.subtract(x, a, w.x[1])
    np.add(y, b, w.y[0])
    np.subtract(y, b, w.y[1])
    # In this order the corners along z count +, -, -, +.
    np.add(z, line, w.z[0])
    np.subtract(w.z[0], c, w.z[1])
    w.z[0] += c
    np.subtract(z, line, w.z[3])
    np.add(w.z[3], c, w.z[2])
    w.z[3] -= c
    for p, square in ((w.x, w.xx), (w.y, w.yy), (w.z, w.zz)):
        np.multiply(p, p, square)
    np.abs(w.z, w.za)
    np.add(w.xx[:, None], w.yy, w.rho)
    np.add(w.rho[:, :, None], w.zz, w.r)
    np.sqrt(w.r, w.r)
    r = w.r

    # Edges along z: |Z| ln((R + |Z|) at +x over that at -x), and Y R.
    np.add(r[0], w.za, w.a)
    np.add(r[1], w.za, w.b)
    w.a /= w.b
    np.log(w.a, w.a)
    w.a *= w.za
    np.subtract(r[0], r[1], w.b)
    w.b *= 0.5
    w.a -= w.b
    by_y = _alternating(w.a, w.four[0:2])
    # Where Z is below zero the logarithm is that of rho**2 / (R + |Z|) instead.
    np.minimum(w.z, 0.0, w.b[0])
    below = w.b[0, 0] - w.b[0, 1] - w.b[0, 2] + w.b[0, 3]
    if below.any():
        w.rho += _TINY
        np.divide(w.rho[0], w.rho[1], w.four[2:4])
        np.log(w.four[2:4], w.four[2:4])
        w.four[2:4] *= below
        by_y += w.four[2:4]
    by_y *= w.y
    np.subtract(by_y[0], by_y[1], out)

    # Edges along y: (Z*Z - X*X) / 2 times the logarithm of the edge.
    np.add(r[:, 0], r[:, 1], w.a)
    np.add(w.a, 2 * b, w.b)
    w.a -= 2 * b
    w.b /= w.a
    np.log(w.b, w.b)
    np.subtract(w.zz, w.xx[:, None], w.a)
    w.a *= 0.5
    w.b *= w.a

    # Faces across x: |X| Z times the angle of a pair of corners.
    np.abs(w.x, w.x)
    np.multiply(w.y[0], r[:, 1], w.a)
    np.multiply(w.y[1], r[:, 0], w.c)
    w.a -= w.c
    w.a *= w.z
    w.a *= w.x[:, None]
    np.multiply(r[:, 0], r[:, 1], w.c)
    w.c *= w.xx[:, None]
    np.multiply(w.y[0], w.y[1], w.four[0])
    np.multiply(w.zz, w.four[0], w.four)
    w.c += w.four
    np.arctan2(w.a, w.c, w.a)
    w.a *= w.z
    w.a *= w.x[:, None]
    w.b -= w.a
    by_x = _alternating(w.b, w.four[0:2])
    out += by_x[0]
    out -= by_x[1]
    out /= 2 * line


def _alternating(terms: Array, out: Array) -> Array:
    """Set ``out`` to the sum of (2, 4, n) terms over their second axis with signs + - - +."""
    np.subtract(terms[:, 0], terms[:, 1], out)
    out -= terms[:, 2]
    out += terms[:, 3]
    return out
