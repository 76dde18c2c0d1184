"""A floor ruled in millimetres, below a machine drawn in space."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from fieldsim.charts.figure_style import COLOURS, nice_step
from fieldsim.drawing.label_places import LabelPlacer
from fieldsim.drawing.views import View
from fieldsim.words.numbers import plain_number

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["RuledFloor"]

Points = NDArray[np.float64]


class RuledFloor:
    """A ruled floor below the machine and one upright edge, numbered in millimetres."""

    def __init__(self, corners: Points, view: View) -> None:
        low, high = corners.min(axis=0) * 1e3, corners.max(axis=0) * 1e3
        span = float((high - low).max())
        ground, upright = nice_step(span, 6), nice_step(1.04 * float(high[2] - low[2]), 4)
        self.step = np.array([ground, ground, upright])
        self.low = np.floor(low / self.step) * self.step
        self.high = np.ceil(high / self.step) * self.step
        self.low[2], self.high[2] = low[2] - 0.04 * span, high[2]
        self.view = view
        towards = np.array(view.towards)
        # The corner of the floor nearest to the reader, and the one farthest away.
        self.near = np.where(towards > 0, self.high, self.low)
        self.far = np.where(towards > 0, self.low, self.high)

    def reach_mm(self) -> Points:
        """Return the outermost points in the picture, (points, 2)."""
        box = np.array([[x, y, z] for x in (self.low[0], self.high[0])
                        for y in (self.low[1], self.high[1])
                        for z in (self.low[2], self.high[2])])  # fmt: skip
        spare = 0.05 * float((self.high - self.low).max())
        points = self._flat(box)
        return np.vstack([points - spare, points + spare])

    def draw(self, axes: Axes) -> None:
        """Rule the floor."""
        z = self.low[2]
        for axis in (0, 1):
            other = 1 - axis
            for value in self._ticks(axis):
                ends = np.zeros((2, 3))
                ends[:, axis], ends[:, 2] = value, z
                ends[:, other] = self.low[other], self.high[other]
                axes.plot(
                    *_columns(self._flat(ends)), color=COLOURS["grid"], linewidth=0.7, zorder=1
                )
        ends = np.array([self._post(self.low[2]), self._post(self.high[2])])
        axes.plot(*_columns(self._flat(ends)), color="#9aa4af", linewidth=0.9, zorder=1)

    def label(self, axes: Axes, placer: LabelPlacer) -> None:
        """Write numbers on the floor's two near edges and the upright edge."""
        look = {"fontsize": 8.0, "color": COLOURS["soft ink"], "ha": "center", "va": "center"}
        out = 0.035 * float((self.high - self.low).max())
        centre = sum(axes.get_xlim()) / 2
        for axis in (0, 1):
            other = 1 - axis
            outward = np.zeros(3)
            outward[other] = np.sign(self.near[other] - self.far[other])
            aim = self._flat(outward[None, :])[0]
            aim = aim / np.hypot(*aim)
            for value in self._ticks(axis):
                place = np.array([0.0, 0.0, self.low[2]])
                place[axis], place[other] = value, self.near[other]
                x, y = self._flat(place[None, :])[0] + out * aim
                self._write(axes, placer, x, y, plain_number(value, 4), look)
            x, y = (
                min(self._between(axis, place), key=lambda p: abs(p[0] - centre)) + 3.4 * out * aim
            )
            self._write(axes, placer, x, y, f"{'xyz'[axis]} (mm)", {**look, "fontsize": 8.5})
        post = np.linspace(self._post(self.low[2]), self._post(self.high[2]), 41)
        placer.keep_clear_of(self._flat(post))
        floor_mm = self._flat(self._post(self.low[2])[None, :])[0, 1]
        for value in self._ticks(2):
            x, y = self._flat(self._post(value)[None, :])[0]
            tick = {**look, "ha": "right"}
            if y > floor_mm + 0.8 * out:  # else it would stand on the floor's own numbers
                axes.plot([x - 0.25 * out, x], [y, y], color="#9aa4af", linewidth=0.9, zorder=1)
                self._write(axes, placer, x - 0.4 * out, y, plain_number(value, 4), tick)
        x, y = self._flat(self._post(self.high[2])[None, :])[0]
        self._write(axes, placer, x, y + 1.3 * out, "z (mm)", {**look, "fontsize": 8.5})

    def _ticks(self, axis: int) -> Points:
        step = self.step[axis]
        first = np.ceil(self.low[axis] / step - 1e-6)
        last = np.floor(self.high[axis] / step + 1e-6)
        ticks: Points = step * np.arange(first, last + 1) + 0.0  # no minus zero
        return ticks

    def _between(self, axis: int, place: Points) -> list[Points]:
        """Return the middles (2,) between a near edge's middle number and those beside it.

        The name of an axis, wider than a number, has room there.
        """
        ticks = self._ticks(axis)
        middle = len(ticks) // 2
        values = [ticks[k : k + 2].mean() for k in (middle - 1, middle) if 0 <= k < len(ticks) - 1]
        found = []
        for value in values or [place[axis]]:
            between = place.copy()
            between[axis] = value
            found.append(self._flat(between[None, :])[0])
        return found

    def _post(self, z: float) -> Points:
        """Return the point at height z on the floor's leftmost corner."""
        corners = [np.array([x, y, z]) for x in (self.low[0], self.high[0])
                   for y in (self.low[1], self.high[1])]  # fmt: skip
        return min(corners, key=lambda p: float(self._flat(p[None, :])[0, 0]))

    def _flat(self, points_mm: Points) -> Points:
        return self.view.flat_mm(points_mm * 1e-3)

    @staticmethod
    def _write(
        axes: Axes, placer: LabelPlacer, x: float, y: float, words: str, look: dict[str, Any]
    ) -> None:
        text = axes.text(x, y, words.replace("-", "−"), zorder=1.5, **look)
        if placer.is_free_for(text):
            placer.note(text)
        else:
            text.remove()


def _columns(points: Points) -> tuple[Points, Points]:
    return points[:, 0], points[:, 1]
