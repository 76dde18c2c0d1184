"""How unevenly lamps side by side share their current, as no two are quite alike."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fieldsim.cautions import Caution, Hazard
from fieldsim.circuit.results import CircuitResult, PartTrace
from fieldsim.machine.load.circuit_parts import Bridge, Led, Load, Parallel, Resistor, Series
from fieldsim.machine.load.diode_law import JunctionLaw, diode_current_A, diode_voltage_V
from fieldsim.machine.uncertain import DEFAULTS
from fieldsim.machine.units import parse_quantity

__all__ = ["SPREAD_V", "LampString", "lamp_strings_of", "shared_A", "uneven_lamp_cautions"]

Array = NDArray[np.float64]

SPREAD_V = parse_quantity(DEFAULTS["lamp voltage"], "voltage")
"""By how much the forward voltages of two lamps of one bag easily differ."""

UNEVEN = 1.2
"""Current of the brighter of two such lamps over their mean from which a word is due: common
practice, no published source. A resistor of a few tens of ohms in each string stays below it."""

_HALVINGS = 40
_LEAST_A = 1e-12


@dataclass(frozen=True)
class LampString:
    """One of some equal strings side by side.

    Parameters
    ----------
    led
        The lamp.
    series
        Lamps in the string.
    resistance_ohm
        Of the resistors in the string [ohm]: what stands before all strings is none of theirs.
    alike
        How many such strings share both ends; 1 if it stands alone.
    """

    led: Led
    series: int
    resistance_ohm: float
    alike: int

    @property
    def law(self) -> JunctionLaw:
        """Current and voltage of the whole string."""
        law = self.led.law.grouped(self.series, 1)
        return replace(law, series_ohm=law.series_ohm + self.resistance_ohm)

    @property
    def spread_V(self) -> float:
        """By how much two of these strings easily differ [V]: chance differences, added up."""
        return SPREAD_V * math.sqrt(self.series)


def lamp_strings_of(load: Load) -> Iterator[LampString]:
    """Yield the string of each lamp of a load, in the order of its parts.

    Examples
    --------
    >>> from fieldsim.machine.load.circuit_parts import lamp_strings
    >>> led = Led.from_data_sheet(3.2, 0.02)
    >>> found = next(lamp_strings_of(Bridge(lamp_strings(led, 2, 6, resistor_ohm=47.0))))
    >>> found.series, found.resistance_ohm, found.alike
    (2, 47.0, 6)
    """
    yield from _strings(load, 1, 0.0, 1)


def _strings(load: Load, series: int, ohm: float, alike: int) -> Iterator[LampString]:
    if isinstance(load, Led):
        yield LampString(load, series, ohm, alike)
    elif isinstance(load, Bridge):
        yield from _strings(load.load, series, ohm, alike)
    elif isinstance(load, Series):
        series *= load.count
        ohm += series * sum(p.resistance_ohm for p in load.parts if isinstance(p, Resistor))
        for part in load.parts:
            yield from _strings(part, series, ohm, alike)
    elif isinstance(load, Parallel):
        for part in load.parts:
            copies = load.count * load.parts.count(part)
            begun = (1, 0.0, copies) if copies > 1 else (series, ohm, alike)
            yield from _strings(part, *begun)


def shared_A(law: JunctionLaw, current_A: Array, spread_V: float) -> tuple[Array, Array]:
    """Return how two equal strings share their current once their voltages differ.

    Parameters
    ----------
    law
        Of a string; its leakage does not count.
    current_A
        Of each while they are equal, (points,) [A]; not negative.
    spread_V
        By how much the voltage of one is lower [V].

    Returns
    -------
    tuple of ndarray
        Current of the one with the lower voltage, and of the other, (points,) [A]; together as much
        as before.

    Examples
    --------
    Two white lamps 0.1 V apart:

    >>> from fieldsim.machine.load.led_colours import generic_led
    >>> more, less = shared_A(generic_led("white").law, np.array([0.0073]), 0.1)
    >>> round(1e3 * float(more[0]), 2), round(1e3 * float(less[0]), 2)
    (9.49, 5.11)
    """
    law = replace(law, leakage_S=0.0)
    middle_V = diode_voltage_V(np.maximum(current_A, 0.0), law)
    low, high = middle_V - 0.5 * spread_V, middle_V + 0.5 * spread_V
    for _ in range(_HALVINGS):
        voltage_V = 0.5 * (low + high)
        more = diode_current_A(voltage_V + 0.5 * spread_V, law)
        less = diode_current_A(voltage_V - 0.5 * spread_V, law)
        above = more + less > 2.0 * current_A
        low, high = np.where(above, low, voltage_V), np.where(above, voltage_V, high)
    return more, less


def uneven_lamp_cautions(result: CircuitResult) -> list[Caution]:
    """Return a caution for each group of strings side by side whose lamps may share badly.

    The value is the average current of the brighter of two lamps whose strings differ by
    `LampString.spread_V`; only what an eye sees counts.
    """
    strings = [s for outlet in result.circuit.outlets for s in lamp_strings_of(outlet.load)]
    traces = [trace for trace in result.parts if isinstance(trace.part, Led)]
    groups = zip(strings, traces, result.lamps, strict=True)
    found = [
        _of_group(result, string, trace)
        for string, trace, lamp in groups
        if string.alike > 1 and (lamp.lights or lamp.flashes)
    ]
    return [caution for caution in found if caution is not None]


def _of_group(result: CircuitResult, string: LampString, trace: PartTrace) -> Caution | None:
    current_A = np.maximum(trace.current_A, 0.0)
    lit = current_A > _LEAST_A
    more, less = current_A.copy(), current_A.copy()
    more[lit], less[lit] = shared_A(string.law, current_A[lit], string.spread_V)
    mean_A, more_A, less_A = (result.average(each) for each in (current_A, more, less))
    if more_A <= UNEVEN * mean_A:
        return None
    facts = {
        "mean_A": mean_A,
        "less_A": less_A,
        "spread_V": string.spread_V,
        "rated_A": string.led.rated_A,
        "series": float(string.series),
    }
    return Caution(Hazard.UNEVEN_LAMPS, trace.label, more_A, UNEVEN * mean_A, facts)
