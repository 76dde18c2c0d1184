"""Whole figures of the ranges of results, written to PNG, SVG or PDF."""

from __future__ import annotations

import os
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from fieldsim.charts.figure_room import only_note
from fieldsim.charts.figure_style import new_panels, save_figure, style_axes
from fieldsim.charts.range_bars import RangeBar, draw_ranges, explain_ranges
from fieldsim.operation.effort import Effort
from fieldsim.studies.ranges import RangeStudy, effort_torque_Nm
from fieldsim.words.range_text import lighting_words, source_words
from fieldsim.words.speeds import title_at

__all__ = [
    "save_comparison_range_plot",
    "save_effort_range_plot",
    "save_emf_range_plot",
    "save_light_range_plot",
]

Array = NDArray[np.float64]
Target = str | os.PathLike[str]
Panel = tuple[str, str, Sequence[RangeBar]]  # a quantity, its plain unit, the figures of it

_BUILT = "machines built like this"

_TALLEST_MM = 3000.0  # a picture has room for so many points only
_ROW_MM, _AXIS_MM, _HEAD_MM = 12.0, 14.0, 22.0


def save_emf_range_plot(study: RangeStudy, path: Target) -> None:
    """Draw the ranges of every open coil's peak, RMS and rectified mean."""
    kinds = {"peak_V": "peak", "rms_V": "RMS", "rectified_mean_V": "rectified mean"}
    bars = [
        bar
        for coil in study.points.coils
        for name, words in kinds.items()
        for bar in _coil_bars(study, coil, name, f"{coil}, {words}")
    ]
    _save(_heading(study), [("EMF", "V", bars)], path)


def save_comparison_range_plot(studies: Sequence[RangeStudy], path: Target) -> None:
    """Draw the ranges of the RMS EMF of every open coil of several designs."""
    bars = []
    for study in studies:
        title, coils = study.point.machine.title, study.points.coils
        for coil in coils:
            bars += _coil_bars(
                study, coil, "rms_V", title if len(coils) == 1 else f"{coil} of {title}"
            )
    heading = title_at("EMF with nothing connected", studies[0].point.speed)
    _save(f"{heading}; {_BUILT}", [("RMS", "V", bars)], path)


def save_light_range_plot(study: RangeStudy, path: Target) -> None:
    """Draw the ranges of the lamps' currents, the useful power and every open coil's RMS EMF."""
    points, panels = study.points, []
    if np.isfinite(points.load_W).any():
        result = study.point.circuit_result
        lamps = {lamp.label: lamp for lamp in result.lamps}
        currents = [
            bar
            for name, values in zip(points.lamps, points.lamp_current_A.T, strict=True)
            for bar in _bars(
                study, name, lamps[name].average_current_A, values, lamps[name].visible_current_A
            )
        ]
        power = _bars(study, "useful power", result.useful_power_W, points.useful_power_W)
        panels += [("average current of each lamp", "A", currents), ("power", "W", power)]
    emf = [bar for c in points.coils for bar in _coil_bars(study, c, "rms_V", f"{c}, RMS")]
    panels.append(("EMF with nothing connected", "V", emf))
    _save(_heading(study, lighting_words(study) or _BUILT), panels, path)


def save_effort_range_plot(study: RangeStudy, effort: Effort, path: Target) -> None:
    """Draw the range of the average torque at the crank, and of the force on its arm."""
    torque_Nm, now_Nm = effort_torque_Nm(study, effort), effort.crank.average_torque_Nm
    bars = _bars(study, "average torque at the crank", now_Nm, torque_Nm)
    panels: list[Panel] = [("torque", "N m", bars)]
    if effort.arm:
        arm = effort.arm.arm
        force = _bars(study, "average force on its arm", now_Nm / arm, torque_Nm / arm)
        panels.append(("force", "N", force))
    _save(_heading(study), panels, path)


def _heading(study: RangeStudy, of: str = _BUILT) -> str:
    return f"{title_at(study.point.machine.title, study.point.speed)}; {of}"


def _coil_bars(study: RangeStudy, coil: str, figure: str, name: str) -> list[RangeBar]:
    """Return the bar of one figure of an open coil."""
    values = getattr(study.points, figure)[:, study.points.coils.index(coil)]
    return _bars(study, name, getattr(study.point.figures[coil], figure), values)


def _bars(
    study: RangeStudy, name: str, value: float, values: Array, needed: float | None = None
) -> list[RangeBar]:
    """Return the bar of a figure, or none where no machine built like it has that figure."""
    found = study.range_of(values)
    if found is None:
        return []
    known = values[study.points.can_be & np.isfinite(values)]
    return [RangeBar(name, value, known, found, source_words(found), needed)]


def _save(heading: str, panels: Sequence[Panel], path: Target) -> None:
    panels = [panel for panel in panels if panel[2]]
    bars = [bar for _, _, several in panels for bar in several]
    heights = [_AXIS_MM + _ROW_MM * len(several) for _, _, several in panels] or [4 * _ROW_MM]
    figure, placed = new_panels(
        len(heights), 170.0, min(_HEAD_MM + sum(heights), _TALLEST_MM),
        shared_x=False, heights=heights,
    )  # fmt: skip
    for axes, (what, symbol, several) in zip(placed, panels, strict=False):
        draw_ranges(axes, several, what, symbol, heading if axes is placed[0] else "")
    if bars:
        explain_ranges(placed[0], bars)
    else:
        style_axes(placed[0], "", "", heading)
        only_note(placed[0], "no figure that has a range")
        placed[0].set_axis_off()
    save_figure(figure, path)
