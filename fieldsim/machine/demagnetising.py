"""Demagnetising factors of magnets: how much of its own field stands against a uniform body."""

from __future__ import annotations

import math

from fieldsim.machine.frames import Vec3
from fieldsim.machine.magnets import Cylinder, Shape, Sphere

__all__ = ["block_factor", "cylinder_factor", "demagnetising_factor"]


def demagnetising_factor(shape: Shape, axis: int) -> float:
    """Return the factor of a shape magnetised along an arm axis, averaged over its volume.

    Parameters
    ----------
    shape
        Of the magnet.
    axis
        0 along the arm, 1 forward, 2 along the shaft.

    Examples
    --------
    >>> from fieldsim.machine.magnets import Cuboid
    >>> round(demagnetising_factor(Cuboid((0.01, 0.01, 0.02)), 2), 6)
    0.198316
    """
    if isinstance(shape, Sphere):
        return 1 / 3
    if isinstance(shape, Cylinder):
        along = cylinder_factor(shape.diameter, shape.thickness)
        # The factors of three directions add up to one.
        return along if axis == shape.axis.value else (1 - along) / 2
    size = shape.size
    return block_factor((size[(axis + 1) % 3], size[(axis + 2) % 3], size[axis]))


def block_factor(size: Vec3) -> float:
    """Return the factor of a block along its third edge.

    Parameters
    ----------
    size
        Its edges, in any unit.

    Notes
    -----
    A. Aharoni, J. Appl. Phys. 83, 3432 (1998), equation 1.

    Examples
    --------
    >>> round(block_factor((1, 1, 1)), 12)
    0.333333333333
    """
    a, b, c = (edge / 2 for edge in size)
    r, ab, bc, ca = math.hypot(a, b, c), math.hypot(a, b), math.hypot(b, c), math.hypot(c, a)
    # Each logarithm of (r + a)/(r - a) as twice that of (r + a) over the root of (r + a)(r - a),
    # which does not cancel.
    total = (
        -(b * b - c * c) / (b * c) * math.log((r + a) / bc)
        - (a * a - c * c) / (a * c) * math.log((r + b) / ca)
        + b / c * math.log((ab + a) / b)
        + a / c * math.log((ab + b) / a)
        - c / a * math.log((bc + b) / c)
        - c / b * math.log((ca + a) / c)
        + 2 * math.atan(a * b / (c * r))
        + (a**3 + b**3 - 2 * c**3) / (3 * a * b * c)
        + (a * a + b * b - 2 * c * c) / (3 * a * b * c) * r
        + c / (a * b) * (ca + bc)
        - (ab**3 + bc**3 + ca**3) / (3 * a * b * c)
    )
    return total / math.pi


def cylinder_factor(diameter: float, length: float) -> float:
    """Return the factor of a cylinder along its axis.

    Parameters
    ----------
    diameter, length
        In one unit.

    Notes
    -----
    A cylinder magnetised along its axis is a current sheet round it. The flux through it, averaged
    over its length, is what its self-inductance says, so that the factor is one less Nagaoka's
    coefficient: H. Nagaoka, J. Coll. Sci. Tokyo 27 (6), 1909, for Lorenz's closed form.

    Examples
    --------
    >>> round(cylinder_factor(1, 1), 6)
    0.311577
    """
    from scipy.special import ellipe, ellipkm1

    diagonal = math.hypot(diameter, length)
    k, other = diameter / diagonal, length / diagonal
    first, second = float(ellipkm1(other * other)), float(ellipe(k * k))
    inner = (other / k) ** 2 * (first - second) + second - k
    return 1 - 4 / (3 * math.pi * other) * inner
