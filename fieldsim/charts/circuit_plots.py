"""Whole figures of solved circuits, written to PNG, SVG or PDF."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

from fieldsim.charts.circuit_curves import draw_curves, draw_gauge_power, draw_load_curve
from fieldsim.charts.figure_style import new_panels, save_figure
from fieldsim.circuit.results import CircuitResult
from fieldsim.machine.load.circuit_parts import Led
from fieldsim.studies.gauges import GaugeStudy
from fieldsim.studies.match import MatchStudy
from fieldsim.waveform.emf import Speed
from fieldsim.words.speeds import title_at
from fieldsim.words.wind_text import gauge_name

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["save_circuit_plot", "save_gauge_plot", "save_match_plot"]

Target = str | os.PathLike[str]


def save_circuit_plot(result: CircuitResult, title: str, speed: Speed, path: Target) -> None:
    """Draw voltages and currents over a period or a start, one above the other."""
    voltages, currents, lamps = {}, {}, {}
    single = len(result.coils) == 1
    for coil in result.coils.values():
        voltages[f"EMF of {coil.name}"] = coil.emf_V
        currents[f"coil {coil.name}"] = coil.current_A
    for outlet in result.outlets.values():
        where = "" if single else f" of {outlet.name}"
        voltages[f"across {outlet.name}"] = outlet.voltage_V
        if outlet.dc_voltage_V is not None:
            voltages[f"behind the bridge{where}"] = outlet.dc_voltage_V
    for trace in result.parts:
        if isinstance(trace.part, Led):
            name = f"{trace.label}, each of {trace.count}" if trace.count > 1 else trace.label
            lamps[name] = trace.current_A
    panels = [
        (voltages, "voltage", "V"),
        (currents, "coil current", "A"),
        *([(lamps, "lamp current", "A")] if lamps else []),
    ]
    figure, placed = new_panels(len(panels), 190.0, 30.0 + 52.0 * len(panels))
    for i, (axes, (curves, what, symbol)) in enumerate(zip(placed, panels, strict=True)):
        even = {
            name: result.sampled(values, result.points_to_show) for name, values in curves.items()
        }
        time_s = next(iter(even.values()))[0]
        draw_curves(
            axes,
            time_s,
            {name: values for name, (_, values) in even.items()},
            what,
            symbol,
            title_at(title, speed) if i == 0 else "",
            time_label=i == len(panels) - 1,
        )
    save_figure(figure, path)


def save_gauge_plot(study: GaugeStudy, title: str, speed: Speed, path: Target) -> None:
    """Draw power at a speed, turns and resistance against the gauge."""
    figure, (axes,) = new_panels(1, max(170.0, 8.0 * len(study.rows)))
    _draw_gauges(axes, study, title_at(title, speed))
    save_figure(figure, path)


def save_match_plot(study: MatchStudy, path: Target) -> None:
    """Draw power against load resistance and against gauge."""
    width_mm = max(170.0, 8.0 * len(study.gauges.rows))
    figure, (above, below) = new_panels(2, width_mm, 170.0, shared_x=False)
    curve = study.curve
    draw_load_curve(
        above,
        curve.load_resistance_ohm,
        curve.power_W,
        (curve.best_load_resistance_ohm, curve.best_load_power_W),
        (curve.own_load_resistance_ohm, curve.own_load_power_W),
        study.coil_resistance_ohm,
        title_at(study.title, study.speed),
    )
    _draw_gauges(below, study.gauges, "")
    save_figure(figure, path)


def _draw_gauges(axes: Axes, study: GaugeStudy, title: str) -> None:
    rows = study.rows
    draw_gauge_power(
        axes,
        [gauge_name(row) for row in rows],
        [row.load_power_W for row in rows],
        [row.turns_in_all for row in rows],
        [row.resistance_ohm for row in rows],
        title,
        best=next((i for i, row in enumerate(rows) if row is study.best), None),
        over=[not row.within_ratings for row in rows],
    )
