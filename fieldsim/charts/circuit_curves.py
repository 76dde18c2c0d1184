"""Curves of solved circuits: voltages and currents against time, power against load and gauge."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fieldsim.charts.figure_style import (
    COLOURS,
    LINE_COLOURS,
    LINE_STYLES,
    MARKERS,
    add_legend,
    figure_style,
    style_axes,
)
from fieldsim.words.numbers import plain_number, unit_for

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["draw_curves", "draw_gauge_power", "draw_load_curve"]

Array = NDArray[np.float64]

_LETTERS = 60  # below a row of wires, before they stand upright


def draw_curves(
    axes: Axes,
    time_s: ArrayLike,
    curves: Mapping[str, ArrayLike],
    what: str,
    symbol: str,
    title: str = "",
    time_label: bool = True,
) -> Axes:
    """Draw curves of one quantity against time.

    Parameters
    ----------
    axes
        To draw in.
    time_s
        (times,).
    curves
        (times,) by name.
    what, symbol
        The quantity and its plain unit, for instance ``"current"`` and ``"A"``.
    title
        Of the axes.
    time_label
        Whether the axis below is this one's.

    Examples
    --------
    >>> from fieldsim.charts.figure_style import new_figure
    >>> axes = new_figure().add_subplot()
    >>> draw_curves(axes, [0.0, 1.0], {"coil": [0.0, 0.02]}, "current", "A").get_ylabel()
    'current (mA)'
    """
    time = np.asarray(time_s, dtype=float)
    rows = {name: np.asarray(values, dtype=float) for name, values in curves.items()}
    largest = max((float(np.abs(row).max(initial=0.0)) for row in rows.values()), default=0.0)
    factor, unit = unit_for(largest, symbol)
    time_factor, time_unit = unit_for(float(np.abs(time).max(initial=0.0)), "s")
    with figure_style():
        style_axes(axes, f"time ({time_unit})" if time_label else "", f"{what} ({unit})", title)
        handles: list[Any] = []
        for i, row in enumerate(rows.values()):
            handles += axes.plot(
                time / time_factor, row / factor, color=LINE_COLOURS[i % len(LINE_COLOURS)],
                linestyle=LINE_STYLES[i % len(LINE_STYLES)], linewidth=1.7, zorder=2.5 + 0.01 * i,
            )  # fmt: skip
        axes.axhline(0.0, color=COLOURS["soft ink"], linewidth=0.8, zorder=2)
        if time.size > 1:
            axes.set_xlim(time[0] / time_factor, time[-1] / time_factor)
        if rows:
            add_legend(
                axes, handles, list(rows), loc="upper left", bbox_to_anchor=(1.01, 1.02),
                borderaxespad=0.0, handlelength=2.6,
            )  # fmt: skip
    return axes


def draw_load_curve(
    axes: Axes,
    resistance_ohm: Array,
    power_W: Array,
    best: tuple[float, float],
    own: tuple[float | None, float],
    coil_ohm: float,
    title: str = "",
) -> Axes:
    """Draw power into a resistor against its resistance.

    Parameters
    ----------
    axes
        To draw in.
    resistance_ohm, power_W
        The curve, each (points,).
    best
        Resistance [ohm] and power [W] at its top.
    own
        The same of the file's own load; None if it takes no power.
    coil_ohm
        Resistance of the coils [ohm].
    title
        Of the axes.
    """
    from scipy.interpolate import PchipInterpolator

    factor, unit = unit_for(float(power_W.max(initial=0.0)), "W")
    with figure_style():
        style_axes(axes, "load resistance (ohm)", f"useful power ({unit})", title)
        axes.set_xscale("log")
        fine = np.geomspace(resistance_ohm[0], resistance_ohm[-1], 300)
        through = PchipInterpolator(np.log(resistance_ohm), power_W / factor)
        handles: list[Any] = list(
            axes.plot(fine, through(np.log(fine)), color=LINE_COLOURS[0], zorder=2.5)
        )
        axes.plot(
            resistance_ohm, power_W / factor, color=LINE_COLOURS[0], marker=MARKERS[0],
            markersize=3.5, linestyle="none", zorder=2.6,
        )  # fmt: skip
        axes.xaxis.set_major_formatter("{x:g}")
        axes.tick_params(axis="x", which="minor", colors=COLOURS["soft ink"])
        names = ["a resistor"]
        handles += _mark(axes, best[0], best[1] / factor, 1)
        names.append(f"most power: {plain_number(best[0])} ohm")
        if own[0] is not None:
            handles += _mark(axes, own[0], own[1] / factor, 2)
            names.append(f"the load of the file, like {plain_number(own[0])} ohm")
        handles.append(
            axes.axvline(coil_ohm, 0.0, 0.78, color=COLOURS["soft ink"], linestyle=":", lw=1.0)
        )
        names.append(f"the coils' own {plain_number(coil_ohm)} ohm")
        axes.set_ylim(bottom=0.0, top=1.35 * float(power_W.max(initial=0.0)) / factor or 1.0)
        add_legend(axes, handles, names, loc="upper left", ncols=2, columnspacing=1.2)
    return axes


def draw_gauge_power(
    axes: Axes,
    gauges: Sequence[str],
    power_W: ArrayLike,
    turns: ArrayLike,
    resistance_ohm: ArrayLike,
    title: str = "",
    *,
    best: int | None = None,
    over: Sequence[bool] = (),
) -> Axes:
    """Draw useful power against gauge, with turns and resistance on an axis of their own.

    Parameters
    ----------
    axes
        To draw in.
    gauges
        Names, one for each place along the axis.
    power_W, turns, resistance_ohm
        (gauges,).
    title
        Of the axes.
    best
        Which of them to mark as the best; None if there is none.
    over
        Which of them to mark as too much for the load or the wire, (gauges,).
    """
    power = np.asarray(power_W, dtype=float)
    factor, unit = unit_for(float(power.max(initial=0.0)), "W")
    place = np.arange(len(gauges))
    with figure_style():
        style_axes(axes, "wire that fills the section", f"useful power ({unit})", title)
        handles: list[Any] = list(
            axes.plot(
                place, power / factor, color=LINE_COLOURS[0], marker=MARKERS[0], markersize=5.0,
                markeredgecolor="white", markeredgewidth=0.5, zorder=3,
            )
        )  # fmt: skip
        names = ["useful power"]
        if best is not None:
            handles += _mark(axes, float(place[best]), power[best] / factor, 1)
            names.append(f"best: {gauges[best]}")
        if any(over):
            places = place[np.asarray(over)]
            handles += axes.plot(
                places, power[places] / factor, color=COLOURS["ink"], marker="x",
                markersize=6.5, markeredgewidth=1.3, linestyle="none", zorder=4,
            )  # fmt: skip
            names.append("too much for load or wire")
        kind, short = _short(gauges)
        crowded = sum(map(len, short)) > _LETTERS
        axes.set_xticks(place, short, rotation=90 if crowded else 0)
        axes.set_xlabel(f"{kind}wire that fills the section")
        axes.set_ylim(0.0, 1.35 * float(power.max(initial=0.0)) / factor or 1.0)
        side: Any = axes.twinx()
        style_axes(side, "", "turns; resistance (ohm)")
        side.grid(visible=False)
        side.spines["right"].set_visible(True)
        side.set_yscale("log")
        side.yaxis.set_major_formatter("{x:g}")
        side.tick_params(axis="y", which="minor", colors=COLOURS["soft ink"])
        for i, (name, values) in enumerate((("turns", turns), ("resistance", resistance_ohm)), 2):
            handles += side.plot(
                place, np.asarray(values, dtype=float), color=LINE_COLOURS[i],
                linestyle=LINE_STYLES[i], marker=MARKERS[i], markersize=3.5, linewidth=1.3,
            )  # fmt: skip
            names.append(name)
        add_legend(axes, handles, names, loc="upper left", ncols=2, columnspacing=1.2)
    return axes


def _short(gauges: Sequence[str]) -> tuple[str, list[str]]:
    """Return what sizes all are of, if they share it, and the sizes without that word."""
    kinds = {"AWG": "AWG gauge of the ", "SWG": "SWG gauge of the ", "mm": "copper (mm) of the "}
    for word, kind in kinds.items():
        if all(word in gauge.split() for gauge in gauges):
            return kind, [gauge.replace(word, "").strip() for gauge in gauges]
    return "", list(gauges)


def _mark(axes: Axes, x: float, y: float, which: int) -> list[Any]:
    return list(
        axes.plot(
            [x], [y], color=LINE_COLOURS[which], marker=MARKERS[which], markersize=8.0,
            markeredgecolor="white", linestyle="none", zorder=4,
        )
    )  # fmt: skip
