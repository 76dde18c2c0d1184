"""Cautions that go with the numbers; each names the number it comes from."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Protocol

import numpy as np

from fieldsim.circuit.cautions import TOUCH_V
from fieldsim.machine.machine import Machine
from fieldsim.waveform.emf import Speed

if TYPE_CHECKING:
    from fieldsim.mechanics.effort import Effort

__all__ = [
    "WHO_DECIDES",
    "effort_cautions",
    "magnet_caution",
    "speed_caution",
    "voltage_caution",
]

WHO_DECIDES = (
    "Estimates for a hobby bench: the data sheets of your glue, magnets and wire decide, and local "
    "rules and licensed practice go before anything said here."
)

# Common practice, no published source: above this a hobby builder should think twice.
_NOTABLE_RIM_M_PER_S = 5.0


def magnet_caution(geometry: Machine) -> str:
    """Return the caution for handling the magnets of a machine."""
    count = sum(len(r.magnets) for r in geometry.placed_rotors)
    strongest = max(geometry.magnets, key=lambda m: m.shape.volume_m3 * m.remanence)
    size = " x ".join(f"{edge * 1e3:.3g}" for edge in strongest.size)
    if count == 1:
        return (
            f"A magnet of {size} mm at {strongest.remanence:.3g} T: it snaps to iron, pinches and "
            "chips; keep it from children who might swallow it and away from pacemakers and other "
            "implants."
        )
    return (
        f"{count} magnets, the strongest {size} mm at {strongest.remanence:.3g} T: they snap "
        "together, pinch and chip; keep them from children who might swallow one and away from "
        "pacemakers and other implants."
    )


def voltage_caution(largest_peak_V: float) -> str | None:
    """Return the caution for an open coil, or None if its voltage is small."""
    if largest_peak_V < TOUCH_V:
        return None
    return (
        f"An open coil reaches {largest_peak_V:.3g} V at its peak: do not touch bare ends while "
        "cranking, and never connect a part rated for less."
    )


class Moving(Protocol):
    """Any result at a speed of the rotors."""

    @property
    def speed(self) -> Speed:
        """How fast every rotor turns."""


def speed_caution(geometry: Machine, moving: Moving) -> str | None:
    """Return the caution for fast magnets, or None if they are slow."""
    fastest, name, rpm = 0.0, "", 0.0
    for rotor, speed in zip(geometry.placed_rotors, moving.speed.rotors_rad_per_s, strict=True):
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


def effort_cautions(geometry: Machine, effort: Effort) -> list[str]:
    """Return what can hurt in a machine that is being cranked, each kind once.

    Parameters
    ----------
    geometry
        The machine.
    effort
        Of the same machine, at a speed.
    """
    from fieldsim.mechanics.crank_effort import crank_cautions
    from fieldsim.mechanics.magnet_retention import balance_caution

    found = [_pinch(effort), *crank_cautions(effort.crank, effort.arm), _flying(geometry, effort)]
    found += [balance_caution(max(effort.holds, key=lambda hold: hold.imbalance_N))]
    hottest = max(effort.electric.coils, key=lambda coil: coil.rise_K or 0.0)
    if hottest.caution:
        found.append(f"Coil {hottest.name}: {hottest.caution}")
    found += [voltage_caution(effort.electric.open_peak_V), magnet_caution(geometry)]
    return [caution for caution in found if caution]


def _pinch(effort: Effort) -> str | None:
    """Return the caution for the pair that pulls most, in place or on the way there."""
    from fieldsim.mechanics.attraction import pinch_caution

    pulls = []
    for pair in effort.pairs:
        worst = pair.attraction
        if pair.assembly is not None:
            worst = replace(worst, pull_N=np.append(worst.pull_N, pair.assembly.peak_N))
        pulls.append(worst)
    return pinch_caution(max(pulls, key=lambda p: p.peak_pull_N)) if pulls else None


def _flying(geometry: Machine, effort: Effort) -> str | None:
    """Return the caution for the rotor whose magnets leave first, or that for fast magnets."""
    from fieldsim.mechanics.magnet_retention import retention_cautions

    if effort.glue_known:
        for hold in sorted(effort.holds, key=lambda h: h.speed_margin):
            for text in retention_cautions(hold):
                return text
    return speed_caution(geometry, effort)
