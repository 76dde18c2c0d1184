"""What can hurt a part, or a person, in a solved circuit."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fieldsim.circuit.results import CircuitResult, LampReport, PartTrace
from fieldsim.machine.load.circuit_parts import Capacitor, Led, Resistor

__all__ = ["TOUCH_V", "Caution", "circuit_cautions"]

TOUCH_V = 30.0
"""Voltage from which a caution is due (common practice, no published source)."""

PULSE_RATIO = 3.0
"""Peak over rated current of an LED from which a word is due (common practice, no published
source): rectified half waves reach it when their average is near the rated current."""

BACKWARD_V = 0.5
"""Backward voltage that a polarised capacitor may see (common practice, no published source)."""


@dataclass(frozen=True)
class Caution:
    """Something to heed.

    Parameters
    ----------
    kind
        A short fixed name, for instance ``"LED over-current"``.
    where
        Label of the part, coil or outlet.
    text
        One line that says it all.
    """

    kind: str
    where: str
    text: str


def circuit_cautions(result: CircuitResult) -> tuple[Caution, ...]:
    """Return all cautions of a result, lamps first."""
    found: list[Caution] = []
    for lamp in result.lamps:
        found += _of_lamp(lamp)
    for trace in result.parts:
        if isinstance(trace.part, Led):
            found += _of_led_peak(trace, trace.part)
        elif isinstance(trace.part, Capacitor):
            found += _of_capacitor(trace, trace.part)
        elif isinstance(trace.part, Resistor):
            found += _of_resistor(trace, trace.part)
    for outlet in result.outlets.values():
        peak = max(outlet.open_circuit_peak_V, float(np.abs(outlet.voltage_V).max()))
        if peak > TOUCH_V:
            text = (
                f"{outlet.name}: the open coil peaks at {peak:.0f} V, above {TOUCH_V:.0f} V; do "
                "not touch bare ends while it turns"
            )
            found.append(Caution("open-circuit voltage", outlet.name, text))
    return tuple(found)


def _of_lamp(lamp: LampReport) -> list[Caution]:
    if lamp.average_A <= lamp.rated_A:
        return []
    text = (
        f"{lamp.label}: {1e3 * lamp.average_A:.3g} mA on average, above its rated "
        f"{1e3 * lamp.rated_A:.3g} mA; add a resistor or more lamps"
    )
    return [Caution("LED over-current", lamp.label, text)]


def _of_led_peak(trace: PartTrace, led: Led) -> list[Caution]:
    found = []
    peak_A = float(trace.current_A.max())
    if peak_A > led.peak_A:
        text = (
            f"{trace.label}: peaks at {1e3 * peak_A:.3g} mA, above its momentary "
            f"{1e3 * led.peak_A:.3g} mA"
        )
        found.append(Caution("LED peak current", trace.label, text))
    elif peak_A > PULSE_RATIO * led.rated_A:
        text = (
            f"{trace.label}: peaks at {1e3 * peak_A:.3g} mA, {peak_A / led.rated_A:.2g} times its "
            "rated current: its data sheet says whether it bears such pulses"
        )
        found.append(Caution("LED pulses", trace.label, text))
    backward = float(-trace.voltage_V.min())
    if backward > led.reverse_limit_V:
        text = (
            f"{trace.label}: {backward:.3g} V backwards on each LED, above its "
            f"{led.reverse_limit_V:.3g} V; use a bridge, or LEDs in opposed pairs"
        )
        found.append(Caution("LED reverse voltage", trace.label, text))
    return found


def _of_capacitor(trace: PartTrace, capacitor: Capacitor) -> list[Caution]:
    found = []
    peak = float(np.abs(trace.voltage_V).max())
    if capacitor.rated_V is not None and peak > capacitor.rated_V:
        text = f"{trace.label}: {peak:.3g} V, above its rated {capacitor.rated_V:.3g} V"
        found.append(Caution("capacitor voltage", trace.label, text))
    backward = float(-trace.voltage_V.min())
    if capacitor.polarised and backward > BACKWARD_V:
        text = f"{trace.label}: {backward:.3g} V backwards on a polarised capacitor; it may burst"
        found.append(Caution("capacitor polarity", trace.label, text))
    return found


def _of_resistor(trace: PartTrace, resistor: Resistor) -> list[Caution]:
    if resistor.rated_W is None or trace.power_W <= resistor.rated_W:
        return []
    text = f"{trace.label}: {trace.power_W:.3g} W, above its rated {resistor.rated_W:.3g} W"
    return [Caution("resistor power", trace.label, text)]
