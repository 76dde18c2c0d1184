"""Whole figures of results, written to PNG, SVG or PDF."""

from __future__ import annotations

import os

from fieldsim.charts.figure_style import new_panels, save_figure
from fieldsim.charts.waveform_curves import (
    draw_comparison,
    draw_emf,
    draw_gap_study,
    draw_linkage,
)
from fieldsim.studies.compare import Comparison
from fieldsim.studies.gap import GapStudy
from fieldsim.waveform.emf import EmfWaveform, Speed
from fieldsim.waveform.flux_table import FluxTable
from fieldsim.words.speeds import title_at

__all__ = ["save_comparison_plot", "save_emf_plot", "save_flux_plot", "save_gap_plot"]

Target = str | os.PathLike[str]

_WIDEST_MM = 3000.0  # a picture has room for so many points only


def save_flux_plot(table: FluxTable, path: Target) -> None:
    """Draw the linkage of every pair of coil and rotor against rotor angle."""
    single = len(table.coils) == 1
    curves = {
        (rotor if single else f"{coil} with {rotor}"): table.linkage_Wb[i, j]
        for i, coil in enumerate(table.coils)
        for j, rotor in enumerate(table.rotors)
    }
    figure, (axes,) = new_panels()
    draw_linkage(axes, table.rotor_angle_rad, curves, table.title)
    save_figure(figure, path)


def save_emf_plot(waveform: EmfWaveform, path: Target, joined: EmfWaveform | None = None) -> None:
    """Draw the EMF of every coil, and of joined coils, over one period."""
    curves = {
        name: row
        for each in (waveform, joined)
        if each is not None
        for name, row in zip(each.coils, each.emf_V, strict=True)
    }
    figure, (axes,) = new_panels()
    draw_emf(axes, waveform.time_s, curves, title_at(waveform.title, waveform.speed))
    save_figure(figure, path)


def save_comparison_plot(comparison: Comparison, speed: Speed, path: Target) -> None:
    """Draw peak, RMS and rectified mean of every design at a speed, by coil and connection."""
    rows = [
        (design.title if len(design.figures) == 1 else f"{design.title}: {name}", figures)
        for design in comparison.designs
        for name, figures in (*design.figures.items(), *design.connections.items())
        if figures is not None
    ]
    figure, (axes,) = new_panels(1, min(max(170.0, 28.0 * len(rows)), _WIDEST_MM))
    draw_comparison(
        axes,
        [name for name, _ in rows],
        [f.peak_V for _, f in rows],
        [f.rms_V for _, f in rows],
        [f.rectified_mean_V for _, f in rows],
        title_at("EMF with nothing connected", speed),
    )
    save_figure(figure, path)


def save_gap_plot(study: GapStudy, speed: Speed, path: Target) -> None:
    """Draw the RMS voltage at a speed against clearance with the fitted exponentials."""
    figure, (axes,) = new_panels()
    draw_gap_study(
        axes,
        [row.gap_m for row in study.rows],
        {name: [row.told[name].rms_V for row in study.rows] for name in study.told},
        {name: (fit.rms_at_zero_gap_V, fit.decay_length_m) for name, fit in study.fits.items()},
        title_at(study.title, speed),
        what="RMS EMF",
    )
    save_figure(figure, path)
