"""The figures of a report, each as wide as half a printed page, where it is shown at its true size.

A phone and a third of a screen are about as wide, so that letters read alike on all of them.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from fieldsim.charts.circuit_curves import draw_curves
from fieldsim.charts.design_bars import draw_designs
from fieldsim.charts.effort_curves import draw_asked_torque, draw_given_torque
from fieldsim.charts.figure_room import legend_above, make_room, only_note, plain_numbers
from fieldsim.charts.figure_style import MM_PER_INCH, figure_style, new_figure
from fieldsim.charts.lever_bars import draw_levers
from fieldsim.charts.waveform_curves import draw_emf, draw_gap_study, draw_linkage
from fieldsim.drawing.field_picture import draw_field
from fieldsim.drawing.machine_drawing import draw_view, draw_view_3d
from fieldsim.drawing.views import along_shaft_view, oblique_view, seen_from, shaft_and_coil_view
from fieldsim.operation.effort import Effort
from fieldsim.operation.light import LightReport
from fieldsim.studies.gap import GapStudy
from fieldsim.studies.sensitivity import Sensitivity
from fieldsim.waveform.emf import EmfWaveform
from fieldsim.waveform.flux_table import FluxTable
from fieldsim.words.numbers import NOTHING

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from fieldsim.machine.machine import Machine

__all__ = [
    "asked_torque_figure",
    "comparison_figure",
    "emf_figure",
    "field_page_figure",
    "gap_figure",
    "given_torque_figure",
    "lamp_figure",
    "lever_figure",
    "linkage_figures",
    "machine_figures",
    "total_linkage_figure",
]

Array = NDArray[np.float64]

WIDTH_MM = 88.0
_MOST_CURVES, _MOST_DESIGNS, _MOST_STEPS = 6, 12, 8
_LEAST_GAIN = 0.005  # a smaller one is for the table, not for the chart


def machine_figures(machine: Machine) -> Iterator[tuple[str, Figure]]:
    """Yield the machine along its shaft, from the side and in space, and how it is seen.

    One by one: those of a thousand magnets need much memory.
    """
    for words, view in (
        ("along the shaft", along_shaft_view(machine)),
        ("from the side", shaft_and_coil_view(machine)),
    ):
        figure, axes = _placed(74.0, left=14.0, below=11.5)
        draw_view(axes, machine, view)
        yield f"{words}, {seen_from(view.towards)}", figure
    figure, axes = _placed(74.0, left=1.0, below=1.0, right=1.0, above=1.0)
    draw_view_3d(axes, machine)
    axes.set_title("", loc="left")
    yield f"in space, {seen_from(oblique_view(machine).towards)}", figure


def field_page_figure(machine: Machine, crank_angle_rad: float = 0.0) -> Figure:
    """Return the flux density near a coil, with the crank turned by that angle [rad]."""
    figure, axes = _placed(74.0, left=13.0, below=11.5, right=17.0)
    draw_field(axes, machine, crank_angle_rad=crank_angle_rad)
    axes.set_title("", loc="left")
    make_room(axes)
    (x0, x1), (y0, y1) = axes.get_xlim(), axes.get_ylim()
    left, _, share, _ = axes.get_position().bounds
    tall = share * WIDTH_MM * (y1 - y0) / (x1 - x0)
    height = tall + 14.5
    figure.set_size_inches(WIDTH_MM / MM_PER_INCH, height / MM_PER_INCH)
    axes.set_position((left, 11.5 / height, share, tall / height))
    return figure


def linkage_figures(table: FluxTable) -> dict[str, Figure]:
    """Return the linkage of every pair against rotor angle, one figure for each coil."""
    found = {}
    for i, coil in enumerate(table.coils):
        rotors = table.rotors[:_MOST_CURVES]
        figure, axes = _plain(len(rotors))
        angle = np.append(table.rotor_angle_rad, 2 * math.pi)
        curves = {r: np.append(table.linkage_Wb[i, j], table.linkage_Wb[i, j, 0])
                  for j, r in enumerate(rotors)}  # fmt: skip
        draw_linkage(axes, angle, curves, left_out=len(table.rotors) - len(rotors))
        make_room(axes)
        found[coil] = figure
    return found


def total_linkage_figure(waveform: EmfWaveform) -> Figure:
    """Return every coil's total linkage with all rotors over the electrical period."""
    time, shown = _repeat(waveform)
    figure, axes = _plain(len(waveform.coils))
    curves = {c: waveform.linkage_Wb[i, shown] for i, c in enumerate(_coils(waveform))}
    turned = abs(waveform.speed.base_rad_per_s) * time
    draw_linkage(axes, turned, curves, left_out=len(waveform.coils) - len(curves))
    crank = waveform.speed.given_as == "crank"
    axes.set_xlabel("crank turned (°)" if crank else "turned (°)")
    make_room(axes)
    return figure


def emf_figure(waveform: EmfWaveform) -> Figure:
    """Return every coil's EMF over the electrical period."""
    time, shown = _repeat(waveform)
    figure, axes = _plain(len(waveform.coils))
    curves = {c: waveform.emf_V[i, shown] for i, c in enumerate(_coils(waveform))}
    draw_emf(axes, time, curves, left_out=len(waveform.coils) - len(curves))
    make_room(axes)
    return figure


