"""EMF waveforms and the tables of studies, as datasets for CSV and HDF5."""

from __future__ import annotations

import numpy as np

from fieldsim.studies.compare import Comparison
from fieldsim.studies.gap import GapStudy
from fieldsim.tables.dataset import Dataset, Dimension, Variable
from fieldsim.waveform.emf import EmfWaveform
from fieldsim.waveform.figures import EmfFigures

__all__ = ["comparison_dataset", "emf_dataset", "gap_dataset"]

FIGURES = {
    "peak_V": "V",
    "rms_V": "V",
    "rectified_mean_V": "V",
    "frequency_Hz": "Hz",
    "peak_to_peak_linkage_Wb": "Wb",
}


def emf_dataset(waveform: EmfWaveform) -> Dataset:
    """Return a waveform over one period with named dimensions: time, coil."""
    return Dataset(
        dimensions=(
            Dimension("time_s", waveform.time_s, "s"),
            Dimension("coil", waveform.coils),
        ),
        variables=(
            Variable("emf_V", "V", ("coil", "time_s"), waveform.emf_V, "EMF, open circuit"),
            Variable(
                "linkage_Wb",
                "Wb",
                ("coil", "time_s"),
                waveform.linkage_Wb,
                "flux linkage with all rotors",
                in_csv=False,
            ),
        ),
        attributes={
            "title": waveform.title,
            "period_s": waveform.period_s,
            "period_exact": str(waveform.period.exact).lower(),
            "relative_error": waveform.relative_error,
        },
    )


def _figure_variables(
    rows: str, coils: tuple[str, ...], figures: list[dict[str, EmfFigures]]
) -> tuple[Variable, ...]:
    """Return the figures over (rows, coil); NaN where a row has no such coil."""
    return tuple(
        Variable(
            name,
            unit,
            (rows, "coil"),
            np.array([[getattr(f[c], name) if c in f else np.nan for c in coils] for f in figures]),
        )
        for name, unit in FIGURES.items()
    )


def gap_dataset(study: GapStudy) -> Dataset:
    """Return a gap study with named dimensions: gap, coil."""
    figures = [row.figures for row in study.rows]
    return Dataset(
        dimensions=(
            Dimension("gap_m", np.array([row.gap_m for row in study.rows]), "m"),
            Dimension("coil", study.coils),
        ),
        variables=_figure_variables("gap_m", study.coils, figures),
        attributes={"title": study.title},
    )


def comparison_dataset(comparison: Comparison) -> Dataset:
    """Return a comparison with named dimensions: design (its file), coil."""
    coils = tuple(dict.fromkeys(c for d in comparison.designs for c in d.figures))
    figures = [d.figures for d in comparison.designs]
    return Dataset(
        dimensions=(
            Dimension("design", tuple(d.file for d in comparison.designs)),
            Dimension("coil", coils),
        ),
        variables=_figure_variables("design", coils, figures),
        attributes={},
    )
