"""Torque at the crank against its angle, and what it is made of."""

from __future__ import annotations

import math
import os
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from fieldsim.charts.figure_room import lift_title, only_note, plain_numbers
from fieldsim.charts.figure_style import (
    COLOURS,
    LINE_COLOURS,
    LINE_STYLES,
    add_legend,
    figure_style,
    new_panels,
    save_figure,
    style_axes,
)
from fieldsim.operation.effort import Effort
from fieldsim.words.numbers import NOTHING, plain_rpm, unit_for

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["effort_figure", "save_effort_plot"]

Array = NDArray[np.float64]

_STEPS_deg = (1, 2, 5, 10, 15, 30, 45, 60, 90, 180, 360, 720, 3600)


def effort_figure(effort: Effort) -> Figure:
    """Return the figure: above what the hand gives, below what the parts ask of the crank."""
    degrees = np.degrees(np.append(effort.crank_angle_rad, 2 * math.pi * float(effort.turns)))
    crank = effort.crank
    losses = crank.torque_Nm - effort.coils_at_crank_Nm - effort.magnets_at_crank_Nm
    parts = {
        "coils": effort.coils_at_crank_Nm,
        "magnets of the rotors": effort.magnets_at_crank_Nm,
        "friction and gears": losses,
    }
    shown = [crank.torque_Nm, effort.slow_Nm, *parts.values()]
    largest = max(float(np.abs(values).max()) for values in shown)
    factor, unit = unit_for(largest, "N m")
    figure, (above, below) = new_panels(2, 170.0, 130.0)
    with figure_style():
        if largest < NOTHING["N m"]:
            style_axes(above, "", "given by the hand", effort.title)
            style_axes(below, "crank turned (°)", "asked of the crank")
            for axes in (above, below):
                only_note(axes, "no torque")
            _ticks(below, float(degrees[-1]))
            return figure
        rpm = plain_rpm(abs(crank.speed_rad_per_s), 4)
        style_axes(above, "", f"given by the hand ({unit})", effort.title)
        hand = {f"at {rpm}": crank.torque_Nm, "turned slowly": effort.slow_Nm}
        _draw(above, degrees, hand, factor, 0)
        average = above.axhline(
            crank.average_torque_Nm / factor,
            color=COLOURS["soft ink"],
            linewidth=1.0,
            linestyle="--",
        )
        _legend(above, [*hand, "average"], average)
        lift_title(above, 22.0)
        style_axes(below, "crank turned (°)", f"asked of the crank ({unit})")
        _draw(below, degrees, parts, factor, 2)
        _legend(below, list(parts))
        _ticks(below, float(degrees[-1]))
        if effort.arm:
            _force_axis(above, factor / effort.arm.arm)
        for axes in (above, below):
            plain_numbers(axes)
    return figure


def save_effort_plot(effort: Effort, path: str | os.PathLike[str]) -> None:
    """Draw torque against crank angle over one repeat."""
    save_figure(effort_figure(effort), path)


def _draw(axes: Axes, degrees: Array, curves: dict[str, Array], factor: float, first: int) -> None:
    for i, values in enumerate(curves.values(), start=first):
        closed = np.append(values, values[0]) / factor
        axes.plot(
            degrees, closed, color=LINE_COLOURS[i], linestyle=LINE_STYLES[i - first], linewidth=1.8
        )
    axes.axhline(0.0, color=COLOURS["soft ink"], linewidth=0.8, zorder=2)


def _legend(axes: Axes, names: list[str], *more: Artist) -> None:
    lines = axes.get_lines()
    handles: list[Artist] = [*lines[: len(names) - len(more)], *more]
    add_legend(
        axes, handles, names, loc="lower right", bbox_to_anchor=(1.0, 0.99), ncols=len(names),
        borderaxespad=0.2,
    )  # fmt: skip


def _ticks(axes: Axes, end: float) -> None:
    step = next((s for s in _STEPS_deg if end / s <= 9), end / 4)
    axes.set_xlim(0.0, end)
    axes.set_xticks(np.arange(0.0, end + 1e-6 * step, step))


def _force_axis(axes: Axes, newtons_each: float) -> None:
    """Add the hand's force on the arm at the right."""
    other = axes.secondary_yaxis(
        "right",
        functions=(lambda y: np.asarray(y) * newtons_each, lambda n: np.asarray(n) / newtons_each),
    )
    other.set_ylabel("force on the arm (N)", fontsize=9.0, color=COLOURS["ink"])
    other.tick_params(colors=COLOURS["soft ink"], labelcolor=COLOURS["ink"], labelsize=8.5)
    other.spines["right"].set_color(COLOURS["soft ink"])
