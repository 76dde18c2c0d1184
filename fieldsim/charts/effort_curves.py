"""Torque at the crank against its angle, and what it is made of."""

from __future__ import annotations

import math
import os
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from fieldsim.charts.figure_room import legend_above, lift_title, only_note, plain_numbers
from fieldsim.charts.figure_style import (
    COLOURS,
    LINE_COLOURS,
    LINE_STYLES,
    figure_style,
    new_panels,
    save_figure,
    style_axes,
)
from fieldsim.operation.effort import Effort
from fieldsim.words.numbers import NOTHING, plain_rpm, unit_for
from fieldsim.words.speeds import title_at

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes

__all__ = ["draw_asked_torque", "draw_given_torque", "save_effort_plot"]

Array = NDArray[np.float64]

_STEPS_deg = (1, 2, 5, 10, 15, 30, 45, 60, 90, 180, 360, 720, 3600)


def draw_given_torque(axes: Axes, effort: Effort, title: str = "") -> Axes:
    """Draw the torque that the hand gives against crank angle, at the speed and turned slowly.

    Parameters
    ----------
    axes
        To draw in.
    effort
        Of a machine at a speed.
    title
        Of the axes.
    """
    crank = effort.crank
    factor, unit = _scale(effort)
    with figure_style():
        if not factor:
            return _no_torque(axes, effort, "given by the hand", title)
        style_axes(axes, "crank turned (°)", f"given by the hand ({unit})", title)
        rpm = plain_rpm(abs(crank.speed_rad_per_s), 4)
        hand = {f"at {rpm}": crank.torque_Nm, "turned slowly": effort.slow_Nm}
        _draw(axes, effort, hand, factor, 0)
        average = axes.axhline(
            crank.average_torque_Nm / factor,
            color=COLOURS["soft ink"],
            linewidth=1.0,
            linestyle="--",
        )
        _legend(axes, [*hand, "average"], average)
        if effort.arm:
            _force_axis(axes, factor / effort.arm.arm)
    return axes


def draw_asked_torque(axes: Axes, effort: Effort, title: str = "") -> Axes:
    """Draw what the parts of a machine ask of the crank against its angle.

    Parameters
    ----------
    axes
        To draw in.
    effort
        Of a machine at a speed.
    title
        Of the axes.
    """
    factor, unit = _scale(effort)
    with figure_style():
        if not factor:
            return _no_torque(axes, effort, "asked of the crank", title)
        style_axes(axes, "crank turned (°)", f"asked of the crank ({unit})", title)
        parts = _parts(effort)
        _draw(axes, effort, parts, factor, 2)
        _legend(axes, list(parts))
    return axes


def save_effort_plot(effort: Effort, path: str | os.PathLike[str]) -> None:
    """Write the picture of torque against crank angle over one repeat."""
    figure, (above, below) = new_panels(2, 170.0, 130.0)
    draw_given_torque(above, effort, title_at(effort.title, effort.speed)).set_xlabel("")
    draw_asked_torque(below, effort)
    save_figure(figure, path)


def _parts(effort: Effort) -> dict[str, Array]:
    """Return what asks for torque at the crank, by name, (samples,) each [N m]."""
    coils, magnets = effort.coils_at_crank_Nm, effort.magnets_at_crank_Nm
    losses = effort.crank.torque_Nm - coils - magnets
    return {"coils": coils, "magnets of the rotors": magnets, "friction and gears": losses}


def _scale(effort: Effort) -> tuple[float, str]:
    """Return size and name of the unit for all torques; no size where there is but rounding."""
    shown = [effort.crank.torque_Nm, effort.slow_Nm, *_parts(effort).values()]
    largest = max(float(np.abs(values).max()) for values in shown)
    return (0.0, "") if largest < NOTHING["N m"] else unit_for(largest, "N m")


def _no_torque(axes: Axes, effort: Effort, what: str, title: str) -> Axes:
    style_axes(axes, "crank turned (°)", what, title)
    only_note(axes, "no torque")
    _ticks(axes, 360.0 * float(effort.turns))
    return axes


def _draw(axes: Axes, effort: Effort, curves: dict[str, Array], factor: float, first: int) -> None:
    turn = 2 * math.pi * float(effort.turns)
    degrees = np.degrees(np.append(effort.crank_angle_rad, turn))
    for i, values in enumerate(curves.values(), start=first):
        closed = np.append(values, values[0]) / factor
        axes.plot(
            degrees, closed, color=LINE_COLOURS[i], linestyle=LINE_STYLES[i - first], linewidth=1.8
        )
    axes.axhline(0.0, color=COLOURS["soft ink"], linewidth=0.8, zorder=2)
    plain_numbers(axes)
    _ticks(axes, float(degrees[-1]))


def _legend(axes: Axes, names: list[str], *more: Artist) -> None:
    lines = axes.get_lines()
    handles: list[Artist] = [*lines[: len(names) - len(more)], *more]
    lift_title(axes, 8.0 + 14.0 * legend_above(axes, handles, names))


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
