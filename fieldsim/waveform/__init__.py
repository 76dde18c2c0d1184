"""Flux linkage against angle and the EMF it makes."""

from fieldsim.waveform.emf import EmfWaveform, crank_speed, emf_waveform, rotor_speed
from fieldsim.waveform.figures import EmfFigures, emf_figures
from fieldsim.waveform.flux_table import FluxTable, flux_table

__all__ = [
    "EmfFigures",
    "EmfWaveform",
    "FluxTable",
    "crank_speed",
    "emf_figures",
    "emf_waveform",
    "flux_table",
    "rotor_speed",
]
