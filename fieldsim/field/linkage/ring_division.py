"""Division of windings that are far too large beside their distance from the magnet.

A winding of metres beside a magnet of millimetres would take thousands of nodes in one piece; in
pieces whose size grows with their distance it takes a few for each. Ordinary windings stay whole.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from fieldsim.field.linkage.ring_nodes import rates
from fieldsim.field.linkage.ring_patches import Patch, RingSide, singular_rings
from fieldsim.field.linkage.rings import patch_extents
from fieldsim.field.linkage.track import Track

__all__ = ["divided", "far_too_large"]

_LARGE = 3.0  # times the magnet's longest edge
_WIDE = 5.0  # times the distance from the shaft
_SLOWEST = 0.1  # rate of convergence in one piece: some fifty nodes for six digits
_MOST_PIECES = 300


def divided(track: Track, patches: tuple[Patch, ...]) -> tuple[Patch, ...]:
    """Return the patches, those in pieces that are far too large; round corners stay whole.

    Parameters
    ----------
    track
        Of the magnet.
    patches
        From `fieldsim.field.linkage.ring_patches`.
    """
    large = _LARGE * max(track.shape.size)
    whole = any(side.is_round for patch in patches for side in patch.sides)
    if whole or all(max(_extents(patch)) <= large for patch in patches):
        return patches
    singular = singular_rings(track)
    found: list[Patch] = []
    todo = list(patches)
    while todo:
        pairs = rates(*patch_extents(todo), singular, 0.0).tolist()
        room = len(found) + 2 * len(todo) <= _MOST_PIECES
        ways = [_way(patch, pair, large) for patch, pair in zip(todo, pairs, strict=True)]
        found += [patch for patch, way in zip(todo, ways, strict=True) if way is None or not room]
        todo = [
            replace(piece, piece=True)
            for patch, way in zip(todo, ways, strict=True)
            if way is not None and room
            for piece in way(patch)
        ]
    return tuple(found)


def far_too_large(track: Track, patches: tuple[Patch, ...]) -> bool:
    """Return whether any of the patches would take too many nodes in one piece.

    Parameters
    ----------
    track, patches
        As of `divided`.
    """
    large = _LARGE * max(track.shape.size)
    found = rates(*patch_extents(patches), singular_rings(track), 0.0).tolist()
    pairs = zip(patches, found, strict=True)
    return any(max(_extents(patch)) > large and min(pair) < _SLOWEST for patch, pair in pairs)


def _way(
    patch: Patch, rate: Sequence[float], large_m: float
) -> Callable[[Patch], tuple[Patch, ...]] | None:
    """Return how a patch is divided, None if it need not be."""
    across, up = _extents(patch)
    # Close to the shaft the angle about it changes fast along a turn.
    in_rho = across > large_m and (rate[0] < _SLOWEST or across > _WIDE * patch.rho_m[0])
    in_height = up > large_m and rate[1] < _SLOWEST
    if in_rho and not patch.in_plane and not patch.along_shaft:
        # Turns that grow with height are alike in length only where heights are few.
        in_height = in_height or any(side.build_m > 2 * side.half_m for side in patch.sides)
        in_rho = not in_height
    if in_rho:
        return _halves_in_rho
    return _halves_in_height if in_height else None


def _extents(patch: Patch) -> tuple[float, float]:
    """Return the longest edge of a patch's sides across the shaft, and its height [m]."""
    return max(max(_across(side))[0] for side in patch.sides), patch.z_m[1] - patch.z_m[0]


def _across(side: RingSide) -> list[tuple[float, int]]:
    """Return the edges of a side that run across the shaft, each with its number [m]."""
    turn_m = (side.stop - side.start) * side.longest_m
    edges = (
        (turn_m, side.along), (side.build_m, side.outward), (2 * side.half_length_m, side.axial)
    )  # fmt: skip
    return [(size, i) for i, (size, d) in enumerate(edges) if abs(d[2]) < 0.5]


def _halves_in_height(patch: Patch) -> tuple[Patch, Patch]:
    """Return the lower and the upper half of a patch."""
    low, high = patch.z_m
    middle = (low + high) / 2
    if patch.in_plane:
        half = replace(patch, sides=tuple(replace(s, share=s.share / 2) for s in patch.sides))
        return replace(half, z_m=(low, middle)), replace(half, z_m=(middle, high))
    if patch.along_shaft:  # each takes its part of the sides
        return replace(patch, z_m=(low, middle)), replace(patch, z_m=(middle, high))
    pairs = [side.halved_in_depth() for side in patch.sides]
    rising = patch.sides[0].outward[2] > 0
    lower, upper = (0, 1) if rising else (1, 0)
    return (
        replace(patch, z_m=(low, middle), sides=tuple(pair[lower] for pair in pairs)),
        replace(patch, z_m=(middle, high), sides=tuple(pair[upper] for pair in pairs)),
    )


def _halves_in_rho(patch: Patch) -> tuple[Patch, ...]:
    """Return a patch of every half of every side, divided where it is longest across the shaft."""
    return tuple(
        replace(patch, sides=(half,), rho_m=half.rho_range_m())
        for side in patch.sides
        for half in (side.halved_along, side.halved_in_depth, side.halved_in_length)[
            max(_across(side))[1]
        ]()
    )
