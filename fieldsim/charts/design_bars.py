"""Voltages of designs side by side as lying bars, which leave room for any number of long names."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike

from fieldsim.charts.figure_room import legend_above, only_note
from fieldsim.charts.figure_style import (
    BAR_HATCHES,
    COLOURS,
    LINE_COLOURS,
    figure_style,
    plain_text,
    style_axes,
)
from fieldsim.words.numbers import NOTHING, plain_number, unit_for

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["draw_designs"]

_BAR = 0.22  # of the room of a design, in which its name stands above its bars


def draw_designs(
    axes: Axes, names: Sequence[str], voltages_V: Mapping[str, ArrayLike], left_out: int = 0
) -> Axes:
    """Draw voltages of designs, the first at the top.

    Parameters
    ----------
    axes
        To draw in.
    names
        One for each design (designs,).
    voltages_V
        Up to three kinds by name, (designs,) each [V].
    left_out
        How many further designs are not drawn.

    Examples
    --------
    >>> from fieldsim.charts.figure_style import new_figure
    >>> axes = new_figure().add_subplot()
    >>> draw_designs(axes, ["a", "b"], {"RMS": [0.1, 0.2]}).get_xlabel()
    'EMF (mV)'
    """
    rows = {name: np.asarray(values, dtype=float) for name, values in voltages_V.items()}
    largest = max(float(np.abs(row).max(initial=0.0)) for row in rows.values())
    factor, unit = unit_for(largest, "V")
    place = np.arange(len(names), dtype=float)
    with figure_style():
        style_axes(axes, f"EMF ({unit})", "")
        axes.grid(visible=False, axis="y")
        axes.spines["left"].set_visible(False)
        if largest < NOTHING["V"]:
            axes.set_xlabel("EMF")
            only_note(axes, "no voltage")
            return axes
        handles: list[Any] = []
        for i, row in enumerate(rows.values()):
            y = place + _BAR * (i + 1)
            handles.append(
                axes.barh(
                    y, row / factor, _BAR * 0.9, color=LINE_COLOURS[i], hatch=BAR_HATCHES[i],
                    edgecolor=COLOURS["paper"], linewidth=0.0, zorder=2,
                )
            )  # fmt: skip
            for at, value in zip(y, row / factor, strict=True):
                axes.annotate(
                    plain_number(value), (value, at), (3, 0), textcoords="offset points",
                    ha="left", va="center", fontsize=8.0,
                )  # fmt: skip
        axes.set_xlim(0.0, 1.15 * largest / factor)
        axes.set_ylim(len(names) - 0.2, -0.25)
        axes.set_yticks([])
        for i, name in enumerate(names):
            axes.text(0.0, i, plain_text(name, 48), fontsize=8.5, va="center", parse_math=False)
        legend_above(axes, handles, list(rows), left_out)
    return axes
