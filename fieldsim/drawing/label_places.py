"""Finding free places for letters on parts and for names beside them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from fieldsim.drawing.painter_order import Boxes, within

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.text import Text

__all__ = ["Anchor", "LabelPlacer", "letter_place"]

Points = NDArray[np.float64]

_LARGEST_LETTER_PT = 9.0
_SMALLEST_LETTER_PT = 8.0  # what print should not go below
_HALF_LETTER = 0.43  # half a bold capital's width, per point of font size
_TALL = np.array([1.0, 0.85])  # a bold capital's width and height, over its width
_AIR_PT = 0.6  # between a letter and an outline's middle: the line takes most of it
_GRID = 31
_APART_px = 4.0  # between two texts, lest they read as one
_COVERS, _CROSSES = 10.0, 8.0  # what it costs at least to lie on a part or a line
_CROSSES_THIN = 3.0  # what it costs to lie on a line that is but a help


def letter_place(
    hull_mm: Points, covers_mm: Sequence[Points], point_mm: float
) -> tuple[Points, float] | None:
    """Return where a capital letter fits on the visible part of an outline, and its size.

    Parameters
    ----------
    hull_mm
        (corners, 2) counter-clockwise convex outline.
    covers_mm
        Outlines that lie over it.
    point_mm
        Length of one typographic point on the picture, in the picture's mm.

    Returns
    -------
    tuple or None
        Middle of the letter (2,) [mm] and font size [pt]; nothing where no letter can be read.
    """
    # All heights stretched, so that a letter's box is a square.
    hull_mm, covers_mm = hull_mm / _TALL, [cover / _TALL for cover in covers_mm]
    low, high = hull_mm.min(axis=0), hull_mm.max(axis=0)
    half, air = _HALF_LETTER * point_mm, _AIR_PT * point_mm
    if (high - low).min() / 2 < _SMALLEST_LETTER_PT * half + air:
        return None
    lines = [np.linspace(low[i], high[i], _GRID) for i in range(2)]
    grid = np.stack(np.meshgrid(*lines), axis=-1).reshape(-1, 2)
    order = np.argsort(((grid - hull_mm.mean(axis=0)) ** 2).sum(axis=1), kind="stable")
    grid = grid[order]
    # The size at which a letter's box nears the outline, or the nearest outline over it.
    size = np.minimum((_room(grid, hull_mm).min(axis=1) - air) / half, _LARGEST_LETTER_PT)
    for cover in covers_mm:
        top, bottom = cover.max(axis=0), cover.min(axis=0)
        if np.any(top <= low) or np.any(bottom >= high):
            continue
        beside = np.maximum(grid - top, bottom - grid).max(axis=1)
        room = np.maximum(beside, (-_room(grid, cover)).max(axis=1))
        size = np.minimum(size, (room - air) / half)
        if size.max() < _SMALLEST_LETTER_PT:
            return None
    best = int(np.argmax(size))
    if size[best] < _SMALLEST_LETTER_PT:
        return None
    return grid[best] * _TALL, float(size[best])


def _room(points: Points, hull: Points) -> Points:
    """Return how large a square about each point stays within each edge, (points, edges).

    Half a side, positive inside a counter-clockwise convex hull.
    """
    edge = np.roll(hull, -1, axis=0) - hull
    off = points[:, None, :] - hull[None, :, :]
    area = edge[:, 0] * off[..., 1] - edge[:, 1] * off[..., 0]
    room: Points = area / np.maximum(np.abs(edge).sum(axis=1), 1e-12)
    return room


@dataclass(frozen=True, eq=False)
class Anchor:
    """A place for a name.

    Parameters
    ----------
    point_mm
        (2,) in data coordinates.
    share_x, share_y
        Which part of the text stands on it, from 0 (left, bottom) to 1 (right, top).
    on
        Outline (corners, 2) that the name should lie within, or none.
    order
        Of the part with that outline; parts before it lie behind and do not matter.
    """

    point_mm: Points = field(repr=False)
    share_x: float
    share_y: float
    on: Points | None = None
    order: int = -1


class LabelPlacer:
    """Places names so that they overlap neither each other nor, where it can be helped, a part.

    Parameters
    ----------
    axes
        With their final limits and place on the page.
    parts_mm
        Outlines (corners, 2) in data coordinates to keep clear of, farthest first.
    """

    def __init__(self, axes: Axes, parts_mm: Iterable[Points]) -> None:
        from matplotlib.backends.backend_agg import RendererAgg

        self._axes = axes
        # A tiny canvas measures texts as well as the figure's own, and faster.
        self._measure: Any = RendererAgg(8, 8, axes.figure.dpi)  # type: ignore[no-untyped-call]
        self._parts = [axes.transData.transform(p) for p in parts_mm]
        self._of_parts = Boxes(self._parts)
        self._lines: list[Points] = []
        self._crossing: list[float] = []
        self._joined: tuple[Points, Points, NDArray[np.intp]] | None = None
        self._boxes: list[tuple[float, float, float, float]] = []

    def keep_clear_of(self, points_mm: Points, *, thin: bool = False) -> None:
        """Keep later names away from a drawn line, (points, 2) [mm]; less so from a thin one."""
        drawn = self._axes.transData.transform(points_mm)
        self._lines.append(drawn)
        self._crossing.append(_CROSSES_THIN if thin else _CROSSES)
        self._joined = None

    def note(self, text: Text) -> None:
        """Keep later names away from a text that is in place already."""
        box = text.get_window_extent(self._measure)
        self._boxes.append((box.x0, box.y0, box.x1, box.y1))

    def is_free_for(self, text: Text) -> bool:
        """Return whether a text that is in place stands clear of all that were noted before."""
        box = text.get_window_extent(self._measure)
        return not any(
            box.x0 < x1 + _APART_px and x0 < box.x1 + _APART_px and box.y0 < y1 and y0 < box.y1
            for x0, y0, x1, y1 in self._boxes
        )

    def middle_mm(self, text: Text) -> Points:
        """Return the middle of a text, (2,) in data coordinates."""
        box = text.get_window_extent(self._measure)
        middle: Points = self._axes.transData.inverted().transform(
            [(box.x0 + box.x1) / 2, (box.y0 + box.y1) / 2]
        )
        return middle

    def place(self, names: Sequence[str], anchors: Sequence[Anchor], **look: Any) -> Text:
        """Write a name at the best of several places.

        Parameters
        ----------
        names
            The name, and shorter forms of it for where it would cover a part.
        anchors
            In order of liking.
        look
            Of the text.
        """
        text = self._axes.text(
            0, 0, "", ha="left", va="bottom", parse_math=False, clip_on=False, **look
        )
        found: list[tuple[float, str, Points]] = []
        for name in dict.fromkeys(names):
            text.set_text(name)
            box = text.get_window_extent(self._measure)
            size = np.array([box.width, box.height])
            corners = [
                self._axes.transData.transform(a.point_mm) - size * np.array([a.share_x, a.share_y])
                for a in anchors
            ]
            costs = [
                self._cost(low, low + size, anchor) + 0.01 * rank
                for rank, (low, anchor) in enumerate(zip(corners, anchors, strict=True))
            ]
            best = int(np.argmin(costs))
            found.append((costs[best], name, corners[best]))
            if costs[best] < _CROSSES:
                break
        _, name, corner = min(found, key=lambda f: f[0])
        x, y = self._axes.transData.inverted().transform(corner)
        text.set_text(name)
        text.set_position((float(x), float(y)))
        self.note(text)
        return text

    def _cost(self, low: Points, high: Points, anchor: Anchor) -> float:
        (x0, y0), (x1, y1) = low, high
        frame = self._axes.get_window_extent()
        cost = 0.0
        if x0 < frame.x0 + 2 or x1 > frame.x1 - 2 or y0 < frame.y0 + 2 or y1 > frame.y1 - 2:
            cost += 100.0
        for bx0, by0, bx1, by1 in self._boxes:
            if x0 < bx1 + _APART_px and bx0 < x1 + _APART_px and y0 < by1 + 1 and by0 < y1 + 1:
                cost += 1000.0
        xs, ys = np.linspace(x0 - 2, x1 + 2, 9), np.linspace(y0 - 2, y1 + 2, 5)
        probe = np.stack(np.meshgrid(xs, ys), axis=-1).reshape(-1, 2)
        if anchor.on is not None:
            inside = within(probe, self._axes.transData.transform(anchor.on))
            cost += 200.0 * (1.0 - float(inside.mean()))
        for i in self._of_parts.meeting(np.array([low, high])):
            if i > anchor.order:
                covered = float(within(probe, self._parts[i]).mean())
                cost += _COVERS * (covered > 0) + 20.0 * covered
        return cost + self._cost_of_lines(low - 3, high + 3)

    def _cost_of_lines(self, low: Points, high: Points) -> float:
        if not self._lines:
            return 0.0
        if self._joined is None:
            numbers = np.repeat(np.arange(len(self._lines)), [len(line) for line in self._lines])
            x, y = np.concatenate(self._lines).T
            self._joined = (x.copy(), y.copy(), numbers)
        x, y, numbers = self._joined
        near = np.flatnonzero((x > low[0]) & (x < high[0]))
        inside = near[(y[near] > low[1]) & (y[near] < high[1])]
        return float(sum(self._crossing[i] for i in np.unique(numbers[inside]).tolist()))
