"""Bodies of iron with as many nodes as what is near them needs."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.iron.block_body import BlockBody
from fieldsim.field.iron.point_charges import Reach
from fieldsim.field.iron.round_body import Profile, RoundBody
from fieldsim.field.iron.sides import Arc, Line, Side, crowded
from fieldsim.machine.frames import dot
from fieldsim.machine.iron import Ball, Disc, IronShape, Rod, Tube
from fieldsim.machine.placed import PlacedIron

__all__ = ["FINENESSES", "Fineness", "block_body", "profile_of", "round_body"]

Array = NDArray[np.float64]

_FEWEST, _MOST = 2, 10  # panels
_MOST_HARMONICS = 40
_SAMPLES = 8  # of a panel
_LOOKS = 24  # round the axis, and along an edge of a block


@dataclass(frozen=True)
class Fineness:
    """How many nodes iron gets.

    Parameters
    ----------
    round_order, block_order
        Nodes on a panel; along each edge of a block's, and there even.
    widest
        Half the length of a panel over the distance of what magnetises it.
    nearest
        Share of a side; nothing nearer than that is resolved.
    digits
        Natural logarithm of one over the error aimed at round an axis.
    """

    round_order: int
    block_order: int
    widest: float
    nearest: float
    digits: float

    @property
    def meeting_digits(self) -> float:
        """Of the points at which bodies meet, where interpolation squares what they promise."""
        return 2 * self.digits + 4


FINENESSES = (
    Fineness(5, 6, 1.5, 1 / 14, 4.0),
    Fineness(6, 8, 1.5, 1 / 14, 6.0),
    Fineness(8, 8, 1.2, 1 / 20, 8.0),
    Fineness(10, 10, 0.8, 1 / 30, 11.0),
)
"""Each is several times as good as the one before it: by which two differ is the error."""


def _panels(edges: tuple[bool, bool], length: float, distance: Array, fine: Fineness) -> int:
    """Return into how many panels a side is divided.

    Parameters
    ----------
    edges
        Of the side.
    length
        Of it [m].
    distance
        Of what magnetises it, at equal steps along it [m], (steps,).
    """
    place = np.linspace(0.0, 1.0, len(distance))
    allowed = 2 * fine.widest * np.maximum(distance, fine.nearest * length)
    for count in range(_FEWEST, _MOST):
        ends = crowded(np.linspace(0.0, 1.0, count + 1), edges)[0]
        panel = np.clip(np.searchsorted(ends, place, "right") - 1, 0, count - 1)
        if np.all(length * np.diff(ends)[panel] <= allowed):
            return count
    return _MOST


def profile_of(shape: IronShape, height: float, susceptibility: float) -> Profile:
    """Return the cross-section of a round piece whose middle is at a height on its axis [m]."""
    half = shape.size[2] / 2
    low, high, outer = height - half, height + half, shape.size[0] / 2
    if isinstance(shape, Ball):
        return Profile((Arc(outer, height),), susceptibility)
    if isinstance(shape, Rod | Disc):
        sides: tuple[Side, ...] = (
            Line((0.0, low), (outer, low), (False, True)),
            Line((outer, low), (outer, high)),
            Line((outer, high), (0.0, high), (True, False)),
        )
        return Profile(sides, susceptibility)
    assert isinstance(shape, Tube)  # noqa: S101  (blocks are not round)
    corners = [(shape.inner / 2, low), (outer, low), (outer, high), (shape.inner / 2, high)]
    following = [*corners[1:], corners[0]]
    lines = tuple(Line(start, end) for start, end in zip(corners, following, strict=True))
    return Profile(lines, susceptibility)


def round_body(
    pieces: Sequence[PlacedIron], near: Reach, heard: Reach, fine: Fineness
) -> RoundBody:
    """Return pieces that are round about the axis of the first.

    Parameters
    ----------
    pieces
        In space.
    near, heard
        How far points are from what magnetises them, and from what feels their charge.
    fine
        How many nodes it gets.
    """
    first = pieces[0]
    profiles, panels, wanted = [], [], 1.0
    for piece in pieces:
        x, y, z = (a - b for a, b in zip(piece.centre, first.centre, strict=True))
        height = dot((x, y, z), first.axis)
        profile = profile_of(piece.shape, height, piece.material.susceptibility)
        profiles.append(profile)
        for side in profile.sides:
            share = np.linspace(0.0, 1.0, _SAMPLES * _MOST + 1)
            r, z_, _, _ = side.at(share)
            surface = _round_points(first, r, z_)
            incoming, outgoing = (
                reach(surface).reshape(len(r), -1).min(axis=1) for reach in (near, heard)
            )
            panels.append(_panels(side.edges, side.length, incoming, fine))
            inner = np.maximum(r, fine.nearest * side.length)
            rate = np.log1p(incoming / inner) + np.log1p(outgoing / inner)
            wanted = max(wanted, fine.digits / max(float(rate.min()), 1e-3))
    harmonics = min(math.ceil(wanted) + 1, _MOST_HARMONICS)
    return RoundBody(
        np.array(first.centre),
        first.frame,
        tuple(profiles),
        tuple(panels),
        fine.round_order,
        harmonics,
    )


def _round_points(piece: PlacedIron, r: Array, z: Array) -> Array:
    phi = 2 * math.pi / _LOOKS * np.arange(_LOOKS)
    local = np.stack(
        [np.outer(r, np.cos(phi)), np.outer(r, np.sin(phi)), np.outer(z, np.ones(_LOOKS))], axis=-1
    )
    return np.asarray(np.array(piece.centre) + local.reshape(-1, 3) @ piece.frame.T)


def block_body(piece: PlacedIron, near: Reach, fine: Fineness) -> BlockBody:
    """Return a block.

    Parameters
    ----------
    piece
        In space.
    near
        How far points are from what magnetises it.
    fine
        How many nodes it gets.
    """
    half = [edge / 2 for edge in piece.shape.size]
    steps = np.linspace(-1.0, 1.0, _LOOKS + 1)
    distance = np.full((3, len(steps)), np.inf)
    for axis in range(3):
        u, v = (axis + 1) % 3, (axis + 2) % 3
        grid = np.zeros((2, len(steps), len(steps), 3))
        grid[..., axis] = np.array([-half[axis], half[axis]])[:, None, None]
        grid[..., u], grid[..., v] = half[u] * steps[:, None], half[v] * steps
        space = np.array(piece.centre) + grid.reshape(-1, 3) @ piece.frame.T
        found = near(space).reshape(2, len(steps), len(steps)).min(axis=0)
        distance[u] = np.minimum(distance[u], found.min(axis=1))
        distance[v] = np.minimum(distance[v], found.min(axis=0))
    panels = [_panels((True, True), 2 * h, d, fine) for h, d in zip(half, distance, strict=True)]
    return BlockBody(
        np.array(piece.centre),
        piece.frame,
        (half[0], half[1], half[2]),
        piece.material.susceptibility,
        (panels[0], panels[1], panels[2]),
        fine.block_order,
    )
