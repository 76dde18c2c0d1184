"""What a multimeter shows: DC, average-responding AC, true-RMS AC, peak hold.

A meter also loads the circuit with its input resistance, ten megohms unless said otherwise (common
practice, no published source). `with_meter` puts that resistance into a circuit, so that the
reading can be had open and loaded.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fieldsim.circuit.extraction import METER_NAME
from fieldsim.circuit.multimeter import INPUT_OHM, UPDATE_S
from fieldsim.circuit.network import Circuit
from fieldsim.circuit.results import CircuitResult
from fieldsim.machine.load.circuit_parts import Bridge, Load, Parallel, Resistor, Series

__all__ = [
    "INPUT_OHM",
    "SINE_FORM_FACTOR",
    "MeterReadings",
    "average_responding_reading",
    "dc_reading",
    "meter_readings",
    "peak_hold_readings",
    "true_rms_reading",
    "with_meter",
    "with_meter_behind_bridge",
]

Array = NDArray[np.float64]

SINE_FORM_FACTOR = math.pi / (2.0 * math.sqrt(2.0))
"""RMS over rectified mean of a sine, 1.1107: what an average-responding scale multiplies by."""


def dc_reading(voltage_V: ArrayLike, weight_s: ArrayLike) -> float:
    """Return what a DC range shows: the plain average [V].

    Parameters
    ----------
    voltage_V, weight_s
        Waveform and quadrature weights, each (points,).
    """
    v, w = _pair(voltage_V, weight_s)
    return float(w @ v)


def average_responding_reading(voltage_V: ArrayLike, weight_s: ArrayLike) -> float:
    """Return what an ordinary AC range shows [V]: right for a sine only.

    Notes
    -----
    Such a meter blocks the average, rectifies, averages, and multiplies by pi/(2 sqrt 2). Pulses
    narrower than a sine's read low, a square wave 11 % high.

    Examples
    --------
    >>> square = [1.0, -1.0]
    >>> round(average_responding_reading(square, [1.0, 1.0]), 4)
    1.1107
    """
    v, w = _pair(voltage_V, weight_s)
    return SINE_FORM_FACTOR * float(w @ np.abs(v - w @ v))


def true_rms_reading(voltage_V: ArrayLike, weight_s: ArrayLike, *, keeps_dc: bool = False) -> float:
    """Return what a true-RMS range shows [V].

    Parameters
    ----------
    keeps_dc
        Whether the meter is one of the AC+DC kind; most block the average first.

    Examples
    --------
    >>> true_rms_reading([3.0, 1.0], [1.0, 1.0])
    1.0
    """
    v, w = _pair(voltage_V, weight_s)
    if not keeps_dc:
        v = v - w @ v
    return math.sqrt(float(w @ v**2))


def peak_hold_readings(
    time_s: ArrayLike, voltage_V: ArrayLike, update_s: float = UPDATE_S
) -> Array:
    """Return the numbers that a display shows one after the other, each the largest since the last.

    Parameters
    ----------
    time_s, voltage_V
        Waveform, (points,); times rise.
    update_s
        Time between two numbers [s].

    Returns
    -------
    Greatest value in size in each interval, (intervals,) [V]; an interval cut short by the end
    counts only if there is no whole one.

    Examples
    --------
    >>> peak_hold_readings([0.0, 0.1, 0.2, 0.3, 0.4], [1.0, -5.0, 2.0, 3.0, 1.0], 0.2).tolist()
    [5.0, 3.0]
    """
    t, v = np.asarray(time_s, dtype=float), np.abs(np.asarray(voltage_V, dtype=float))
    if not update_s > 0:
        raise ValueError(f"an update time of {update_s:g} s; it must be above zero")
    whole = max(1, math.floor((t[-1] - t[0]) / update_s * (1 + 1e-9)))
    which = np.floor((t - t[0]) / update_s * (1 + 1e-9)).astype(int)
    shown = np.full(whole, -np.inf)
    inside = which < whole
    np.maximum.at(shown, which[inside], v[inside])
    return shown[np.isfinite(shown)]


def _pair(voltage_V: ArrayLike, weight_s: ArrayLike) -> tuple[Array, Array]:
    w = np.asarray(weight_s, dtype=float)
    return np.asarray(voltage_V, dtype=float), w / w.sum()


@dataclass(frozen=True)
class MeterReadings:
    """All that meters show between two points [V].

    Parameters
    ----------
    dc_V
        DC range.
    average_responding_V
        Ordinary AC range.
    true_rms_V, true_rms_with_dc_V
        True-RMS range, with the average blocked and kept.
    peak_hold_least_V, peak_hold_most_V
        Smallest and largest number that a peak-hold display shows; equal unless the update time is
        shorter than the period.
    """

    dc_V: float
    average_responding_V: float
    true_rms_V: float
    true_rms_with_dc_V: float
    peak_hold_least_V: float
    peak_hold_most_V: float


def meter_readings(
    result: CircuitResult, voltage_V: Array, update_s: float = UPDATE_S
) -> MeterReadings:
    """Return what meters show of one waveform of a result.

    Parameters
    ----------
    voltage_V
        For instance ``result.outlets[name].voltage_V``, or its ``dc_voltage_V`` behind the bridge.
    """
    w = result.weight_s
    shown = peak_hold_readings(*_long_enough(result, voltage_V, update_s), update_s)
    return MeterReadings(
        dc_reading(voltage_V, w),
        average_responding_reading(voltage_V, w),
        true_rms_reading(voltage_V, w),
        true_rms_reading(voltage_V, w, keeps_dc=True),
        float(shown.min()),
        float(shown.max()),
    )


def _long_enough(result: CircuitResult, voltage_V: Array, update_s: float) -> tuple[Array, Array]:
    """Return time and voltage, a periodic waveform repeated to cover some displays."""
    if result.period_s is None:
        return result.time_s, voltage_V
    # one display and a period see everything; many more only where displays are shorter than that
    repeats = min(200, math.ceil(1 + 20 * update_s / result.period_s))
    repeats = 2 if update_s >= result.period_s else max(2, repeats)
    shifts = result.period_s * np.arange(repeats)
    times = (result.time_s + shifts[:, None]).ravel()
    return times, np.tile(voltage_V, repeats)


def with_meter(circuit: Circuit, outlet_name: str, input_ohm: float = INPUT_OHM) -> Circuit:
    """Return the circuit with a meter across an outlet's terminals.

    Raises
    ------
    KeyError
        If there is no such outlet.

    Examples
    --------
    >>> from fieldsim.machine.load.circuit_parts import Open
    >>> from fieldsim.circuit.network import one_coil_circuit
    >>> with_meter(one_coil_circuit(50.0, Open()), "coil").outlets[0].load.parts[1]
    Resistor(resistance_ohm=10000000.0, name='meter', rated_W=None)
    """
    loads = {o.name: o.load for o in circuit.outlets}
    return circuit.with_load(outlet_name, _beside(loads[outlet_name], input_ohm))


def with_meter_behind_bridge(
    circuit: Circuit, outlet_name: str, input_ohm: float = INPUT_OHM
) -> Circuit:
    """Return the circuit with a meter on the DC side of an outlet's first bridge.

    Raises
    ------
    KeyError
        If there is no such outlet.
    ValueError
        If its load has no bridge.
    """
    load = {o.name: o.load for o in circuit.outlets}[outlet_name]
    metered = _behind_bridge(load, input_ohm)
    if metered is None:
        raise ValueError(f'the load of "{outlet_name}" has no bridge to measure behind')
    return circuit.with_load(outlet_name, metered)


def _beside(load: Load, input_ohm: float) -> Load:
    return Parallel((load, Resistor(input_ohm, METER_NAME)))


def _behind_bridge(load: Load, input_ohm: float) -> Load | None:
    from dataclasses import replace

    if isinstance(load, Bridge):
        return replace(load, load=_beside(load.load, input_ohm))
    if isinstance(load, Series | Parallel):
        for i, part in enumerate(load.parts):
            metered = _behind_bridge(part, input_ohm)
            if metered is not None:
                return replace(load, parts=(*load.parts[:i], metered, *load.parts[i + 1 :]))
    return None