def lamp_figure(report: LightReport) -> Figure:
    """Return the current of each lamp, or of the load where there are no lamps, over a period."""
    from fieldsim.machine.load.circuit_parts import Led

    result = report.result
    lamps = [t for t in result.parts if isinstance(t.part, Led)]
    figure, axes = _plain(len(lamps))
    traces = lamps[:_MOST_CURVES]
    rows = {t.label: result.sampled(t.current_A)[1] for t in traces}
    if not rows:
        rows = {report.load_across: result.sampled(result.outlets[report.load_across].current_A)[1]}
    time = result.sampled(next(iter(result.coils.values())).emf_V)[0]
    what = "lamp current" if traces else "current into the load"
    draw_curves(axes, time, rows, what, "A")
    legend = axes.get_legend()
    if legend is not None:
        legend.remove()
    if max(float(np.abs(row).max(initial=0.0)) for row in rows.values()) < NOTHING["A"]:
        for line in list(axes.get_lines()):
            line.remove()
        axes.set_ylabel(what)
        only_note(axes, "no current")
    else:
        if len(rows) > 1:
            legend_above(axes, axes.get_lines()[: len(rows)], list(rows), len(lamps) - len(traces))
        plain_numbers(axes)
        axes.set_ylim(bottom=min(0.0, axes.get_ylim()[0]))
    make_room(axes)
    return figure


def given_torque_figure(effort: Effort) -> Figure:
    """Return the torque that the hand gives."""
    figure, axes = _plain(2, right=14.0 if effort.arm else 3.0)
    draw_given_torque(axes, effort)
    make_room(axes)
    return figure


def asked_torque_figure(effort: Effort) -> Figure:
    """Return the torque that the parts of a machine ask of the crank."""
    figure, axes = _plain(3)
    draw_asked_torque(axes, effort)
    make_room(axes)
    return figure


def gap_figure(study: GapStudy) -> Figure:
    """Return the voltage against clearance."""
    names = study.told[:_MOST_CURVES]
    figure, axes = _plain(2)
    draw_gap_study(
        axes,
        [row.gap_m for row in study.rows],
        {name: [row.told[name].rms_V for row in study.rows] for name in names},
        {name: (fit.rms_at_zero_gap_V, fit.decay_length_m) for name, fit in study.fits.items()},
        what="RMS EMF",
        left_out=len(study.told) - len(names),
    )
    make_room(axes)
    return figure


def lever_figure(found: Sensitivity) -> Figure:
    """Return the ranked chart of the steps that help most."""
    names, better, worse = [], [], []
    for lever in found.levers:
        best = found.best(lever)
        other = lever.less if best is lever.more else lever.more
        gains = [abs(found.gain(step)) for step in (best, other)]
        if not math.isnan(found.gain(best)) and np.nanmax(gains) >= _LEAST_GAIN:
            names.append(best.words)
            better.append(found.gain(best))
            worse.append(found.gain(other))
    rows_mm = 7.4 * max(min(len(names), _MOST_STEPS), 2)
    figure, axes = _placed(rows_mm + 19.0, left=2.0, below=12.0, above=7.0)
    shown = slice(_MOST_STEPS)
    draw_levers(axes, names[shown], better[shown], worse[shown], found.kind.value)
    return figure


def comparison_figure(
    names: Sequence[str], peak_V: Sequence[float], rms_V: Sequence[float], mean_V: Sequence[float]
) -> Figure:
    """Return the voltages of designs side by side."""
    shown = names[:_MOST_DESIGNS]
    voltages = {"peak": peak_V, "RMS": rms_V, "rectified mean": mean_V}
    figure, axes = _placed(17.0 * len(shown) + 20.0, left=2.0, below=12.0, above=8.0)
    cut = {kind: values[: len(shown)] for kind, values in voltages.items()}
    draw_designs(axes, shown, cut, left_out=len(names) - len(shown))
    make_room(axes)
    return figure


def _coils(waveform: EmfWaveform) -> tuple[str, ...]:
    return waveform.coils[:_MOST_CURVES]


def _repeat(waveform: EmfWaveform) -> tuple[Array, NDArray[np.int64]]:
    """Return the times [s] of the longest repeat of a coil, its end too, and their samples."""
    count = len(waveform.time_s)
    if not waveform.period.exact or count < 2:
        return waveform.time_s, np.arange(count, dtype=np.int64)
    slowest = float(waveform.frequency_Hz.min())
    last = min(count, max(8, math.ceil(count / (slowest * waveform.period_s))))
    steps = np.arange(last + 1, dtype=np.int64)
    # After a whole period comes its first sample again.
    time = np.asarray(steps * (waveform.period_s / count), dtype=np.float64)
    return time, steps % count


def _plain(curves: int = 1, right: float = 3.0) -> tuple[Figure, Axes]:
    """Return a figure with room for labels at the left and below, and for a legend above."""
    return _placed(66.0, left=14.0, below=11.5, above=7.0 if curves > 1 else 3.0, right=right)


def _placed(
    height_mm: float, *, left: float, below: float, right: float = 2.0, above: float = 2.0
) -> tuple[Figure, Axes]:
    """Return a figure and axes with that much room about them [mm], which stay where they are.

    That also takes less time than to lay them out.
    """
    with figure_style():
        figure = new_figure(WIDTH_MM, height_mm)
        figure.set_layout_engine("none")
        wide, tall = WIDTH_MM - left - right, height_mm - below - above
        axes = figure.add_axes(
            (left / WIDTH_MM, below / height_mm, wide / WIDTH_MM, tall / height_mm)
        )
    return figure, axes
