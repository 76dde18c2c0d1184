"""Gradients of the Newtonian potentials of homogeneous cylinders and balls.

What `fieldsim.field.potential.cuboid` is for blocks: with phi(p) = integral dV'/|p - p'| a
uniformly magnetised body has the vector potential A = Br / (4 pi) * (grad phi x direction).

The integral over a cylinder's height is elementary. What is left is one round its rim at distance
c, c^2 = a^2 + r^2 - 2 a r cos(psi), from the axis point, and by parts

    d phi/dr = -a^2 r [zeta * integral sin(psi)^2 / (c^2 sqrt(c^2 + zeta^2)) d psi],
    d phi/dz = -[P(zeta)],   P = integral (a^2 - a r cos(psi)) (sqrt(c^2 + zeta^2) - |zeta|) / c^2,

brackets taken from zeta = z + h down to z - h for half height h; P is the potential of a uniform
disc, by Gauss's theorem in its plane. Both are complete elliptic integrals, here in Carlson's
symmetric forms (NIST Digital Library of Mathematical Functions, 19.16 and 19.25(i)), which scipy
computes to rounding.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

__all__ = ["ball_gradient", "cylinder_axial_gradient", "cylinder_radial_gradient"]

Array = NDArray[np.float64]

# On the cylinder that continues the mantle n is one; so near to it the difference is below rounding
_LEAST = 1e-30


def cylinder_radial_gradient(r: Array, z: Array, radius: float, half: float) -> Array:
    """Return the derivative away from the axis of a cylinder's potential [m].

    Parameters
    ----------
    r, z
        Distances from the axis, zero or more, and from the middle along it [m], any common shape.
    radius, half
        Of the cylinder, and half its height [m].

    Notes
    -----
    Each end gives ``16 a^2 r zeta J / ((a + r)^2 Q)`` with ``Q^2 = (a + r)^2 + zeta^2``,
    ``n = 4 a r / (a + r)^2``, ``k^2 = 4 a r / Q^2`` and
    ``J = (RD(0, 1 - k^2, 1) - (1 - n) RJ(0, 1 - k^2, 1, 1 - n)) / (3 n)``.

    Examples
    --------
    Far away it is that of a point: minus volume over distance squared.

    >>> g = cylinder_radial_gradient(np.array([5.0]), np.array([0.0]), 0.01, 0.005)
    >>> round(float(g[0] / (-math.pi * 0.01**2 * 0.01 / 25.0)), 5)
    1.0
    """
    from scipy.special import elliprd, elliprj

    sum_, rest = radius + r, _complement(r, radius)
    n = np.maximum(4 * radius * r / sum_**2, _LEAST)
    total = np.zeros(np.broadcast(r, z).shape)
    for sign, zeta in ((-1.0, z + half), (1.0, z - half)):
        square = sum_**2 + zeta**2
        k = np.maximum(((radius - r) ** 2 + zeta**2) / square, _LEAST)
        j = (elliprd(0.0, k, 1.0) - rest * elliprj(0.0, k, 1.0, rest)) / (3 * n)
        total += sign * zeta * j / np.sqrt(square)
    return np.asarray(16 * radius**2 * r / sum_**2 * total)


def cylinder_axial_gradient(r: Array, z: Array, radius: float, half: float) -> Array:
    """Return the derivative along the axis of a cylinder's potential [m].

    Parameters
    ----------
    r, z, radius, half
        As for `cylinder_radial_gradient`.

    Notes
    -----
    The potential of a disc is ``2 Q E + 2 (a^2 - r^2) K / Q + 2 (a - r) / (a + r) zeta^2 PI / Q``,
    less ``2 pi |zeta|`` where ``r < a``.

    Examples
    --------
    On the axis it is elementary.

    >>> g = cylinder_axial_gradient(np.array([0.0]), np.array([2.0]), 1.0, 0.5)
    >>> by_hand = 2 * math.pi * (math.hypot(1, 2.5) - 2.5 - math.hypot(1, 1.5) + 1.5)
    >>> round(float(g[0]) / by_hand, 12)
    1.0
    """
    return _disc_potential(r, z + half, radius) - _disc_potential(r, z - half, radius)


def _disc_potential(r: Array, zeta: Array, radius: float) -> Array:
    """Return the integral of 1/distance over a disc, at a height above its plane [m]."""
    from scipy.special import elliprd, elliprf, elliprj

    sum_, rest = radius + r, _complement(r, radius)
    n = 1.0 - rest
    square = sum_**2 + zeta**2
    k = np.maximum(((radius - r) ** 2 + zeta**2) / square, _LEAST)
    first = elliprf(0.0, k, 1.0)
    second = first - (1.0 - k) / 3 * elliprd(0.0, k, 1.0)
    third = first + n / 3 * elliprj(0.0, k, 1.0, rest)
    inside = np.heaviside(radius - r, 0.5)
    q = np.sqrt(square)
    return np.asarray(
        2 * q * second
        + 2 * (radius - r) / q * (sum_ * first + zeta**2 / sum_ * third)
        - 2 * math.pi * np.abs(zeta) * inside
    )


def _complement(r: Array, radius: float) -> Array:
    """Return 1 - n."""
    return np.asarray(np.maximum(((radius - r) / (radius + r)) ** 2, _LEAST))


def ball_gradient(x: Array, y: Array, z: Array, radius: float) -> tuple[Array, Array]:
    """Return the x and y derivatives of a ball's potential outside it [m].

    Parameters
    ----------
    x, y, z
        Points relative to the centre [m], any common shape.
    radius
        Of the ball [m].

    Notes
    -----
    Outside, a homogeneous ball is a point of the same volume.

    Examples
    --------
    >>> gx, gy = ball_gradient(np.array([2.0]), np.array([0.0]), np.array([0.0]), 1.0)
    >>> round(float(gx[0]), 9) == round(-math.pi / 3, 9), float(gy[0]) == 0.0
    (True, True)
    """
    scale = -4 / 3 * math.pi * radius**3 / (x**2 + y**2 + z**2) ** 1.5
    return np.asarray(scale * x), np.asarray(scale * y)
