"""The gradient of a magnet's Newtonian potential, whatever its shape, across its magnetisation."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.potential.cuboid import newtonian_gradient_xy
from fieldsim.field.potential.round_potential import (
    ball_gradient,
    cylinder_axial_gradient,
    cylinder_radial_gradient,
)
from fieldsim.machine.magnets import Cuboid, Shape, Sphere

__all__ = ["cuboid_gradient", "shape_gradient"]

Array = NDArray[np.float64]


def shape_gradient(shape: Shape, arm: Array, north: int) -> tuple[Array, Array]:
    """Return the two derivatives across the magnetisation of a shape's potential [m].

    Parameters
    ----------
    shape
        Of the magnet.
    arm
        Points relative to its centre, in arm axes [m], (3, points).
    north
        Index of the magnetisation's axis; the derivatives are along the two that follow it.
    """
    i, j = (north + 1) % 3, (north + 2) % 3
    if isinstance(shape, Sphere):
        return ball_gradient(arm[i], arm[j], arm[north], shape.diameter / 2)
    if isinstance(shape, Cuboid):
        return cuboid_gradient([edge / 2 for edge in shape.size], arm, north)
    axis = shape.axis.value
    size = (shape.diameter / 2, shape.thickness / 2)
    across = [arm[d] for d in range(3) if d != axis]
    r = np.hypot(*across)
    outward = cylinder_radial_gradient(r, arm[axis], *size) / np.where(r > 0.0, r, 1.0)

    def along(d: int) -> Array:
        return cylinder_axial_gradient(r, arm[d], *size) if d == axis else outward * arm[d]

    return along(i), along(j)


def cuboid_gradient(half: Sequence[float] | Array, arm: Array, north: int) -> tuple[Array, Array]:
    """Return the same of a cuboid, or of another one for each point.

    Parameters
    ----------
    half
        Half its edges [m]: three numbers, or (3, points).
    arm, north
        As for `shape_gradient`.

    Examples
    --------
    Far away a cube is a point: its volume over the square of the distance.

    >>> along, _ = cuboid_gradient([0.5, 0.5, 0.5], np.array([[0.0], [0.0], [20.0]]), 1)
    >>> round(float(along[0] * 20**2), 3)
    -1.0
    """
    i, j = (north + 1) % 3, (north + 2) % 3
    return newtonian_gradient_xy(arm[i], arm[j], arm[north], (half[i], half[j], half[north]))
