"""The four sides of a rectangular winding, and how near the sides of two windings come."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fieldsim.machine.placed import PlacedCoil
from fieldsim.wire.corners import Corners

__all__ = ["WindingSides", "rectangle_sides", "side_distances_m", "sides_of"]

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class WindingSides:
    """The sides of a winding, in the order that current passes them.

    ::

        .-------2-------.   ---
        | .-----------. |    | build
        3 |           | 1   ---
        | '-----------' |
        '-------0-------'   current: counter-clockwise, axis towards the reader

    A turn at depth u (0 to build) runs along side k from -(half + u) to half + u; with round
    corners from -half to half, and then in a quarter circle of radius u on to side k + 1. On such a
    bend the part of the current along side k is the depth in that side over u, that along side
    k + 1 the depth in that one (`fieldsim.field.linkage.round_corner`).

    Parameters
    ----------
    middle_m
        Middles of the inner faces, shape (4, 3).
    frame
        Rows along the current, outward through the build, along the axis: (4, 3, 3).
    half_m
        Half lengths at the inner faces, shape (4,).
    build_m, length_m
        Of the winding.
    corners
        Of the turns.
    """

    middle_m: Array = field(repr=False)
    frame: Array = field(repr=False)
    half_m: Array = field(repr=False)
    build_m: float
    length_m: float
    corners: Corners = Corners.SHARP


def rectangle_sides(
    centre_m: Array,
    frame: Array,
    half_m: tuple[float, float],
    build_m: float,
    length_m: float,
    corners: Corners = Corners.SHARP,
) -> WindingSides:
    """Return the sides of a rectangular winding.

    Parameters
    ----------
    centre_m
        Shape (3,).
    frame
        Columns side, axis x side, axis: (3, 3).
    half_m
        Half of the inside along side and axis x side.
    build_m, length_m, corners
        Of the winding.
    """
    s, o, a = frame.T
    frames = np.array([[s, -o, a], [o, s, a], [-s, o, a], [-o, -s, a]])
    along = np.array([half_m[0], half_m[1], half_m[0], half_m[1]])
    inner = along[[1, 0, 3, 2]]
    middles = centre_m + inner[:, None] * frames[:, 1]
    return WindingSides(middles, frames, along, build_m, length_m, corners)


def sides_of(coil: PlacedCoil) -> WindingSides:
    """Return the sides of a coil's winding."""
    half = (coil.opening[0] / 2, coil.opening[1] / 2)
    centre = np.asarray(coil.centre, dtype=float)
    return rectangle_sides(centre, coil.frame, half, coil.build, coil.length, coil.corners)


def _points_to_boxes_m(points: WindingSides, boxes: WindingSides) -> Array:
    """Return distances (4, 4), sides of ``points`` by sides of ``boxes``, from a grid of points."""
    along = np.linspace(-1.0, 1.0, 9)
    across = np.array([0.0, 0.5, 1.0])
    t, u, w = (g.ravel() for g in np.meshgrid(along, across, across - 0.5, indexing="ij"))
    local = np.stack(
        [
            t * (points.half_m[:, None] + u * points.build_m),
            np.broadcast_to(u * points.build_m, (4, len(u))),
            np.broadcast_to(w * points.length_m, (4, len(w))),
        ],
        axis=-1,
    )  # (4, grid, 3)
    world = points.middle_m[:, None, :] + local @ points.frame
    offset = world[:, None] - boxes.middle_m[:, None, :]  # (4 points, 4 boxes, grid, 3)
    inside = np.einsum("ijgk,jck->ijgc", offset, boxes.frame)
    middle = np.array([0.0, boxes.build_m / 2, 0.0])
    reach = np.stack(
        [
            boxes.half_m + boxes.build_m,
            np.full(4, boxes.build_m / 2),
            np.full(4, boxes.length_m / 2),
        ],
        axis=-1,
    )
    excess = np.maximum(np.abs(inside - middle) - reach[:, None, :], 0.0)
    return np.asarray(np.sqrt((excess**2).sum(axis=-1)).min(axis=-1))


def side_distances_m(first: WindingSides, second: WindingSides) -> Array:
    """Return how near each side of one winding comes to each of another's.

    Returns
    -------
    ndarray
        Shape (4, 4) [m]; zero where they touch. Found on a grid of points of either side, so that
        it may be somewhat too long where sides cross at an angle between grid points; it serves
        to choose orders, which are then checked.
    """
    return np.minimum(_points_to_boxes_m(first, second), _points_to_boxes_m(second, first).T)
