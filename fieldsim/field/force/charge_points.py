"""The magnetic charge on a body's surface as point charges, at any order of quadrature."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.force.charge_field import Body
from fieldsim.field.linkage.quadrature import gauss_legendre
from fieldsim.machine.magnets import Cuboid, Cylinder, Sphere

__all__ = ["ChargedPiece", "charged_pieces"]

Array = NDArray[np.float64]


@dataclass(frozen=True)
class ChargedPiece:
    """A smooth part of a charged surface.

    Parameters
    ----------
    nodes
        From an order to points [m], shape (points, 3), in the body's axes about its centre, and
        their charges ``J . n dA`` [Wb], shape (points,).
    """

    nodes: Callable[[int], tuple[Array, Array]]


def charged_pieces(body: Body) -> list[ChargedPiece]:
    """Return the charged parts of a body's surface.

    Examples
    --------
    A block magnetised along one edge has two charged faces, each with charge J times area:

    >>> pieces = charged_pieces(Body(Cuboid((0.02, 0.01, 0.005)), (0, 0, 1.2)))
    >>> [round(float(piece.nodes(4)[1].sum()), 9) for piece in pieces]
    [0.00024, -0.00024]
    """
    shape, j = body.shape, body.polarization_T
    if isinstance(shape, Cuboid):
        return [
            _rectangle(shape, axis, sign, sign * j[axis])
            for axis in range(3)
            if j[axis] != 0.0
            for sign in (1, -1)
        ]
    if isinstance(shape, Sphere):
        return [_ball(shape, j)]
    axis = shape.axis.value
    pieces = [_disc(shape, sign, sign * j[axis]) for sign in (1, -1) if j[axis] != 0.0]
    if any(j[i] != 0.0 for i in range(3) if i != axis):
        pieces.append(_mantle(shape, j))
    return pieces


def _rectangle(shape: Cuboid, axis: int, side: int, density_T: float) -> ChargedPiece:
    u, v = (axis + 1) % 3, (axis + 2) % 3
    longest = max(shape.size[u], shape.size[v])

    def nodes(order: int) -> tuple[Array, Array]:
        # The short edge resolves the same distance with fewer points; half is a safe floor.
        orders = [math.ceil(order * max(0.5, shape.size[i] / longest)) for i in (u, v)]
        (xu, wu), (xv, wv) = (gauss_legendre(n) for n in orders)
        points = np.empty((xu.size, xv.size, 3))
        points[..., u] = shape.size[u] / 2 * xu[:, None]
        points[..., v] = shape.size[v] / 2 * xv
        points[..., axis] = side * shape.size[axis] / 2
        area = shape.size[u] * shape.size[v] / 4 * wu[:, None] * wv
        return points.reshape(-1, 3), density_T * area.ravel()

    return ChargedPiece(nodes)


def _disc(shape: Cylinder, side: int, density_T: float) -> ChargedPiece:
    axis = shape.axis.value
    u, v = (axis + 1) % 3, (axis + 2) % 3

    def nodes(order: int) -> tuple[Array, Array]:
        x, w = gauss_legendre(math.ceil(order / 2))
        count = 2 * order
        phi = 2 * math.pi * (np.arange(count) + 0.5) / count
        rho = shape.diameter / 4 * (x + 1)
        points = np.empty((rho.size, count, 3))
        points[..., u] = rho[:, None] * np.cos(phi)
        points[..., v] = rho[:, None] * np.sin(phi)
        points[..., axis] = side * shape.thickness / 2
        area = np.repeat(shape.diameter / 4 * w * rho * 2 * math.pi / count, count)
        return points.reshape(-1, 3), density_T * area

    return ChargedPiece(nodes)


def _mantle(shape: Cylinder, j: tuple[float, float, float]) -> ChargedPiece:
    axis = shape.axis.value
    u, v = (axis + 1) % 3, (axis + 2) % 3

    def nodes(order: int) -> tuple[Array, Array]:
        x, w = gauss_legendre(order)
        count = 2 * order
        phi = 2 * math.pi * (np.arange(count) + 0.5) / count
        points = np.empty((x.size, count, 3))
        points[..., u] = shape.diameter / 2 * np.cos(phi)
        points[..., v] = shape.diameter / 2 * np.sin(phi)
        points[..., axis] = shape.thickness / 2 * x[:, None]
        density = j[u] * np.cos(phi) + j[v] * np.sin(phi)
        area = shape.thickness / 2 * w[:, None] * (math.pi * shape.diameter / count)
        return points.reshape(-1, 3), (density * area).ravel()

    return ChargedPiece(nodes)


def _ball(shape: Sphere, j: tuple[float, float, float]) -> ChargedPiece:
    # The outside field is harmonic, so that any concentric sphere of the same moment feels the
    # same force and torque; a smaller one stays further from the source and converges faster.
    radius = shape.diameter / 4
    density = np.asarray(j, dtype=float) * (shape.diameter / 2 / radius) ** 3

    def nodes(order: int) -> tuple[Array, Array]:
        x, w = gauss_legendre(order)
        count = 2 * order
        phi = 2 * math.pi * (np.arange(count) + 0.5) / count
        ring = np.sqrt(1 - x * x)
        normal = np.stack(
            [
                ring[:, None] * np.cos(phi),
                ring[:, None] * np.sin(phi),
                np.broadcast_to(x[:, None], (order, count)),
            ],
            axis=-1,
        ).reshape(-1, 3)
        area = np.repeat(w, count) * radius**2 * 2 * math.pi / count
        return radius * normal, (normal @ density) * area

    return ChargedPiece(nodes)
