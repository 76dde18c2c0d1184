"""The field of evenly magnetised cells of iron in each other."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.force.charge_field import cuboid_charge_field_T
from fieldsim.field.iron.iron_cells import IronCells

__all__ = ["demagnetising_matrix"]

Array = NDArray[np.float64]

_NEAR = 1.5  # sums of half widths between middles within which a cell is more than eight dipoles
_SAME_M = 1e-10  # places closer than this share one computation
_PAIRS = 200_000  # of points at once, to bound memory


def demagnetising_matrix(cells: IronCells) -> Array:
    """Return minus the field of cells, averaged over cells.

    Parameters
    ----------
    cells
        Of iron.

    Returns
    -------
    ndarray
        Shape (3 cells, 3 cells), each cell's x, y and z side by side: minus the mean of mu0 H over
        the row's cell by 1 T of the column's, times the root of the volumes' ratio, row to column.
        Symmetric; no eigenvalue is much below zero or above one.

    Notes
    -----
    Near cells by closed forms of a ring sector (F. Slanovc and others, Journal of Magnetism and
    Magnetic Materials 559, 169482 (2022), in magpylib) and of a brick; far ones by dipoles at their
    Gauss points. What a cell does in another is mutual, so that both ways are averaged.

    Examples
    --------
    Of a cube by itself, a third each way.

    >>> from fieldsim.machine.iron import Block
    >>> from fieldsim.field.iron.iron_cells import iron_cells
    >>> from fieldsim.machine.materials import Material
    >>> from fieldsim.machine.placed import PlacedIron
    >>> cube = PlacedIron(
    ...     "cube", Block((0.01, 0.01, 0.01)), (0, 0, 0), (0, 0, 1), (1, 0, 0), Material(500)
    ... )
    >>> cells = iron_cells([cube], 12)
    >>> weight = np.repeat(np.sqrt(cells.volume_m3 / cells.volume_m3.sum()), 3)
    >>> along_z = weight * np.tile([0, 0, 1], len(cells))
    >>> round(float(along_z @ demagnetising_matrix(cells) @ along_z), 3)
    0.333
    """
    count = len(cells)
    middle = cells.middle
    wide = np.linalg.norm(cells.points - middle[:, None], axis=2).max(axis=1) / math.sqrt(1 / 3)
    field = np.empty((count, 3, count, 3))  # target, source
    distance = np.linalg.norm(middle[:, None] - middle, axis=2) / (wide[:, None] + wide)
    target, source = np.nonzero(distance < _NEAR)
    field[target, :, source] = _near(cells, target, source)
    target, source = np.nonzero(np.triu(distance >= _NEAR))
    step = max(1, _PAIRS // cells.points.shape[1] ** 2)
    for first in range(0, len(target), step):
        one, other = target[first : first + step], source[first : first + step]
        tensor = _dipoles(cells, one, other)
        field[one, :, other] = tensor * cells.volume_m3[other, None, None]
        field[other, :, one] = tensor * cells.volume_m3[one, None, None]
    root = np.sqrt(cells.volume_m3)
    field *= -(root[:, None, None, None] / root[:, None])
    matrix = field.reshape(3 * count, 3 * count)
    return np.asarray((matrix + matrix.T) / 2)


def _dipoles(cells: IronCells, one: NDArray[np.intp], other: NDArray[np.intp]) -> Array:
    """Return mean tensors of 1 T m3 between the points of pairs of cells, (pairs, 3, 3)."""
    apart = np.moveaxis(cells.points[one][:, :, None] - cells.points[other][:, None], -1, 0)
    square = (apart**2).sum(axis=0)
    weight = cells.share[one][:, :, None] * cells.share[other][:, None]
    weight /= 4 * math.pi * square * np.sqrt(square)
    apart *= np.sqrt(3 * weight / square)
    flat = apart.reshape(3, len(one), -1).transpose(1, 0, 2)
    tensor = flat @ flat.transpose(0, 2, 1)
    return np.asarray(tensor - weight.sum(axis=(1, 2))[:, None, None] * np.eye(3))


def _near(cells: IronCells, target: NDArray[np.intp], source: NDArray[np.intp]) -> Array:
    """Return mean tensors of pairs, (pairs, 3, 3), each distinct pose worked out once."""
    frame = cells.frame[source]
    seen = np.einsum("npi,nij->npj", cells.points[target] - cells.origin[source][:, None], frame)
    own = (target == source).astype(float)
    poses = np.concatenate(
        [
            seen.reshape(len(seen), -1), cells.size[source],
            np.stack([cells.round[source], own], axis=1) * (2 * _SAME_M),
        ],
        axis=1,
    )  # fmt: skip
    _, kept, which = np.unique(
        np.round(poses / _SAME_M).astype(np.int64), axis=0, return_index=True, return_inverse=True
    )
    at, size = seen[kept], cells.size[source[kept]]
    count = cells.points.shape[1]
    found = np.empty((len(kept), count, 3, 3))
    sector = cells.round[source[kept]]
    for of, tensors in ((sector, _sector_tensors), (~sector, _brick_tensors)):
        if of.any():
            inside = np.repeat(own[kept][of], count)
            sizes = np.repeat(size[of], count, axis=0)
            found[of] = tensors(sizes, at[of].reshape(-1, 3), inside).reshape(-1, count, 3, 3)
    mean = np.einsum("np,npij->nij", cells.share[target[kept]], found)[which.ravel()]
    return np.asarray(frame @ mean @ frame.transpose(0, 2, 1))


def _sector_tensors(size: Array, at: Array, inside: Array) -> Array:
    """Return mu0 H at points by 1 T along each axis of ring sectors, (points, 3, 3).

    The tensor is symmetric, and its trace is minus one inside, so two columns tell all.
    """
    from magpylib.core import magnet_cylinder_segment_Hfield

    inner, outer, half_angle, half_height = size.T
    cylindrical = np.stack([np.hypot(*at.T[:2]), np.arctan2(at[:, 1], at[:, 0]), at[:, 2]], axis=1)
    cos, sin = np.cos(cylindrical[:, 1]), np.sin(cylindrical[:, 1])
    edges = np.stack([inner, outer, -half_angle, half_angle, -half_height, half_height], axis=1)
    tensor = np.empty((len(at), 3, 3))
    for axis, direction in enumerate(((1.0, 0.0, math.pi / 2), (1.0, math.pi / 2, math.pi / 2))):
        outward, onward, tensor[:, 2, axis] = magnet_cylinder_segment_Hfield(
            observers=cylindrical, dimensions=edges, magnetizations=np.tile(direction, (len(at), 1))
        ).T
        # It comes in the point's own cylindrical directions.
        tensor[:, 0, axis] = cos * outward - sin * onward
        tensor[:, 1, axis] = sin * outward + cos * onward
    tensor[:, :2, 2] = tensor[:, 2, :2]
    tensor[:, 2, 2] = -inside - tensor[:, 0, 0] - tensor[:, 1, 1]
    return tensor


def _brick_tensors(size: Array, at: Array, inside: Array) -> Array:
    """Return the same of bricks, whose closed form already knows inside from outside."""
    del inside
    tensor = np.empty((len(at), 3, 3))
    kinds, which = np.unique(size[:, :3], axis=0, return_inverse=True)
    for kind, half in enumerate(kinds):
        of = which.ravel() == kind
        edges = (2 * half[0], 2 * half[1], 2 * half[2])
        for axis in range(3):
            along = (float(axis == 0), float(axis == 1), float(axis == 2))
            tensor[of, :, axis] = cuboid_charge_field_T(edges, along, at[of])
    return tensor
