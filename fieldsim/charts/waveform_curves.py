"""Curves and bars of a machine's results: plain arrays in SI units in, labelled axes out."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fieldsim.charts.figure_room import legend_above, lift_title, only_note, plain_numbers
from fieldsim.charts.figure_style import (
    BAR_HATCHES,
    COLOURS,
    LINE_COLOURS,
    LINE_STYLES,
    MARKERS,
    add_legend,
    figure_style,
    plain_text,
    style_axes,
)
from fieldsim.words.numbers import NOTHING, plain_number, unit_for

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.lines import Line2D

__all__ = ["draw_comparison", "draw_emf", "draw_gap_study", "draw_linkage"]

Array = NDArray[np.float64]

_MARKS_PER_CURVE = 9
_STEPS_deg = (0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 45, 60, 90, 180, 360, 720)


def draw_linkage(
    axes: Axes,
    rotor_angle_rad: ArrayLike,
    linkage_Wb: Mapping[str, ArrayLike],
    title: str = "",
    left_out: int = 0,
) -> Axes:
    """Draw flux linkage against rotor angle.

    Parameters
    ----------
    axes
        To draw in.
    rotor_angle_rad
        (angles,).
    linkage_Wb
        One curve (angles,) by name.
    title
        Of the axes.
    left_out
        How many further curves are not drawn.

    Examples
    --------
    >>> from fieldsim.charts.figure_style import new_figure
    >>> axes = new_figure().add_subplot()
    >>> draw_linkage(axes, [0.0, 3.14], {"upper": [0.01, -0.01]}).get_ylabel()
    'flux linkage (mWb)'
    """
    curves = _curves(rotor_angle_rad, linkage_Wb)
    factor, unit = unit_for(_largest(curves), "Wb")
    degrees = np.degrees(_row(rotor_angle_rad))
    with figure_style():
        style_axes(axes, "rotor angle (°)", f"flux linkage ({unit})", title)
        if curves and _largest(curves) < NOTHING["Wb"]:
            axes.set_ylabel("flux linkage")
            only_note(axes, "no flux linkage")
        else:
            shown = {name: c / factor for name, c in curves.items()}
            _draw_curves(axes, degrees, shown, left_out)
        _degree_ticks(axes, degrees)
    return axes


def draw_emf(
    axes: Axes,
    time_s: ArrayLike,
    emf_V: Mapping[str, ArrayLike],
    title: str = "",
    left_out: int = 0,
) -> Axes:
    """Draw EMF against time.

    Parameters
    ----------
    axes
        To draw in.
    time_s
        (times,).
    emf_V
        One curve (times,) by name.
    title
        Of the axes.
    left_out
        How many further curves are not drawn.
    """
    time = _row(time_s)
    curves = _curves(time, emf_V)
    factor, unit = unit_for(_largest(curves), "V")
    time_factor, time_unit = unit_for(float(np.abs(time).max(initial=0.0)), "s")
    with figure_style():
        style_axes(axes, f"time ({time_unit})", f"EMF ({unit})", title)
        if curves and _largest(curves) < NOTHING["V"]:
            axes.set_ylabel("EMF")
            only_note(axes, "no voltage")
        else:
            shown = {name: c / factor for name, c in curves.items()}
            _draw_curves(axes, time / time_factor, shown, left_out)
        if time.size > 1 and time[-1] > time[0]:
            axes.set_xlim(time[0] / time_factor, time[-1] / time_factor)
    return axes


def draw_comparison(
    axes: Axes,
    names: Sequence[str],
    peak_V: ArrayLike,
    rms_V: ArrayLike,
    rectified_mean_V: ArrayLike,
    title: str = "",
) -> Axes:
    """Draw peak, RMS and rectified mean EMF side by side.

    Parameters
    ----------
    axes
        To draw in.
    names
        One for each design and coil (designs,).
    peak_V, rms_V, rectified_mean_V
        (designs,).
    title
        Of the axes.
    """
    figures = {
        "peak": _row(peak_V),
        "RMS": _row(rms_V),
        "rectified mean": _row(rectified_mean_V),
    }
    for name, values in figures.items():
        if len(values) != len(names):
            raise ValueError(f"{name}: {len(values)} values for {len(names)} names")
    factor, unit = unit_for(_largest(figures), "V")
    place = np.arange(len(names), dtype=float)
    with figure_style():
        style_axes(axes, "", f"EMF ({unit})", title)
        axes.grid(visible=False, axis="x")
        nothing = bool(names) and _largest(figures) < NOTHING["V"]
        if not nothing:
            handles = _draw_bars(axes, figures, factor)
            add_legend(axes, handles, list(figures), loc="upper center", ncols=3)
        top = _largest(figures) / factor
        axes.set_ylim(0.0, 1.24 * top if top > 0 else 1.0)
        plain_numbers(axes)
        axes.set_xlim(-0.55, max(len(names) - 0.45, 0.55))
        axes.set_xticks(place, [_wrapped(n, len(names)) for n in names])
        for label in axes.get_xticklabels():
            label.set_parse_math(False)
            if len(names) > 5:
                label.set_rotation(30)
                label.set_horizontalalignment("right")
                label.set_rotation_mode("anchor")
        axes.tick_params(axis="x", length=0)
        if nothing:
            axes.set_ylabel("EMF")
            only_note(axes, "no voltage")
    return axes


def _draw_bars(axes: Axes, figures: Mapping[str, Array], factor: float) -> list[Any]:
    """Draw a group of bars for each design and return what the legend shows."""
    handles: list[Any] = []
    width = 0.26
    for i, values in enumerate(figures.values()):
        place = np.arange(values.size) + (i - 1) * width
        bars = axes.bar(
            place, values / factor, width * 0.94, color=LINE_COLOURS[i],
            edgecolor=COLOURS["paper"], hatch=BAR_HATCHES[i], linewidth=0.0, zorder=2,
        )  # fmt: skip
        handles.append(bars)
        if values.size <= 6:
            for x, value in zip(place, values / factor, strict=True):
                axes.annotate(
                    plain_number(value), (x, value), (0, 2), textcoords="offset points",
                    ha="center", va="bottom", fontsize=7.5 if values.size <= 4 else 6,
                )  # fmt: skip
    return handles


def draw_gap_study(
    axes: Axes,
    gap_m: ArrayLike,
    peak_V: Mapping[str, ArrayLike],
    fit: Mapping[str, tuple[float, float]] | None = None,
    title: str = "",
    what: str = "peak EMF",
    left_out: int = 0,
) -> Axes:
    """Draw EMF against the clearance, with fitted exponentials.

    Parameters
    ----------
    axes
        To draw in.
    gap_m
        (gaps,), in any order.
    peak_V
        (gaps,) by coil.
    fit
        By coil, the voltage at no clearance [V] and the decay length [m] of
        ``voltage * exp(-gap / length)``.
    title
        Of the axes.
    what
        Which voltage the values are.
    left_out
        How many further curves are not drawn.
    """
    gaps = _row(gap_m)
    curves = _curves(gaps, peak_V)
    factor, unit = unit_for(_largest(curves), "V")
    order = np.argsort(gaps, kind="stable")
    fit = fit or {}
    with figure_style():
        style_axes(axes, "clearance (mm)", f"{what} ({unit})", title)
        handles: list[Any] = []
        names: list[str] = []
        for i, (name, values) in enumerate(curves.items()):
            colour = LINE_COLOURS[i % len(LINE_COLOURS)]
            fitted = fit.get(name)
            joined = "none" if fitted else LINE_STYLES[i % len(LINE_STYLES)]
            (points,) = axes.plot(
                gaps[order] * 1e3, values[order] / factor, color=colour, linestyle=joined,
                marker=MARKERS[i % len(MARKERS)], markersize=5.5, markeredgecolor="white",
                markeredgewidth=0.6, zorder=3,
            )  # fmt: skip
            if not fitted or not gaps.size:
                handles.append(points)
                names.append(name)
                continue
            voltage, length = fitted
            fine = np.linspace(gaps.min(), gaps.max(), 200)
            (curve,) = axes.plot(
                fine * 1e3, voltage * np.exp(-fine / length) / factor, color=colour,
                linestyle=LINE_STYLES[i % len(LINE_STYLES)], linewidth=1.4, zorder=2.5,
            )  # fmt: skip
            handles.append((points, curve))
            names.append(
                f"{plain_text(name, 24)}: falls to 37 % every {plain_number(length * 1e3)} mm"
            )
        axes.set_ylim(bottom=0.0)
        plain_numbers(axes)
        if gaps.size > 1:
            axes.set_xlim(left=0.0)
        if curves and _largest(curves) < NOTHING["V"]:
            for line in list(axes.get_lines()):
                line.remove()
            axes.set_ylabel(what)
            only_note(axes, "no voltage")
        elif names:
            _name_curves(axes, handles, names, left_out)
    return axes


def _draw_curves(axes: Axes, x: Array, curves: Mapping[str, Array], left_out: int) -> None:
    handles: list[Line2D] = []
    several = len(curves) > 1
    for i, (_, y) in enumerate(curves.items()):
        every = max(1, len(x) // _MARKS_PER_CURVE)
        # Marks stand at different places on each curve, so that equal curves can be told apart.
        first = (i * every) // max(1, len(curves))
        handles += axes.plot(
            x, y, color=LINE_COLOURS[i % len(LINE_COLOURS)],
            linestyle=LINE_STYLES[i % len(LINE_STYLES)], zorder=2.5 + 0.01 * i,
            marker=MARKERS[i % len(MARKERS)] if several else "", markevery=(first, every),
            markersize=4.5, markeredgecolor="white", markeredgewidth=0.5, linewidth=1.8,
        )  # fmt: skip
    axes.axhline(0.0, color=COLOURS["soft ink"], linewidth=0.8, zorder=2)
    plain_numbers(axes)
    if several or left_out:
        _name_curves(axes, handles, list(curves), left_out)


def _name_curves(axes: Axes, handles: Sequence[Any], names: Sequence[str], left_out: int) -> None:
    lines = legend_above(axes, handles, names, left_out)
    lift_title(axes, 8.0 + 14.0 * lines)


def _degree_ticks(axes: Axes, degrees: Array) -> None:
    if degrees.size < 2 or degrees.max() <= degrees.min():
        return
    low, high = float(degrees.min()), float(degrees.max())
    if 0.9 * 360.0 < high < 360.0 and low == 0.0:
        high = 360.0  # the turn's last sample is its first
    step = next((s for s in _STEPS_deg if (high - low) / s <= 9), None)
    if step is not None:
        first, last = math.ceil(low / step - 1e-6), math.floor(high / step + 1e-6)
        axes.set_xticks(step * np.arange(first, last + 1))
    axes.set_xlim(low, high)


def _curves(x: ArrayLike, curves: Mapping[str, ArrayLike]) -> dict[str, Array]:
    count = _row(x).size
    rows = {name: _row(values) for name, values in curves.items()}
    for name, row in rows.items():
        if row.size != count:
            raise ValueError(f"{name}: {row.size} values for {count} places along the axis")
    return rows


def _row(values: ArrayLike) -> Array:
    return np.atleast_1d(np.asarray(values, dtype=np.float64)).ravel()


def _largest(curves: Mapping[str, Array]) -> float:
    sizes = [np.abs(c[np.isfinite(c)]).max(initial=0.0) for c in curves.values()]
    return float(max(sizes, default=0.0))


def _wrapped(name: str, count: int) -> str:
    """Return a name on at most three lines that fit under one group of bars."""
    import textwrap

    width = 34 if count <= 2 else 22 if count <= 3 else 16 if count <= 5 else 24
    lines = textwrap.wrap(plain_text(name, 90), width, break_long_words=True)
    return "\n".join(lines if len(lines) <= 3 else [*lines[:2], lines[2][: width - 1] + "…"])
