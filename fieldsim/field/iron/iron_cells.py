"""Iron cut into cells that fill it: ring sectors of what is round, bricks of blocks."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.linkage.quadrature import gauss_legendre
from fieldsim.machine.iron import Ball, Block, Tube
from fieldsim.machine.placed import PlacedIron

__all__ = ["FEWEST_OF_A_PIECE", "IronCells", "iron_cells"]

Array = NDArray[np.float64]

FEWEST_OF_A_PIECE = 12
"""Cells that any piece gets, be it as small as it may."""

_SECTORS = 6  # round an axis at least; more by doubling, so that rings share their differences
_SHRINK = 0.93  # of an edge, from one trial to the next


@dataclass(frozen=True, eq=False)
class IronCells:
    """Cells of iron.

    A ring sector stands about the third direction of its frame, and lies about the first; a brick
    has its middle at its origin.

    Parameters
    ----------
    pieces
        Those that are magnetic.
    piece
        Which of them each cell belongs to, (cells,).
    layer
        Of which layer along the axis of its piece each is, (cells,).
    round
        Whether each is a ring sector, (cells,).
    size
        Inner and outer radius, half angle [rad] and half height of a sector; half edges of a brick
        and nothing [m], (cells, 4).
    origin, frame
        In space: [m], (cells, 3), and columns, (cells, 3, 3).
    points, share
        Eight of `gauss_points`.
    volume_m3
        (cells,).
    """

    pieces: tuple[PlacedIron, ...]
    piece: NDArray[np.intp] = field(repr=False)
    layer: NDArray[np.intp] = field(repr=False)
    round: NDArray[np.bool_] = field(repr=False)
    size: Array = field(repr=False)
    origin: Array = field(repr=False)
    frame: Array = field(repr=False)
    points: Array = field(repr=False)
    share: Array = field(repr=False)
    volume_m3: Array = field(repr=False)

    def __len__(self) -> int:
        return len(self.piece)

    @property
    def middle(self) -> Array:
        """Their centres of mass [m], (cells, 3)."""
        return np.asarray(np.einsum("cp,cpi->ci", self.share, self.points))

    @property
    def susceptibility(self) -> Array:
        """In weak fields, (cells,)."""
        return np.array([each.material.susceptibility for each in self.pieces])[self.piece]

    @property
    def saturation_T(self) -> Array:
        """Infinite without, (cells,)."""
        stated = [each.material.saturation for each in self.pieces]
        return np.array([math.inf if one is None else one for one in stated])[self.piece]

    def gauss_points(self, order: int) -> tuple[Array, Array]:
        """Return points in space [m], (cells, order^3, 3), and the shares that they stand for."""
        return _gauss_points(self.size, self.round, self.origin, self.frame, order)

    def averaged(self, values: Array) -> Array:
        """Return the means over cells of what is known at their points, (..., cells, 8, 3)."""
        return np.asarray(np.einsum("cp,...cpi->...ci", self.share, values))


def iron_cells(pieces: Sequence[PlacedIron], most: int) -> IronCells:
    """Return iron as cells about as long as wide and thick.

    Parameters
    ----------
    pieces
        Of iron that is magnetic.
    most
        Cells of all pieces together, each of which gets the same share of them; it gets
        `FEWEST_OF_A_PIECE` even if that is more.

    Notes
    -----
    Cells fill rods, tubes, discs and blocks exactly. Slices of a ball are discs of its volume. The
    slit of a tube is left out: flux at rest goes round it in no time.

    Examples
    --------
    >>> from fieldsim.machine_file.reader import read
    >>> bolt = read("geometries/bolt_beside_magnets.yaml").placed_iron
    >>> cells = iron_cells(bolt, 300)
    >>> len(cells) <= 300, round(float(cells.volume_m3.sum()) * 1e9)
    (True, 2513)
    """
    each = [_best(piece, max(most // len(pieces), FEWEST_OF_A_PIECE)) for piece in pieces]
    count = [len(one) for one in each]
    of = np.repeat(np.arange(len(pieces)), count)
    found = np.concatenate(each)
    layer, size, at, angle = found[:, 0].astype(np.intp), found[:, 1:5], found[:, 5:8], found[:, 8]
    is_round = np.repeat([not isinstance(piece.shape, Block) for piece in pieces], count)
    frames = np.array([piece.frame for piece in pieces])[of]
    turned = np.zeros((len(of), 3, 3))
    turned[:, 0, 0] = turned[:, 1, 1] = np.cos(angle)
    turned[:, 1, 0] = np.sin(angle)
    turned[:, 0, 1] = -turned[:, 1, 0]
    turned[:, 2, 2] = 1.0
    origin = np.array([piece.centre for piece in pieces])[of]
    origin = origin + np.einsum("cij,cj->ci", frames, at)
    frame = frames @ turned
    points, share = _gauss_points(size, is_round, origin, frame, 2)
    inner, outer, half_angle, half_height = size.T
    sectors = half_angle * (outer**2 - inner**2) * 2 * half_height
    bricks = 8 * size[:, :3].prod(axis=1)
    return IronCells(
        tuple(pieces), of, layer, is_round, size, origin, frame,
        points, share, np.where(is_round, sectors, bricks),
    )  # fmt: skip


def _gauss_points(
    size: Array, is_round: NDArray[np.bool_], origin: Array, frame: Array, order: int
) -> tuple[Array, Array]:
    """Return points of cells in space, (cells, order^3, 3), and shares, (cells, order^3)."""
    x, w = gauss_legendre(order)
    places = np.stack(np.meshgrid(x, x, x, indexing="ij"), axis=-1).reshape(-1, 3)
    weight = (w[:, None, None] * w[:, None] * w).ravel() / 8
    inner, outer, half_angle, half_height = (part[:, None] for part in size.T)
    radius = (inner + outer) / 2 + places[:, 0] * (outer - inner) / 2
    angle, height = places[:, 1] * half_angle, places[:, 2] * half_height
    sector = np.stack([radius * np.cos(angle), radius * np.sin(angle), height], axis=-1)
    local = np.where(is_round[:, None, None], sector, places * size[:, None, :3])
    share = weight * np.where(
        is_round[:, None], 2 * radius / (inner + outer + ~is_round[:, None]), 1
    )
    return origin[:, None] + np.einsum("cij,cpj->cpi", frame, local), share


def _best(piece: PlacedIron, most: int) -> Array:
    """Return as many cells of a piece as it may have, as rows of `_cut`."""
    edge = max(piece.shape.size)
    best = trial = np.array(list(_cut(piece, edge)))
    while len(trial) <= most:
        best, edge = trial, edge * _SHRINK
        trial = np.array(list(_cut(piece, edge)))
    return best


def _cut(piece: PlacedIron, edge: float) -> Iterator[tuple[float, ...]]:
    """Yield cells of about an edge: layer, four sizes, place from the middle, angle."""
    shape = piece.shape
    if isinstance(shape, Block):
        counts = [max(1, round(whole / edge)) for whole in shape.size]
        half = [whole / n / 2 for whole, n in zip(shape.size, counts, strict=True)]
        for at in np.ndindex(*counts):
            place = [(2 * i + 1 - n) * h for i, n, h in zip(at, counts, half, strict=True)]
            yield (at[2], *half, 0.0, *place, 0.0)
        return
    height, radius = shape.size[2], shape.size[0] / 2
    layers = max(2, round(height / edge)) if isinstance(shape, Ball) else round(height / edge) or 1
    half_height = height / layers / 2
    hole = shape.inner / 2 if isinstance(shape, Tube) else 0.0
    for layer in range(layers):
        middle = (2 * layer + 1 - layers) * half_height
        if isinstance(shape, Ball):  # a disc of the slice's volume
            outer = math.sqrt(radius**2 - middle**2 - half_height**2 / 3)
        else:
            outer = radius
        rings = max(1, round((outer - hole) / edge))
        for inside, outside in pairwise(np.linspace(hole, outer, rings + 1).tolist()):
            round_m = math.pi * (inside + outside)
            sectors = _SECTORS * 2 ** max(0, round(math.log2(round_m / (_SECTORS * edge))))
            half_angle = math.pi / sectors
            for i in range(sectors):
                yield (
                    layer, inside, outside, half_angle, half_height, 0.0, 0.0, middle,
                    2 * i * half_angle,
                )  # fmt: skip
