"""Harmonics of windings about the shaft, of many rows on one grid."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.linkage.ring_nodes import Nodes
from fieldsim.field.linkage.ring_winding import winding_harmonics
from fieldsim.field.linkage.rings import Rings, Which

__all__ = ["Wound", "wound_on"]

Complex = NDArray[np.complex128]

_MOST_HARMONICS = 4_000_000  # to be kept


@dataclass(frozen=True, eq=False)
class Wound:
    """Harmonics of the windings of some rows, on every patch.

    Parameters
    ----------
    rings
        The rows.
    nodes, orders
        Of each patch.
    kept
        What they are on each; None if that is too much to be kept: then they are made anew whenever
        they are asked for.
    """

    rings: Rings
    nodes: list[Nodes]
    orders: list[int]
    kept: list[Complex] | None

    def __getitem__(self, i: int) -> Complex:
        """Return those of one patch, (rows, components, n_rho, n_z, orders); of all rows or one."""
        return self.made(i) if self.kept is None else self.kept[i]

    def made(self, i: int, finer: Wound | None = None) -> Complex:
        """Return the same, made anew, if need be as a part of those on finer nodes."""
        found = [
            winding_harmonics(
                patches[i],
                self.nodes[i].some(row),
                self.orders[i],
                None if finer is None else (finer.nodes[i].some(row), finer.orders[i]),
            )
            for row, patches in enumerate(self.rings.patches)
        ]
        return found[0][None] if all(w is found[0] for w in found) else np.stack(found)

    def some(self, which: Which, rings: Rings) -> Wound:
        """Return those of some rows, which are these."""
        kept = self.kept
        if kept is not None:
            kept = [w if len(w) == 1 else w[which] for w in kept]
        return Wound(rings, [n.some(which) for n in self.nodes], self.orders, kept)


def wound_on(
    rings: Rings, nodes: list[Nodes], orders: list[int], finer: Wound | None = None
) -> Wound:
    """Return the harmonics on nodes of each patch, of so many orders.

    Parameters
    ----------
    rings, nodes, orders
        As of `Wound`.
    finer
        Those on finer nodes, of which these are a part.
    """
    wound = Wound(rings, nodes, orders, None)
    size = sum(math.prod(n.counts) * k for n, k in zip(nodes, orders, strict=True)) * len(rings)
    if size > _MOST_HARMONICS:
        return wound
    return replace(wound, kept=[wound.made(i, finer) for i in range(len(nodes))])
