"""What a machine gives against one parameter as curves, against two as a map."""

from __future__ import annotations

import os
from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from fieldsim.charts.figure_style import (
    LINE_COLOURS,
    LINE_STYLES,
    MARKERS,
    add_legend,
    figure_style,
    new_panels,
    plain_text,
    save_figure,
    style_axes,
)
from fieldsim.machine.parameters import Parameter
from fieldsim.studies.vary import CRANK_SPEED, VaryRow, VaryStudy
from fieldsim.waveform.emf import Speed
from fieldsim.words.numbers import unit_for
from fieldsim.words.speeds import title_at

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["draw_vary_map", "draw_vary_panel", "save_vary_plot"]

Array = NDArray[np.float64]

_SHOWN = {"m": (1e-3, "mm"), "rad": (np.pi / 180, "deg"), "rad/s": (np.pi / 30, "rpm")}
_PANELS: tuple[tuple[str, str, Callable[[VaryRow], float | None]], ...] = (
    ("lamp current", "A", lambda row: row.brightest_lamp_A),
    ("useful power", "W", lambda row: row.useful_power_W),
    ("average crank torque", "N m", lambda row: row.average_torque_Nm),
)


def save_vary_plot(study: VaryStudy, speed: Speed, path: str | os.PathLike[str]) -> None:
    """Draw a study: curves one above the other, or of two parameters a map of what counts most.

    The title names the speed, unless that is varied.
    """
    varied = any(item.path == CRANK_SPEED for item in study.parameters)
    title = study.title if varied else title_at(study.title, speed)
    if len(study.parameters) == 2:
        figure, (axes,) = new_panels(1, 170.0, 120.0)
        draw_vary_map(axes, study, title)
        save_figure(figure, path)
        return
    panels = _panels(study)
    figure, placed = new_panels(len(panels), 170.0, 30.0 + 46.0 * len(panels))
    for i, (axes, (what, symbol, curves)) in enumerate(zip(placed, panels, strict=True)):
        last = i == len(panels) - 1
        above = title if i == 0 else ""
        draw_vary_panel(axes, study, what, symbol, curves, above, label=last)
    save_figure(figure, path)


def _panels(study: VaryStudy) -> list[tuple[str, str, dict[str, Array]]]:
    """Return what there is to draw: quantity, unit, curves by name."""
    coils = {
        coil: np.array([row.coils[coil].rms_V for row in study.rows])
        for coil in study.rows[0].coils
    }
    for name in study.rows[0].connections:
        told = [f for row in study.rows if (f := row.connections[name]) is not None]
        if len(told) == len(study.rows):
            coils[name] = np.array([f.rms_V for f in told])
    found = [("open RMS voltage", "V", coils)]
    for what, symbol, value in _PANELS:
        column = [value(row) for row in study.rows]
        if all(v is not None for v in column):
            found.append((what, symbol, {"": np.array(column, dtype=float)}))
    return found


def draw_vary_panel(
    axes: Axes,
    study: VaryStudy,
    what: str,
    symbol: str,
    curves: dict[str, Array],
    title: str = "",
    *,
    label: bool = True,
) -> Axes:
    """Draw one quantity against the parameter of a study.

    Parameters
    ----------
    axes
        To draw in.
    study
        Over one parameter.
    what, symbol
        The quantity and its plain unit.
    curves
        (rows,) by name.
    title
        Of the axes.
    label
        Whether the parameter stands below.
    """
    item = study.parameters[0]
    x, ticks = _places(study, item)
    largest = max(float(np.abs(values).max()) for values in curves.values())
    size, unit = unit_for(largest, symbol)
    order = np.argsort(x, kind="stable")
    with figure_style():
        style_axes(axes, _axis_label(item) if label else "", f"{what} ({unit})", title)
        for i, (name, values) in enumerate(curves.items()):
            axes.plot(
                x[order], values[order] / size, color=LINE_COLOURS[i % len(LINE_COLOURS)],
                linestyle=LINE_STYLES[i % len(LINE_STYLES)], marker=MARKERS[i % len(MARKERS)],
                markersize=4.5, markeredgecolor="white", markeredgewidth=0.5,
                label=plain_text(name, 24),
            )  # fmt: skip
        if ticks is not None:
            axes.set_xticks(range(len(ticks)), [plain_text(tick, 20) for tick in ticks])
        elif isinstance(item.value, int):
            axes.locator_params(axis="x", integer=True)
        axes.set_ylim(bottom=min(0.0, axes.get_ylim()[0]))
        if len(curves) > 1:
            handles = axes.get_lines()
            add_legend(axes, handles, [plain_text(name, 24) for name in curves])
    return axes


def draw_vary_map(axes: Axes, study: VaryStudy, title: str = "") -> Axes:
    """Draw a study over two parameters as a map of lamp current, or else of power or voltage."""
    what, symbol, values = _what_counts(study)
    first, second = study.parameters
    x, x_ticks = _places(study, first)
    y, y_ticks = _places(study, second)
    columns, rows = np.unique(x, return_inverse=True), np.unique(y, return_inverse=True)
    grid = np.full((len(rows[0]), len(columns[0])), np.nan)
    grid[rows[1], columns[1]] = values
    size, unit = unit_for(float(np.abs(values).max()), symbol)
    with figure_style():
        style_axes(axes, _axis_label(first), _axis_label(second), title)
        cells = axes.pcolormesh(
            _edges(columns[0]), _edges(rows[0]), grid / size, cmap="cividis", shading="flat"
        )
        bar = axes.figure.colorbar(cells, ax=axes)
        bar.set_label(f"{what} ({unit})")
        axes.grid(visible=False)
        for ticks, put in ((x_ticks, axes.set_xticks), (y_ticks, axes.set_yticks)):
            if ticks is not None:
                put(range(len(ticks)), [plain_text(tick, 16) for tick in ticks])
    return axes


def _what_counts(study: VaryStudy) -> tuple[str, str, Array]:
    panels = _panels(study)
    names = [what for what, _, _ in panels]
    chosen = next((w for w in ("lamp current", "useful power") if w in names), names[0])
    what, symbol, curves = panels[names.index(chosen)]
    strongest = max(curves, key=lambda name: float(np.abs(curves[name]).max()))
    return (f"{what} of {strongest}" if strongest else what), symbol, curves[strongest]


def _places(study: VaryStudy, item: Parameter) -> tuple[Array, list[str] | None]:
    """Return the place of each row along a parameter, and the names of the places of words."""
    values = [row.values[item.path] for row in study.rows]
    if any(isinstance(value, str) for value in values):
        words = list(dict.fromkeys(map(str, values)))
        return np.array([float(words.index(str(value))) for value in values]), words
    scale, _ = _SHOWN.get(item.unit, (1.0, item.unit))
    return np.array(values, dtype=float) / scale, None


def _axis_label(item: Parameter) -> str:
    _, unit = _SHOWN.get(item.unit, (1.0, item.unit))
    return f"{item.path} ({unit})" if unit else item.path


def _edges(middles: Array) -> Array:
    """Return the edges of cells around values that rise, (values + 1,)."""
    if len(middles) == 1:
        return np.array([middles[0] - 0.5, middles[0] + 0.5])
    between = (middles[1:] + middles[:-1]) / 2
    first, last = 1.5 * middles[0] - 0.5 * middles[1], 1.5 * middles[-1] - 0.5 * middles[-2]
    return np.concatenate([[first], between, [last]])
