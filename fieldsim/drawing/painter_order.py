"""Back-to-front order of convex solids and rods in a view, so that each covers what it hides."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from graphlib import CycleError, TopologicalSorter
from heapq import heappop, heappush

import numpy as np
from numpy.typing import NDArray

from fieldsim.drawing.solids import Material, Rod, Solid
from fieldsim.drawing.views import View

__all__ = ["Boxes", "Outline", "in_painter_order", "outline_of", "within"]

Points = NDArray[np.float64]

_MOST_PAIRS = 6000  # whose boxes meet: some seconds
_SMALLEST_OVERLAP_MM2 = 1e-6


@dataclass(frozen=True, eq=False)
class Outline:
    """A body and its outline in a view.

    Parameters
    ----------
    body
        The solid or rod.
    hull
        (corners, 2) counter-clockwise [mm]; the two ends of a rod.
    depth_mm
        How near its middle stands to the reader.
    """

    body: Solid | Rod
    hull: Points = field(repr=False)
    depth_mm: float


class Boxes:
    """The boxes round outlines or solids, which tell quickly what cannot meet.

    Parameters
    ----------
    hulls
        (corners, 2) each, or (corners, 3).
    """

    def __init__(self, hulls: Sequence[Points]) -> None:
        axes = hulls[0].shape[1] if hulls else 2
        self.low = np.array([h.min(axis=0) for h in hulls]).reshape(-1, axes)
        self.high = np.array([h.max(axis=0) for h in hulls]).reshape(-1, axes)

    def meeting(self, hull: Points) -> NDArray[np.int_]:
        """Return which of the boxes meet that of some points."""
        meets = (self.low <= hull.max(axis=0)) & (self.high >= hull.min(axis=0))
        return np.flatnonzero(meets.all(axis=1))

    def holding(self, points: Points, margin_mm: float) -> NDArray[np.bool_]:
        """Return which boxes hold which points or come so near, (boxes, points)."""
        low, high = self.low[:, None] - margin_mm, self.high[:, None] + margin_mm
        (x, y), (x0, y0), (x1, y1) = points.T, low.T, high.T
        return np.asarray((x >= x0.T) & (x <= x1.T) & (y >= y0.T) & (y <= y1.T))


def outline_of(body: Solid | Rod, view: View) -> Outline:
    """Return the outline of a body in a view."""
    if isinstance(body, Rod):
        ends = np.array([body.start, body.end])
        return Outline(body, view.flat_mm(ends), float(view.depth_mm(ends).mean()))
    from scipy.spatial import ConvexHull

    flat = view.flat_mm(body.corners)
    hull: Points = flat[ConvexHull(flat).vertices]
    return Outline(body, hull, float(view.depth_mm(body.corners).mean()))


def in_painter_order(bodies: list[Solid | Rod], view: View) -> list[Outline]:
    """Return the bodies' outlines, farthest first.

    Notes
    -----
    Two convex bodies that do not meet hide each other in one way only, so one point of the overlap
    of their outlines decides; the pairs are then sorted topologically. Bodies that hide each other
    in a ring have no such order and fall back to the depth of their middles, and so do heaps of
    very many.
    """
    outlines = sorted((outline_of(b, view) for b in bodies), key=_liking)
    boxes = Boxes([o.hull for o in outlines])
    apart = (boxes.low[:, None] > boxes.high[None]).any(axis=2)
    near = np.triu(~(apart | apart.T), 1)
    if near.sum() > _MOST_PAIRS:
        return outlines
    graph: TopologicalSorter[int] = TopologicalSorter()
    for i, first in enumerate(outlines):
        graph.add(i)
        for j in np.flatnonzero(near[i]).tolist():
            front = _front(first, outlines[j], view)
            if front > 0:
                graph.add(i, j)
            elif front < 0:
                graph.add(j, i)
    try:
        graph.prepare()
    except CycleError:
        return outlines
    ordered: list[Outline] = []
    ready: list[int] = []
    while graph.is_active():
        for i in graph.get_ready():
            heappush(ready, i)
        nearest = heappop(ready)
        ordered.append(outlines[nearest])
        graph.done(nearest)
    return ordered


def within(points: Points, hull: Points, margin_mm: float = 0.0) -> NDArray[np.bool_]:
    """Return which points (points, 2) lie inside a counter-clockwise convex hull."""
    edge = np.roll(hull, -1, axis=0) - hull
    length = np.sqrt((edge**2).sum(axis=1))
    off = points[:, None, :] - hull[None, :, :]
    inward = (edge[:, 0] * off[..., 1] - edge[:, 1] * off[..., 0]) / np.where(length, length, 1.0)
    inside: NDArray[np.bool_] = np.all(inward >= margin_mm, axis=1)
    return inside


def _liking(outline: Outline) -> tuple[float, bool]:
    """Return where to draw an outline that nothing else decides: by depth, shafts over arms."""
    body = outline.body
    return round(outline.depth_mm, 6), isinstance(body, Rod) and body.material is Material.SHAFT


def _front(first: Outline, second: Outline, view: View) -> float:
    """Return how far ``first`` stands before ``second`` where they overlap, 0 if they do not."""
    one, two = first.body, second.body
    if isinstance(one, Rod):
        return 0.0 if isinstance(two, Rod) else _rod_front(one, first, second, view)
    if isinstance(two, Rod):
        return -_rod_front(two, second, first, view)
    common = _clipped(first.hull, second.hull)
    if len(common) < 3:
        return 0.0
    x, y = common[:, 0], common[:, 1]
    area = 0.5 * abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1)))
    if area < _SMALLEST_OVERLAP_MM2:
        return 0.0
    point = common.mean(axis=0)
    return _near_side(one, point, view) - _near_side(two, point, view)


def _rod_front(rod: Rod, rod_outline: Outline, solid_outline: Outline, view: View) -> float:
    hull, ends = solid_outline.hull, rod_outline.hull
    edge = np.roll(hull, -1, axis=0) - hull
    off = ends[:, None, :] - hull[None, :, :]
    level = edge[:, 0] * off[..., 1] - edge[:, 1] * off[..., 0]  # (ends, edges), inside is > 0
    low, high = 0.0, 1.0
    for here, there in level.T:
        if here < 0 and there < 0:
            return 0.0
        if here < 0 <= there:
            low = max(low, here / (here - there))
        elif there < 0 <= here:
            high = min(high, here / (here - there))
    if high - low < 1e-9:
        return 0.0
    share = (low + high) / 2
    solid = solid_outline.body
    assert isinstance(solid, Solid)  # noqa: S101
    depth = float(view.depth_mm(rod.start + share * (rod.end - rod.start)))
    gap = depth - _near_side(solid, ends[0] + share * (ends[1] - ends[0]), view)
    # The rod stands outside the solid: before its near side, or else behind it altogether.
    return gap if gap > -1e-6 else -1.0


def _near_side(solid: Solid, point_mm: Points, view: View) -> float:
    """Return the depth [mm] at which the line of sight through a point leaves a solid."""
    normals, offsets = solid.planes
    towards = np.array(view.towards)
    start = (np.array([view.right, view.up]).T @ point_mm) * 1e-3
    slope = normals @ towards
    facing = slope > 1e-9
    depth: float = float(((offsets - normals @ start)[facing] / slope[facing]).min())
    return depth * 1e3


def _clipped(hull: Points, window: Points) -> Points:
    """Return the part of a convex outline inside another one (Sutherland and Hodgman, 1974)."""
    kept = hull
    for here, there in zip(window, np.roll(window, -1, axis=0), strict=True):
        edge = there - here
        level = edge[0] * (kept[:, 1] - here[1]) - edge[1] * (kept[:, 0] - here[0])
        if not math.isfinite(float(level.sum())):
            break
        corners = []
        for i in range(len(kept)):
            j = (i + 1) % len(kept)
            if level[i] >= 0:
                corners.append(kept[i])
            if (level[i] >= 0) != (level[j] >= 0):
                share = level[i] / (level[i] - level[j])
                corners.append(kept[i] + share * (kept[j] - kept[i]))
        if len(corners) < 3:
            return np.empty((0, 2))
        kept = np.array(corners)
    return kept
