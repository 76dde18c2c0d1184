"""The ranked chart of what helps: for every thing a builder can change its name and two bars."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike

from fieldsim.charts.figure_style import (
    BAR_HATCHES,
    COLOURS,
    LINE_COLOURS,
    add_legend,
    figure_style,
    plain_text,
    style_axes,
)
from fieldsim.words.numbers import change, typeset

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["draw_levers"]


def draw_levers(
    axes: Axes,
    names: Sequence[str],
    better: ArrayLike,
    worse: ArrayLike,
    what: str = "light",
    title: str = "",
) -> Axes:
    """Draw how much each practical step changes the light or the voltage, best at the top.

    Parameters
    ----------
    axes
        To draw in.
    names
        What is changed, one for each row (rows,).
    better, worse
        Relative change by the step that helps more and by the step the other way, (rows,); NaN
        draws no bar.
    what
        What changes.
    title
        Of the axes.

    Examples
    --------
    >>> from fieldsim.charts.figure_style import new_figure
    >>> axes = new_figure().add_subplot()
    >>> draw_levers(axes, ["gap"], [0.2], [-0.15], "voltage").get_xlabel()
    'change of the voltage (%)'
    """
    rows = [np.atleast_1d(np.asarray(values, dtype=float)) * 100.0 for values in (better, worse)]
    for values in rows:
        if len(values) != len(names):
            raise ValueError(f"{len(values)} values for {len(names)} names")
    place = np.arange(len(names), dtype=float)
    with figure_style():
        style_axes(axes, f"change of the {what} (%)", "", title)
        axes.grid(visible=False, axis="y")
        if not len(names):
            axes.text(
                0.5, 0.5, "no step helps", transform=axes.transAxes, ha="center", va="center",
                fontsize=10.0, color=COLOURS["soft ink"],
            )  # fmt: skip
            axes.set_xlabel("")
            axes.set_axis_off()
            return axes
        # Two bars to the same side would hide one another: each takes half of the height then.
        same = rows[0] * rows[1] > 0
        handles: list[Any] = []
        for i, values in enumerate(rows):
            colour = LINE_COLOURS[(2, 1)[i]]
            shift, height = np.where(same, (-0.11, 0.11)[i], 0.0), np.where(same, 0.22, 0.44)
            handles.append(
                axes.barh(
                    place + 0.2 + shift, np.nan_to_num(values), height, color=colour,
                    edgecolor=COLOURS["paper"], hatch=BAR_HATCHES[i], linewidth=0.0,
                    zorder=2 + 0.1 * i,
                )
            )  # fmt: skip
        reach = max((float(np.nanmax(np.abs(v), initial=0.0)) for v in rows), default=0.0) or 1.0
        for y in place.astype(int):
            _label(axes, y, [float(values[y]) for values in rows])
        axes.axvline(0.0, color=COLOURS["soft ink"], linewidth=0.8, zorder=3)
        axes.set_xlim(-1.25 * reach, 1.25 * reach)
        axes.set_ylim(len(names) - 0.42, -0.62)
        axes.set_yticks([])
        axes.spines["left"].set_visible(False)
        for y, name in zip(place, names, strict=True):
            axes.text(
                -1.24 * reach, y - 0.28, plain_text(name, 58), fontsize=8.5, va="center",
                parse_math=False, zorder=4,
                bbox={"facecolor": COLOURS["paper"], "edgecolor": "none", "pad": 0.5},
            )  # fmt: skip
        add_legend(
            axes, handles, ["this step", "the opposite step"], loc="lower left",
            bbox_to_anchor=(-0.02, 1.0), ncols=2, borderaxespad=0.2, columnspacing=1.4,
        )  # fmt: skip
    return axes


def _label(axes: Axes, row: int, values: list[float]) -> None:
    """Write the percentages at the ends of a row's bars."""
    words: dict[int, list[str]] = {1: [], -1: []}
    for name, value in zip(("this", "opposite"), values, strict=True):
        if np.isfinite(value):
            shown = typeset(change(value / 100, 0 if abs(value) >= 1 else 1).removesuffix(" %"))
            shown = "0" if shown == "0.0" else shown
            words[1 if value >= 0 else -1].append(f"{name} {shown}")
    for side, parts in words.items():
        if parts:
            end = max(side * value for value in values if np.isfinite(value))
            axes.annotate(
                # Only where both are on one side must it be said which is which.
                ", ".join(parts) if len(parts) > 1 else parts[0].split(" ", 1)[1],
                (side * max(end, 0.0), row + 0.2), (3 * side, 0),
                textcoords="offset points", ha="left" if side > 0 else "right", va="center",
                fontsize=8,
            )  # fmt: skip
