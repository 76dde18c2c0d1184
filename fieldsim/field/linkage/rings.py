"""Windings and magnets that are worked out together, a row each, in arrays of one shape."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.linkage.ring_patches import Patch, singular_rings
from fieldsim.field.linkage.track import Track
from fieldsim.machine.magnets import Cuboid

__all__ = ["Rings", "Which", "kind", "patch_extents", "rings_of"]

Array = NDArray[np.float64]
Which = slice | NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class Rings:
    """Rows of one kind, each a magnet on its track and the patches of a winding.

    Parameters
    ----------
    tracks, patches
        Of each row; all have as many patches, alike one by one, and shapes alike, of cuboids any.
    rho_m, z_m
        From where to where each patch goes, (rows, patches, 2).
    singular
        From `singular_rings`, (rows, points, 3).
    """

    tracks: tuple[Track, ...]
    patches: tuple[tuple[Patch, ...], ...]
    rho_m: Array
    z_m: Array
    singular: Array

    def __len__(self) -> int:
        """Return how many rows there are."""
        return len(self.tracks)

    @property
    def first_patches(self) -> tuple[Patch, ...]:
        """The first row's patches: what kind they are of is the same for all."""
        return self.patches[0]

    def some(self, which: Which) -> Rings:
        """Return some of the rows."""
        numbers = np.arange(len(self))[which].tolist()
        return Rings(
            tuple(self.tracks[i] for i in numbers),
            tuple(self.patches[i] for i in numbers),
            self.rho_m[which],
            self.z_m[which],
            self.singular[which],
        )


def rings_of(tracks: Sequence[Track], patches: Sequence[tuple[Patch, ...]]) -> Rings:
    """Return rows of one `kind`."""
    extents = [patch_extents(each) for each in patches]
    return Rings(
        tuple(tracks),
        tuple(patches),
        np.stack([rho for rho, _ in extents]),
        np.stack([z for _, z in extents]),
        np.stack([singular_rings(track) for track in tracks]),
    )


def kind(track: Track, patches: tuple[Patch, ...]) -> tuple[Any, ...]:
    """Return what is the same for rows that can be worked out together."""
    shape = Cuboid if isinstance(track.shape, Cuboid) else track.shape
    return (shape, track.north, *((p.in_plane, p.along_shaft, p.piece) for p in patches))


def patch_extents(patches: Sequence[Patch]) -> tuple[Array, Array]:
    """Return from where to where patches go in rho and in height [m], (patches, 2) each."""
    return np.array([patch.rho_m for patch in patches]), np.array([p.z_m for p in patches])
