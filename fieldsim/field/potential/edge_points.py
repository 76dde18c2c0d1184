"""Points on a magnet at which its field is singular: what limits how fast quadrature converges."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from fieldsim.machine.magnets import Cuboid, Shape, Sphere

__all__ = ["edge_points"]

Array = NDArray[np.float64]

_ROUND = 8  # times as many points round a rim as on an edge


def edge_points(shape: Shape, parts: int) -> Array:
    """Return points on a block's edges or a cylinder's rims, or a ball's centre.

    Parameters
    ----------
    shape
        Of the magnet.
    parts
        Into which the points divide an edge; a rim has eight times as many.

    Returns
    -------
    In arm axes about the magnet's centre [m], shape (points, 3).

    Examples
    --------
    >>> len(edge_points(Cuboid((0.02, 0.01, 0.005)), 4))  # 8 corners, 3 more on each of 12 edges
    44
    """
    if isinstance(shape, Cuboid):
        return np.asarray(_unit_edges(parts) * shape.size)
    if isinstance(shape, Sphere):
        return np.zeros((1, 3))
    turn = 2 * math.pi * np.arange(_ROUND * parts) / (_ROUND * parts)
    points = np.empty((2, len(turn), 3))
    axis = shape.axis.value
    points[..., axis] = np.array([[-0.5], [0.5]]) * shape.thickness
    points[..., (axis + 1) % 3] = shape.diameter / 2 * np.cos(turn)
    points[..., (axis + 2) % 3] = shape.diameter / 2 * np.sin(turn)
    return points.reshape(-1, 3)


@lru_cache(maxsize=4)
def _unit_edges(parts: int) -> Array:
    """Return points on the edges of the unit cube about the origin, read-only."""
    steps = np.linspace(-0.5, 0.5, parts + 1)
    grid = np.stack(np.meshgrid(steps, steps, steps, indexing="ij"), axis=-1).reshape(-1, 3)
    edges: Array = grid[(np.abs(grid) == 0.5).sum(axis=1) >= 2]
    edges.flags.writeable = False
    return edges
