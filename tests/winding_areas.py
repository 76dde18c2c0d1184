"""The harmonics of turns square to the shaft by plain quadrature over their area, in panels."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.linkage.quadrature import gauss_legendre, lagrange
from fieldsim.field.linkage.ring_patches import RingSide
from fieldsim.field.linkage.round_corner import bend_points

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]

_QUARTERS = 4.0 ** -np.arange(2, 12)
# Ends of panels on either side of the shaft.
EQUAL = np.linspace(-1.0, 1.0, 33)
TOWARDS_SHAFT = np.sort(np.concatenate([EQUAL, _QUARTERS, -_QUARTERS]))


def by_area(
    side: RingSide,
    rho_m: tuple[float, float],
    n_rho: int,
    orders: Sequence[int],
    panels: Array = TOWARDS_SHAFT,
) -> Complex:
    """Return W of a side's straight part, (2, n_rho, orders).

    Parameters
    ----------
    side
        Of a winding whose turns lie square to the shaft.
    rho_m, n_rho
        Where Gauss-Legendre nodes lie, and how many.
    orders
        Which ones.
    panels
        Their ends, in parts of the farthest distance from the foot of the shaft.
    """
    foot, deep = -float(side.middle_m @ side.along), -float(side.middle_m @ side.outward)
    depth, wu = _in_panels(np.zeros(1), np.array([side.build_m]), deep, panels)
    depth, wu = depth[wu > 0], wu[wu > 0]
    reach = side.straight_m(depth)
    along, wt = _in_panels(side.start * reach, side.stop * reach, foot, panels)
    inside = wt > 0
    area = (wt * wu[:, None])[inside] * side.share / side.build_m
    depth = np.broadcast_to(depth[:, None], wt.shape)[inside]
    way = area * (side.along[0] + 1j * side.along[1])
    return _summed(side, along[inside], depth, way, rho_m, n_rho, orders)


def by_bends(
    side: RingSide, rho_m: tuple[float, float], n_rho: int, orders: Sequence[int], points: int
) -> Complex:
    """Return W of what a side's current has of the bends at its ends, (2, n_rho, orders)."""
    along, deep, area = bend_points(side.build_m, (points, points))
    way = area * side.share / side.build_m * (side.along[0] + 1j * side.along[1])
    found = np.zeros((2, n_rho, len(orders)), dtype=complex)
    for end in side.ends:
        found += _summed(side, end * (side.half_m + along), deep, way, rho_m, n_rho, orders)
    return found


def _in_panels(low: Array, high: Array, shaft: float, panels: Array) -> tuple[Array, Array]:
    """Return Gauss points and weights from ``low`` to ``high``, (many, points) each."""
    x, w = gauss_legendre(16)
    far = max(np.abs(low - shaft).max(), np.abs(high - shaft).max())
    ends = np.clip(shaft + far * panels, low[:, None], high[:, None])
    half = np.diff(ends)[..., None] / 2
    points = ends[:, :-1, None] + half * (1 + x)
    return points.reshape(len(low), -1), (half * w).reshape(len(low), -1)


def _summed(
    side: RingSide,
    along: Array,
    deep: Array,
    way: Complex,
    rho_m: tuple[float, float],
    n_rho: int,
    orders: Sequence[int],
) -> Complex:
    x, y = (side.middle_m[d] + along * side.along[d] + deep * side.outward[d] for d in (0, 1))
    rho = np.hypot(x, y)
    phase = (x + 1j * y) / rho
    nodes = (rho_m[0] + rho_m[1]) / 2 + (rho_m[1] - rho_m[0]) / 2 * gauss_legendre(n_rho)[0]
    in_rho, turned = lagrange(nodes, rho).T, way * np.conj(phase)
    waves = [phase**m for m in orders]
    return np.array(
        [[in_rho @ (part * wave) for wave in waves] for part in (turned.real, turned.imag)]
    ).transpose(0, 2, 1)
