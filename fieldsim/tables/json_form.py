"""Results as plain objects for JSON: SI units, the unit in each key's name."""

from __future__ import annotations

import math
from typing import Any

from fieldsim.machine.clearance.clearances import Clearance
from fieldsim.machine.machine import Machine
from fieldsim.studies.compare import Comparison
from fieldsim.studies.gap import GapStudy
from fieldsim.waveform.emf import EmfWaveform
from fieldsim.waveform.figures import EmfFigures, emf_figures
from fieldsim.waveform.flux_table import FluxTable

__all__ = ["check_json", "comparison_json", "emf_json", "figures_json", "flux_json", "gap_json"]

Json = dict[str, Any]


def figures_json(figures: dict[str, EmfFigures]) -> Json:
    """Return the figures by coil."""
    return {
        coil: {
            "peak_V": f.peak_V,
            "rms_V": f.rms_V,
            "rectified_mean_V": f.rectified_mean_V,
            "frequency_Hz": f.frequency_Hz,
            "peak_to_peak_linkage_Wb": f.peak_to_peak_linkage_Wb,
        }
        for coil, f in figures.items()
    }


def flux_json(table: FluxTable) -> Json:
    """Return a flux table; ``relative_error`` is the largest of all pairs."""
    return {
        "title": table.title,
        "rotor_angle_deg": table.rotor_angle_deg.tolist(),
        "linkage_Wb": {
            coil: {rotor: table.linkage_Wb[i, j].tolist() for j, rotor in enumerate(table.rotors)}
            for i, coil in enumerate(table.coils)
        },
        "relative_error": float(table.relative_error.max()),
    }


def emf_json(waveform: EmfWaveform) -> Json:
    """Return the figures of a waveform, its period and the error estimate."""
    return {
        "title": waveform.title,
        "coils": figures_json(emf_figures(waveform)),
        "rotor_speed_rad_per_s": list(waveform.speed.rotors_rad_per_s),
        "period_s": waveform.period_s,
        "period_turns": float(waveform.period.turns),
        "period_exact": waveform.period.exact,
        "relative_error": waveform.relative_error,
    }


def comparison_json(comparison: Comparison) -> Json:
    """Return the designs with their figures and their ratios to the first design."""
    return {
        "designs": [
            {
                "title": design.title,
                "file": design.file,
                "coils": figures_json(design.figures),
                "rms_ratio_to_first": {
                    coil: comparison.ratio_to_first(design, coil, "rms_V")
                    for coil in design.figures
                },
                "relative_error": design.relative_error,
            }
            for design in comparison.designs
        ]
    }


def gap_json(study: GapStudy) -> Json:
    """Return the rows of a gap study, and the fits."""
    return {
        "title": study.title,
        "rotors": list(study.rotors),
        "rows": [
            {
                "gap_m": row.gap_m,
                "coils": figures_json(row.figures),
                "rms_change_percent_per_0.1_mm": row.percent_per_tenth_mm,
            }
            for row in study.rows
        ],
        "fits": {
            coil: {
                "rms_at_zero_gap_V": fit.volts_at_zero,
                "decay_length_m": fit.length_m if math.isfinite(fit.length_m) else None,
                "largest_relative_misfit": fit.worst_misfit,
            }
            for coil, fit in study.fits.items()
        },
        "relative_error": study.relative_error,
    }


def check_json(geometry: Machine, clearances: tuple[Clearance, ...]) -> Json:
    """Return what was understood of a geometry."""
    return {
        "title": geometry.title,
        "magnets": {
            m.name: {
                "shape": type(m.shape).__name__.lower(),
                "size_m": list(m.size),
                "volume_m3": m.shape.volume_m3,
                "remanence_T": m.remanence,
            }
            for m in geometry.magnets
        },
        "rotors": {
            r.name: {
                "magnets": len(r.magnets),
                "gear_ratio": float(r.gear_ratio),
                "start_rad": r.start,
            }
            for r in geometry.placed_rotors
        },
        "coils": {
            c.name: {
                "turns": c.turns,
                "mean_turn_m": c.mean_turn_m,
                "wire_length_m": c.turns * c.mean_turn_m,
            }
            for c in geometry.placed_coils
        },
        "clearances": [
            {"first": c.first, "second": c.second, "distance_m": c.distance_m} for c in clearances
        ],
    }
