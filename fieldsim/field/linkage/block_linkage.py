"""Linkage of a rectangular winding with a turning cuboid magnet, by its vector potential.

Where the magnet is close, a panel needs many quadrature points, and on the far side of the turn
only a few. So angles are sorted into a few levels by how much they need; each level has one set of
points for the whole winding, and all points of all angles go through the closed-form potential in
one stream.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.linkage.quadrature import LADDER, ladder_index
from fieldsim.field.linkage.track import CoilInRotor, Track
from fieldsim.field.linkage.winding_quadrature import (
    Panels,
    convergence_rates,
    divided_panels,
    panel_points,
    panels_for,
)
from fieldsim.field.potential.edge_points import edge_points
from fieldsim.field.potential.shape_gradient import cuboid_gradient
from fieldsim.machine.magnets import ArmAxis
from fieldsim.wire.corners import Corners

__all__ = ["RELIEF", "BlockLinkage", "Level"]

Array = NDArray[np.float64]

_STREAM = 250_000  # points laid out at once, to bound memory
_EDGE_PARTS = 4
_FINE_EDGE_PARTS = 16
# The potential falls with the square of distance or faster: how much of that is made use of.
# Refitted by ``benchmarks/fits/error_shares.py``.
RELIEF = 0.75
_LEVELS = 6
_LEVEL_STEP = 0.5  # natural logarithm of the ratio of their costs
_LONG = 6.0  # a side is long beside a distance this many times shorter than its half
_LARGE = 3.0  # times the magnet's longest edge: sides beyond it come in pieces
_CLOSE = 0.1  # of its shortest: pieces are not made for smaller distances
_MANY = 40  # panels: more only where the winding is far too large beside the magnet
_NEAR = 2.5  # times the smallest distance is still the near part of a side


@dataclass(frozen=True, eq=False)
class Level:
    """Quadrature points of the whole winding for a class of angles.

    Parameters
    ----------
    points
        In rotor coordinates [m], (3, points).
    weights
        By side of the winding, (points, 4) [m].
    """

    points: Array = field(repr=False)
    weights: Array = field(repr=False)

    @property
    def size(self) -> int:
        """Evaluations of the potential an angle."""
        return int(self.points.shape[1])


@dataclass(frozen=True, eq=False)
class BlockLinkage:
    """The linkage of one coil with a block magnet on a track.

    Parameters
    ----------
    track, coil
        In the rotor's coordinates.
    angles
        Arm angles [rad] to plan for, in equal steps, shape (angles,).
    """

    track: Track
    coil: CoilInRotor
    angles: Array = field(repr=False)

    @property
    def share(self) -> float:
        """What part of the difference to the rougher result stands for the error.

        Two rungs, so that symmetry cannot make both agree by accident, win a factor of ten or more.
        """
        return 0.8

    @cached_property
    def _edges(self) -> Array:
        """Points on the magnet's edges at each planned angle, (angles, points, 3)."""
        return self._edges_in(_EDGE_PARTS)

    def _edges_in(self, parts: int) -> Array:
        offset = np.array([self.track.radius, 0.0, self.track.height])
        x, y, z = (edge_points(self.track.shape, parts) + offset).T
        c, s = np.cos(self.angles)[:, None], np.sin(self.angles)[:, None]
        return np.stack([c * x - s * y, s * x + c * y, np.broadcast_to(z, (len(c), len(z)))], -1)

    def _cuts(self, sides: Panels, i: int) -> Array:
        """Return where to cut side ``i``: round the part near the magnet, if it is small."""
        along = np.linspace(-1, 1, 33)
        line = sides.centre[i] + np.outer(along * sides.half_m[0, i], sides.frame[i, :, 0])
        gap = self._edges.reshape(-1, 1, 3) - line
        distance = np.sqrt((gap * gap).sum(axis=2).min(axis=0))
        near = along[distance <= _NEAR * distance.min()]
        if near[-1] - near[0] > 1.4:
            return np.array([-1.0, 1.0])
        return np.unique([-1.0, near[0], near[-1], 1.0])

    @cached_property
    def _sides(self) -> tuple[Panels, Array]:
        """The whole sides and bends, and their distances from the magnet's edges.

        Of shape (angles, edges, panels).
        """
        sides = panels_for(self.coil, [np.array([-1.0, 1.0])] * 4)
        d = self._edges[:, :, None, :] - sides.centre
        along = np.einsum("nqpc,pc->nqp", d, sides.frame[:, :, 0])
        beyond = np.maximum(np.abs(along) - sides.half_m[0], 0.0)
        across = np.einsum("nqpc,nqpc->nqp", d, d) - along * along
        return sides, np.sqrt(np.maximum(beyond * beyond + across, 0.0))

    @cached_property
    def panels(self) -> Panels:
        """The sides of the winding, long ones cut round the part that the magnet comes near."""
        sides, distance = self._sides
        size = self.track.shape.size
        if 2 * float(sides.half_m.max()) > _LARGE * max(size):
            edges = self._edges_in(_FINE_EDGE_PARTS).reshape(-1, 3)
            return divided_panels(self.coil, sides, edges, _CLOSE * min(size))
        long = (sides.half_m[0] > _LONG * distance.min(axis=(0, 1)))[:4]
        if not long.any():
            return sides
        whole = np.array([-1.0, 1.0])
        return panels_for(self.coil, [self._cuts(sides, i) if long[i] else whole for i in range(4)])

    @cached_property
    def nearness_m(self) -> Array:
        """How near the magnet's edges come to the winding's middle line, shape (angles,)."""
        return np.asarray(self._sides[1].min(axis=(1, 2)))

    @cached_property
    def _rates(self) -> Array:
        return convergence_rates(self.panels, self._edges)

    @cached_property
    def _relief(self) -> Array:
        """Digits that a panel at an angle need not have, because it is far: (panels, angles)."""
        radius, c, s = self.track.radius, np.cos(self.angles), np.sin(self.angles)
        middle = np.stack([radius * c, radius * s, np.full_like(c, self.track.height)], axis=1)
        square = ((middle - self.panels.centre[:, None, :]) ** 2).sum(axis=2)
        return np.asarray(RELIEF * np.log(square / square.min()))

    @property
    def most_points(self) -> int:
        """How many evaluations of the potential a curve may take: some seconds at most.

        Large windings with round corners come here in place of a quicker way, and often many a
        command: they may take less.
        """
        many = self.coil.corners is Corners.ROUND and len(self.panels.side) > _MANY
        return 4_000_000 if many else 16_000_000

    def cost(self, digits: float) -> int:
        """Return about how many evaluations all planned angles take, with as many digits."""
        orders = LADDER[ladder_index(self._rates, digits - self._relief)]
        return int(orders.prod(axis=0).sum())

    def plan(self, digits: float) -> tuple[list[Level], list[Level], NDArray[np.intp]]:
        """Return quadrature levels, the same two rungs lower, and the level of each planned angle.

        Parameters
        ----------
        digits
            Natural logarithm of one over the relative quadrature error aimed at.
        """
        index = ladder_index(self._rates, digits - self._relief)
        cost = LADDER[index].prod(axis=0).sum(axis=0)
        # Each level costs a good deal less than the one before; angles between take the dearer.
        steps = np.minimum(np.log(cost.max() / cost) / _LEVEL_STEP, _LEVELS - 1).astype(np.intp)
        level = np.unique(steps, return_inverse=True)[1].reshape(-1)
        rungs = [index[:, :, level == i].max(axis=2) for i in range(int(level.max()) + 1)]
        return (
            [self._level(r) for r in rungs],
            [self._level(np.maximum(r - 2, 0)) for r in rungs],
            level,
        )

    def _level(self, rungs: NDArray[np.intp]) -> Level:
        """Return the points for one set of orders, as `LADDER` indices (3, panels)."""
        owners = [p for p in range(len(self.panels.side)) if not self._idle[p]]
        wanted = LADDER[np.minimum(rungs, len(LADDER) - 1)].T.tolist()
        if not owners:
            return Level(np.zeros((3, 0)), np.zeros((0, 4)))
        orders = [(wanted[p][0], wanted[p][1], wanted[p][2]) for p in owners]
        return Level(*panel_points(self.coil, self.panels, owners, orders))

    @cached_property
    def _idle(self) -> NDArray[np.bool_]:
        """Panels along the shaft with magnetisation along it: they link nothing at any angle."""
        along = np.abs(self.panels.frame[:, 2, 0]) > 1.0 - 1e-14
        return along & ~self.panels.bent & (self.track.north is ArmAxis.SHAFT)

    def linkage_m2(self, levels: list[Level], level: NDArray[np.intp], angles: Array) -> Array:
        """Return the linkage per turn and tesla at each arm angle, by levels from `plan`."""
        result = np.empty(len(angles))
        first = 0
        order = np.argsort(level, kind="stable")
        while first < len(order):
            # As many angles as fit in one stream, at least one.
            sizes = np.cumsum([levels[i].points.shape[1] for i in level[order[first:]]])
            last = first + max(1, int(np.searchsorted(sizes, _STREAM, side="right")))
            part = order[first:last]
            result[part] = self._stream(levels, level[part], angles[part])
            first = last
        return result

    def _stream(self, levels: list[Level], level: NDArray[np.intp], angles: Array) -> Array:
        """Return the linkages at angles sorted by level."""
        runs = [(levels[i], angles[level == i]) for i in np.unique(level)]
        k = self.track.north.value
        i, j = (k + 1) % 3, (k + 2) % 3
        arm = self._in_arm(runs)
        half = [edge / 2 for edge in self.track.shape.size]
        gi, gj = np.empty((2, arm.shape[1]))
        for first in range(0, arm.shape[1], _STREAM):
            part = slice(first, first + _STREAM)
            gi[part], gj[part] = cuboid_gradient(half, arm[:, part], k)
        values, start = [], 0
        tangents = self.coil.sides.frame[:, 0].T
        for one, a in runs:
            stop = start + len(a) * one.size
            sums = [g[start:stop].reshape(len(a), one.size) @ one.weights for g in (gi, gj)]
            c, s = np.cos(a)[:, None], np.sin(a)[:, None]
            t = (c * tangents[0] + s * tangents[1], c * tangents[1] - s * tangents[0], tangents[2])
            values.append((sums[1] * t[i] - sums[0] * t[j]).sum(axis=1))
            start = stop
        return np.concatenate(values) / (4 * math.pi)

    def _in_arm(self, runs: list[tuple[Level, Array]]) -> Array:
        """Return the points at each of their angles in arm axes about the magnet, (3, total)."""
        arm = np.empty((3, sum(len(a) * one.size for one, a in runs)))
        start = 0
        for one, a in runs:
            px, py, pz = one.points
            size = len(a) * one.size
            x, y, z = arm[:, start : start + size].reshape(3, len(a), one.size)
            c, s = np.cos(a)[:, None], np.sin(a)[:, None]
            np.multiply(c, px, x)
            x += s * py
            x -= self.track.radius
            np.multiply(c, py, y)
            y -= s * px
            z[:] = pz - self.track.height
            start += size
        return arm
