"""Cautions that go with the numbers; each names the number it comes from."""

from __future__ import annotations

import math

from fieldsim.geometry.machine import Geometry
from fieldsim.waveform.emf import EmfWaveform

__all__ = ["magnet_caution", "speed_caution", "voltage_caution"]

# Common practice, no published source: above these a hobby builder should think twice.
_NOTABLE_PEAK_V = 30.0
_NOTABLE_RIM_M_PER_S = 5.0


def magnet_caution(geometry: Geometry) -> str:
    """Return the caution for handling the magnets of a machine."""
    count = sum(len(r.magnets) for r in geometry.rotors)
    strongest = max(geometry.magnets, key=lambda m: m.shape.volume_m3 * m.remanence)
    size = " x ".join(f"{edge * 1e3:.3g}" for edge in strongest.size)
    return (
        f"{count} magnets, the strongest {size} mm at {strongest.remanence:.3g} T: they snap "
        "together, pinch and chip; keep them from children who might swallow one and away from "
        "pacemakers and other implants."
    )


def voltage_caution(largest_peak_V: float) -> str | None:
    """Return the caution for an open coil, or None if its voltage is small."""
    if largest_peak_V < _NOTABLE_PEAK_V:
        return None
    return (
        f"An open coil reaches {largest_peak_V:.3g} V at its peak: do not touch bare ends while "
        "cranking, and never connect a part rated for less."
    )


def speed_caution(geometry: Geometry, waveform: EmfWaveform) -> str | None:
    """Return the caution for fast magnets, or None if they are slow."""
    fastest, name, rpm = 0.0, "", 0.0
    for rotor, speed in zip(geometry.rotors, waveform.speed.rotors_rad_per_s, strict=True):
        for mounted in rotor.magnets:
            rim = abs(speed) * (mounted.radius + mounted.magnet.size[0] / 2)
            if rim > fastest:
                fastest, name, rpm = rim, rotor.name, abs(speed) * 30 / math.pi
    if fastest < _NOTABLE_RIM_M_PER_S:
        return None
    return (
        f'Rotor "{name}" turns at {rpm:.4g} rpm, its magnets at {fastest:.3g} m/s: a magnet that '
        "comes off the arm flies; fix them mechanically and wear eye protection."
    )
