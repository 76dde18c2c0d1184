"""The magnetic scalar potential of a uniformly magnetised body, whatever its shape."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.potential.cuboid import newtonian_gradient_xy
from fieldsim.field.potential.round_potential import (
    cylinder_axial_gradient,
    cylinder_radial_gradient,
)
from fieldsim.machine.magnets import Cuboid, Shape, Sphere

__all__ = ["magnet_potential"]

Array = NDArray[np.float64]


def magnet_potential(shape: Shape, arm: Array, north: int) -> Array:
    """Return mu0 times the scalar potential of a body of 1 T [m], (points,).

    Parameters
    ----------
    shape
        Of the magnet.
    arm
        Points relative to its centre, in arm axes [m], (3, points).
    north
        Index of the magnetisation's axis.

    Notes
    -----
    -1 / (4 pi) times the derivative along the magnetisation of the body's Newtonian potential.

    Examples
    --------
    Near the middle of a flat magnet's face it is half the thickness, as if between two planes.

    >>> flat = Cuboid((1.0, 1.0, 1e-3))
    >>> phi = magnet_potential(flat, np.array([[0.0], [0.0], [0.51e-3]]), 2)
    >>> round(float(phi[0]) * 1e3, 2)
    0.5
    """
    scale = -1 / (4 * math.pi)
    i, j = (north + 1) % 3, (north + 2) % 3
    if isinstance(shape, Sphere):
        cubed = (arm[0] ** 2 + arm[1] ** 2 + arm[2] ** 2) ** 1.5
        return np.asarray(shape.volume_m3 / (4 * math.pi) * arm[north] / cubed)
    if isinstance(shape, Cuboid):
        half = [edge / 2 for edge in shape.size]
        along, _ = newtonian_gradient_xy(
            arm[north], arm[i], arm[j], (half[north], half[i], half[j])
        )
        return scale * along
    axis = shape.axis.value
    size = (shape.diameter / 2, shape.thickness / 2)
    r = np.hypot(*[arm[d] for d in range(3) if d != axis])
    if axis == north:
        return scale * cylinder_axial_gradient(r, arm[axis], *size)
    outward = cylinder_radial_gradient(r, arm[axis], *size) / np.where(r > 0.0, r, 1.0)
    return np.asarray(scale * outward * arm[north])
