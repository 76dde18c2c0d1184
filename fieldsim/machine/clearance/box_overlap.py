"""How deep boxes in any pose reach into each other, many pairs at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Boxes", "separations_m"]

Array = NDArray[np.float64]

_SHORT = 1e-9  # of a cross product of two edges; shorter means parallel, which adds no axis


@dataclass(frozen=True, eq=False)
class Boxes:
    """Boxes by ``centres`` (n, 3) [m], ``frames`` (n, 3, 3) and ``halves`` (n, 3) [m].

    The columns of a frame are the directions of the box's edges, ``halves`` half their lengths.
    """

    centres: Array
    frames: Array
    halves: Array

    def __getitem__(self, index: slice | int | NDArray[np.intp]) -> Boxes:
        """Return some of the boxes."""
        part = slice(index, index + 1) if isinstance(index, int) else index
        return Boxes(self.centres[part], self.frames[part], self.halves[part])


def separations_m(first: Boxes, second: Boxes) -> Array:
    """Return how far apart boxes are, negative by how deep they overlap, shape (n, m).

    Parameters
    ----------
    first, second
        The boxes, n and m of them; every one is compared with every other.

    Returns
    -------
    array
        Where two boxes overlap, minus the shortest way that one must move to be free [m]; where
        they do not, a length no larger than their distance.

    Notes
    -----
    Two convex bodies are apart if and only if a plane fits between them, and for boxes it is enough
    to look along the three edge directions of each and the nine products of one with the other: S.
    Gottschalk, M. C. Lin, D. Manocha, "OBBTree", Proc. SIGGRAPH 1996, pp. 171-180,
    doi:10.1145/237170.237244.

    Examples
    --------
    >>> cube = Boxes(np.zeros((1, 3)), np.eye(3)[None], np.full((1, 3), 0.5))
    >>> beside = Boxes(np.array([[0.9, 0.2, 0.0]]), np.eye(3)[None], np.full((1, 3), 0.5))
    >>> separations_m(cube, beside).round(12).tolist()
    [[-0.1]]
    """
    n, m = len(first.centres), len(second.centres)
    one = np.broadcast_to(first.frames[:, None], (n, m, 3, 3))
    two = np.broadcast_to(second.frames[None], (n, m, 3, 3))
    products = np.cross(one[..., :, :, None], two[..., :, None, :], axis=2).reshape(n, m, 3, 9)
    axes = np.concatenate([one, two, products], axis=3)  # (n, m, 3, 15)
    length = np.linalg.norm(axes, axis=2)
    axes = axes / np.where(length > _SHORT, length, 1.0)[:, :, None]
    apart = np.abs(np.einsum("nmi,nmia->nma", second.centres[None] - first.centres[:, None], axes))
    reach_one = np.einsum(
        "ni,nmia->nma", first.halves, np.abs(np.einsum("nmij,nmik->nmjk", one, axes))
    )
    reach_two = np.einsum(
        "mi,nmia->nma", second.halves, np.abs(np.einsum("nmij,nmik->nmjk", two, axes))
    )
    gaps = np.where(length > _SHORT, apart - reach_one - reach_two, -np.inf)
    return np.asarray(gaps.max(axis=2))
