"""The field outside a uniformly magnetised body, as that of the magnetic charge on its surface.

Where the polarisation J meets the surface it leaves a charge density ``J . n`` [T]. Outside the
body ``B = mu0 H``, and H is the Coulomb field of that charge. Points inside the body get ``mu0 H``
as well, not B: what is wanted here is the force on another body, which never reaches inside.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fieldsim.machine.frames import Vec3
from fieldsim.machine.magnets import Cuboid, Cylinder, Shape, Sphere
from fieldsim.machine.placed import PlacedMagnet

__all__ = ["Body", "cuboid_charge_field_T", "outside_field_T", "sphere_field_T"]

Array = NDArray[np.float64]

_TINY = 1e-300  # keeps a division on the line of an edge finite; the integral over it is finite


@dataclass(frozen=True)
class Body:
    """A uniformly magnetised body about its own centre.

    Parameters
    ----------
    shape
        Cuboid, cylinder or sphere, along the body's axes.
    polarization_T
        In the body's axes [T].
    """

    shape: Shape
    polarization_T: Vec3

    @classmethod
    def from_mounted(cls, mounted: PlacedMagnet) -> Body:
        """Return the body of a magnet on an arm, in arm axes."""
        return cls(mounted.magnet.shape, mounted.polarization_T)


def cuboid_charge_field_T(size: Vec3, polarization_T: Vec3, points_m: Array) -> Array:
    """Return ``mu0 H`` of a uniformly magnetised cuboid centred at the origin.

    Parameters
    ----------
    size
        Edges along x, y and z [m].
    polarization_T
        In the cuboid's axes [T].
    points_m
        Where to evaluate, in the cuboid's axes [m], shape (points, 3).

    Returns
    -------
    ndarray
        ``mu0 H`` [T], shape (points, 3); equal to B outside the cuboid.

    Notes
    -----
    For the pair of charged faces across axis w, with u and v the other two and sums over the
    eight corners with the sign of each::

        mu0 H_w = J_w / 4 pi  sum  -s  arctan(u v / (w r))
        mu0 H_u = J_w / 4 pi  sum   s  ln(v + r)

    which follows by integrating the Coulomb field over a rectangle (for instance Akoun and
    Yonnet, IEEE Trans. Magn. 20(5) 1962 (1984), whose force is its integral over a second
    rectangle). The logarithms of two neighbouring corners are taken as one, in the form that
    loses no digits beside an edge.

    Examples
    --------
    On the axis of a cube of 10 mm, 5 mm above its face:

    >>> field = cuboid_charge_field_T((0.01,) * 3, (0, 0, 1.0), np.array([[0, 0, 0.01]]))
    >>> round(float(field[0, 2]), 12)
    0.134782386237
    """
    field = np.zeros_like(points_m, dtype=float)
    # Corner offsets along each axis, (2, points): below and above the centre.
    ends = [
        np.stack([points_m[:, i] - size[i] / 2, points_m[:, i] + size[i] / 2]) for i in range(3)
    ]
    x, y, z = ends[0][:, None, None], ends[1][None, :, None], ends[2][None, None, :]
    r = np.sqrt(x * x + y * y + z * z)
    for axis, component in enumerate(polarization_T):
        if component == 0.0:
            continue
        u, v = (axis + 1) % 3, (axis + 2) % 3
        by_role = np.moveaxis(r, (u, v, axis), (0, 1, 2))  # (2 u, 2 v, 2 w, points)
        scale = component / (4 * math.pi)
        field[:, axis] -= scale * _arctangents(ends[u], ends[v], ends[axis], by_role)
        field[:, u] += scale * _logarithms(ends[u], ends[v], ends[axis], by_role, points_m[:, v])
        swapped = np.moveaxis(by_role, 1, 0)
        field[:, v] += scale * _logarithms(ends[v], ends[u], ends[axis], swapped, points_m[:, u])
    return field


def _arctangents(u: Array, v: Array, w: Array, r: Array) -> Array:
    """Return the signed sum of arctan(u v / w r) over the corners, (points,)."""
    denominator = w[None, None, :] * r
    denominator[denominator == 0.0] = _TINY
    terms = np.arctan(u[:, None, None] * v[None, :, None] / denominator)
    across = (terms[1, 1] - terms[0, 1]) - (terms[1, 0] - terms[0, 0])
    return np.asarray(across[1] - across[0])


def _logarithms(u: Array, v: Array, w: Array, r: Array, v_centre: Array) -> Array:
    """Return the signed sum of ln(v + r) over the corners, as one logarithm, (points,).

    The field component is even in v, so that v can be measured towards the far end of the edge,
    where ``v + r`` has no cancellation; at the near end it may have, and is rewritten.
    """
    flip = v_centre < 0
    far_v = np.where(flip, -v[0], v[1])
    near_v = np.where(flip, -v[1], v[0])
    far_r = np.where(flip, r[:, 0], r[:, 1])
    near_r = np.where(flip, r[:, 1], r[:, 0])
    rho2 = u[:, None] ** 2 + w[None, :] ** 2  # (2 u, 2 w, points)
    before = near_v < 0
    near = np.where(before, rho2 / np.maximum(near_r - near_v, _TINY), near_r + near_v)
    ratio = (far_r + far_v) / np.maximum(near, _TINY)
    return np.asarray(np.log(ratio[1, 1] * ratio[0, 0] / (ratio[0, 1] * ratio[1, 0])))


def sphere_field_T(diameter: float, polarization_T: Vec3, points_m: Array) -> Array:
    """Return B outside a uniformly magnetised sphere, which is exactly that of a dipole.

    Parameters
    ----------
    diameter
        Of the sphere [m].
    polarization_T
        [T].
    points_m
        Outside the sphere, from its centre [m], shape (points, 3).

    Notes
    -----
    ``B = (R^3 / 3) (3 (J.r) r / r^5 - J / r^3)`` (any textbook of magnetostatics).

    Examples
    --------
    >>> sphere_field_T(0.02, (0, 0, 1.2), np.array([[0, 0, 0.02]]))[0].round(6).tolist()
    [0.0, 0.0, 0.1]
    """
    j = np.asarray(polarization_T, dtype=float)
    r2 = (points_m**2).sum(axis=1)[:, None]
    projected = (points_m @ j)[:, None]
    field = (diameter / 2) ** 3 / 3 * (3 * projected * points_m / r2 - j) / r2**1.5
    return np.asarray(field)


def _cylinder_field_T(shape: Cylinder, polarization_T: Vec3, points_m: Array) -> Array:
    import magpylib

    # The library's cylinder stands along z; a cyclic turn of the axes lays it where it belongs.
    turn = [(shape.axis.value + 1 + i) % 3 for i in range(3)]
    magnets: Any = magpylib.magnet
    source = magnets.Cylinder(
        dimension=(shape.diameter, shape.thickness),
        polarization=np.asarray(polarization_T, dtype=float)[turn],
    )
    turned = np.asarray(source.getB(points_m[:, turn])).reshape(-1, 3)
    field = np.empty_like(turned)
    field[:, turn] = turned
    return field


def outside_field_T(body: Body, points_m: Array) -> Array:
    """Return B outside a body, at points in its own axes from its centre [m], (points, 3).

    Examples
    --------
    >>> body = Body(Sphere(0.02), (1.2, 0, 0))
    >>> outside_field_T(body, np.array([[0, 0, 0.02]]))[0].round(6).tolist()
    [-0.05, 0.0, 0.0]
    """
    if isinstance(body.shape, Cuboid):
        return cuboid_charge_field_T(body.shape.size, body.polarization_T, points_m)
    if isinstance(body.shape, Sphere):
        return sphere_field_T(body.shape.diameter, body.polarization_T, points_m)
    return _cylinder_field_T(body.shape, body.polarization_T, points_m)
