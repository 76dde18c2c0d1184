"""Where machines built like one lie, as lying bars: a figure a row, all of one unit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from fieldsim.charts.figure_room import legend_above, lift_title
from fieldsim.charts.figure_style import (
    COLOURS,
    LINE_COLOURS,
    MARKERS,
    figure_style,
    plain_text,
    style_axes,
)
from fieldsim.studies.ranges import Range
from fieldsim.words.numbers import number, unit_for

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["RangeBar", "draw_ranges", "explain_ranges"]

Array = NDArray[np.float64]

_NAME, _BAR, _ENDS = 0.15, 0.5, 0.84  # where they stand in a row of height one
_HALF = 0.15  # of the height of a bar
_LETTERS = 100  # above a bar

_BAR_LOOK: dict[str, Any] = {"color": COLOURS["south"], "linewidth": 0.0}
_EACH_LOOK: dict[str, Any] = {
    "color": LINE_COLOURS[0], "linestyle": "none", "marker": "|", "markersize": 5.0,
    "markeredgewidth": 0.7,
}  # fmt: skip
_VALUE_LOOK: dict[str, Any] = {
    "color": LINE_COLOURS[1], "linestyle": "none", "marker": MARKERS[3], "markersize": 7.0,
    "markeredgecolor": "white",
}  # fmt: skip
_NEEDED_LOOK: dict[str, Any] = {"color": COLOURS["ink"], "linestyle": "--", "linewidth": 1.2}


@dataclass(frozen=True, eq=False)
class RangeBar:
    """One figure of a machine, and of those built like it.

    Parameters
    ----------
    name
        Of the figure.
    value
        Of the machine as it is described.
    machines
        Of each machine built like it that can be, (machines,).
    found
        Where nine of ten of them lie.
    comes_from
        What that comes from most, in words; empty where nothing moves.
    needed
        The average current from which a lamp is plainly seen; None for other figures.
    """

    name: str
    value: float
    machines: Array = field(repr=False)
    found: Range
    comes_from: str = ""
    needed: float | None = None


def draw_ranges(
    axes: Axes, bars: Sequence[RangeBar], what: str, symbol: str, title: str = ""
) -> Axes:
    """Draw figures of one unit, the first at the top, on an axis that begins at zero.

    Parameters
    ----------
    axes
        To draw in.
    bars
        The figures, in the plain unit.
    what, symbol
        The quantity and its plain unit, for instance ``"EMF"`` and ``"V"``.
    title
        Of the axes.

    Examples
    --------
    >>> from fieldsim.charts.figure_style import new_figure
    >>> bar = RangeBar("pickup, RMS", 0.2, np.array([0.15, 0.2, 0.25]), Range(0.15, 0.25, "", 0.0))
    >>> draw_ranges(new_figure().add_subplot(), [bar], "EMF", "V").get_xlabel()
    'EMF (mV)'
    """
    ends = [0.0]
    for bar in bars:
        ends += [bar.value, bar.found.low, bar.found.high, bar.needed or 0.0, *bar.machines]
    low, high = min(ends), max(ends)
    size, unit = unit_for(max(-low, high), symbol)
    with figure_style():
        style_axes(axes, f"{what} ({unit})", "", title)
        axes.grid(visible=False, axis="y")
        axes.spines["left"].set_visible(False)
        for row, bar in enumerate(bars):
            value = f": {number(bar.value / size)} {unit}"
            words = f"{value}, {bar.comes_from}" if bar.comes_from else value
            axes.text(
                0.0, row + _NAME, plain_text(bar.name, max(_LETTERS - len(words), 12)) + words,
                transform=axes.get_yaxis_transform(), fontsize=8.5, va="center", parse_math=False,
                bbox={"facecolor": COLOURS["paper"], "edgecolor": "none", "pad": 0.5},
            )  # fmt: skip
            _draw_row(axes, bar, row, size)
        if high > low:
            axes.set_xlim(1.08 * low / size, 1.08 * high / size)
        axes.set_ylim(len(bars) or 1, 0.0)
        axes.set_yticks([])
    return axes


def explain_ranges(axes: Axes, bars: Sequence[RangeBar]) -> None:
    """Say above axes what the marks of `draw_ranges` mean that these bars have."""
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    with figure_style():
        marks: dict[str, Any] = {
            "nine of ten machines": Patch(**_BAR_LOOK),
            "each machine": Line2D([], [], **_EACH_LOOK),
            "as described": Line2D([], [], **_VALUE_LOOK),
        }
        if any(bar.needed is not None for bar in bars):
            marks["seen from here"] = Line2D([], [], **_NEEDED_LOOK)
        lift_title(axes, 8.0 + 14.0 * legend_above(axes, list(marks.values()), list(marks)))


def _draw_row(axes: Axes, bar: RangeBar, row: int, size: float) -> None:
    """Draw a bar, every machine in it, the value as described, and the numbers of both ends."""
    low, high, y = bar.found.low / size, bar.found.high / size, row + _BAR
    axes.barh(y, high - low, 2 * _HALF, low, zorder=2, **_BAR_LOOK)
    axes.plot(bar.machines / size, np.full(len(bar.machines), y), zorder=3, **_EACH_LOOK)
    if bar.needed is not None:
        reach = np.array([-1.6, 1.6]) * _HALF
        axes.plot([bar.needed / size] * 2, y + reach, zorder=3.5, **_NEEDED_LOOK)
    axes.plot([bar.value / size], [y], zorder=4, **_VALUE_LOOK)
    # Away from each other: a narrow bar has no room between its ends.
    for end, side in ((low, "right"), (high, "left")):
        axes.text(end, row + _ENDS, number(end), ha=side, va="center", fontsize=8.0)
