"""What can hurt a part, or a person, in a solved circuit."""

from __future__ import annotations

import numpy as np

from fieldsim.cautions import Caution, Hazard
from fieldsim.circuit.circulating import circulating_cautions
from fieldsim.circuit.lamp_sharing import uneven_lamp_cautions
from fieldsim.circuit.results import CircuitResult, LampReport, PartTrace
from fieldsim.machine.load.circuit_parts import Capacitor, Led, Resistor

__all__ = ["BEYOND_RATINGS", "TOUCH_V", "circuit_cautions", "open_voltage_caution"]

TOUCH_V = 30.0
"""Voltage from which a caution is due (common practice, no published source)."""

PULSE_RATIO = 3.0
"""Peak over rated current of an LED from which a word is due (common practice, no published
source): rectified half waves reach it when their average is near the rated current."""

FLASHING_Hz = 3.0, 30.0
"""Flashes a second that are likeliest to set off a seizure in people with photosensitive epilepsy:
common practice, no published source. Some are sensitive from below and up to above."""

BACKWARD_V = 0.5
"""Backward voltage that a polarised capacitor may see (common practice, no published source)."""


BEYOND_RATINGS = frozenset(
    {
        Hazard.LED_CURRENT,
        Hazard.LED_PEAK,
        Hazard.LED_REVERSE,
        Hazard.CAPACITOR_VOLTAGE,
        Hazard.CAPACITOR_POLARITY,
        Hazard.RESISTOR_POWER,
    }
)
"""What parts of a load do not bear for long, or not at all."""


def circuit_cautions(result: CircuitResult) -> tuple[Caution, ...]:
    """Return all cautions of a result, lamps first."""
    found: list[Caution | None] = []
    for lamp in result.lamps:
        found += [_of_lamp(lamp), _flashing(lamp)]
    found += uneven_lamp_cautions(result)
    for trace in result.parts:
        if isinstance(trace.part, Led):
            found += _of_led(trace, trace.part)
        elif isinstance(trace.part, Capacitor):
            found += _of_capacitor(trace, trace.part)
        elif isinstance(trace.part, Resistor):
            found.append(_above(Hazard.RESISTOR_POWER, trace, trace.power_W, trace.part.rated_W))
    for outlet in result.outlets.values():
        peak = max(outlet.open_circuit_peak_V, float(np.abs(outlet.voltage_V).max()))
        found.append(open_voltage_caution(peak, outlet.name))
    found += circulating_cautions(result)
    return tuple(caution for caution in found if caution is not None)


def open_voltage_caution(peak_V: float, where: str = "") -> Caution | None:
    """Return the caution for an open coil, or None if its voltage is small.

    Parameters
    ----------
    peak_V
        Its largest voltage.
    where
        Name of the coil or connection; empty for the largest of a machine.

    Examples
    --------
    >>> open_voltage_caution(29.0) is None, open_voltage_caution(31.0, "pickup").value
    (True, 31.0)
    """
    return Caution(Hazard.OPEN_VOLTAGE, where, peak_V, TOUCH_V) if peak_V > TOUCH_V else None


def _above(
    kind: Hazard, part: PartTrace | LampReport, value: float, limit: float | None
) -> Caution | None:
    above = limit is not None and value > limit
    return Caution(kind, part.label, value, limit) if above else None


def _of_lamp(lamp: LampReport) -> Caution | None:
    return _above(Hazard.LED_CURRENT, lamp, lamp.average_current_A, lamp.rated_current_A)


def _flashing(lamp: LampReport) -> Caution | None:
    """Return a caution if a lamp that is seen swings or flashes at a rate that can harm."""
    if not (lamp.lights or lamp.flashes):
        return None
    low, high = FLASHING_Hz
    rates = (rate for rate in (lamp.flicker_Hz, lamp.flash_Hz) if rate)
    bad = next((rate for rate in rates if low <= rate <= high), None)
    if bad is None:
        return None
    return Caution(Hazard.FLASHING, lamp.label, bad, low, {"up_to_Hz": high})


def _of_led(trace: PartTrace, led: Led) -> list[Caution | None]:
    peak_A = float(trace.current_A.max())
    peak = _above(Hazard.LED_PEAK, trace, peak_A, led.peak_A)
    if peak is None and peak_A > PULSE_RATIO * led.rated_A:
        facts = {"rated_A": led.rated_A}
        peak = Caution(Hazard.LED_PULSES, trace.label, peak_A, PULSE_RATIO * led.rated_A, facts)
    return [peak, _backward(Hazard.LED_REVERSE, trace, led.reverse_limit_V)]


def _of_capacitor(trace: PartTrace, capacitor: Capacitor) -> list[Caution | None]:
    peak_V = float(np.abs(trace.voltage_V).max())
    found = [_above(Hazard.CAPACITOR_VOLTAGE, trace, peak_V, capacitor.rated_V)]
    if capacitor.polarised:
        found.append(_backward(Hazard.CAPACITOR_POLARITY, trace, BACKWARD_V))
    return found


def _backward(kind: Hazard, trace: PartTrace, limit_V: float) -> Caution | None:
    return _above(kind, trace, float(-trace.voltage_V.min()), limit_V)
