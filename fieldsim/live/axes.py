"""The axes of the page's charts: from where to where, and what is written along them."""

from __future__ import annotations

import math
from dataclasses import dataclass

from fieldsim.words.numbers import plain_number

__all__ = ["Axis", "Tick", "axis", "round_up"]

_STEPS = 5  # on an axis, about
_MULTIPLES = (1, 2, 5, 10)
_SAME = 1e-6  # of a step: values nearer than that are one


@dataclass(frozen=True)
class Tick:
    """A place on an axis and what is written there."""

    value: float
    text: str


@dataclass(frozen=True)
class Axis:
    """A straight axis.

    Parameters
    ----------
    title
        What it shows, with its unit.
    low, high
        Its ends, in that unit.
    ticks
        At round values, the lowest first.
    """

    title: str
    low: float
    high: float
    ticks: tuple[Tick, ...]


def axis(title: str, low: float, high: float, *, widened: bool = True) -> Axis:
    """Return an axis that holds what lies between two values.

    Parameters
    ----------
    title
        With its unit.
    low, high
        Values [that unit]; where they are one, the axis reaches one to either side.
    widened
        Whether it goes on to the next round value at both ends, so that it stays where values move
        a little.

    Examples
    --------
    >>> volts = axis("voltage [V]", -3.1, 2.9)
    >>> volts.low, volts.high, [tick.text for tick in volts.ticks]
    (-4.0, 4.0, ['-4', '-2', '0', '2', '4'])
    >>> [tick.value for tick in axis("time [ms]", 0, 83, widened=False).ticks]
    [0.0, 20.0, 40.0, 60.0, 80.0]
    """
    if low == high:
        low, high = low - 1.0, high + 1.0
    step = round_up((high - low) / _STEPS)
    first, last = math.floor(low / step + _SAME), math.ceil(high / step - _SAME)
    if widened:
        low, high = first * step, last * step
    digits = 3 + max(0, math.ceil(math.log10(max(abs(low), abs(high)) / step)))
    places = [n for n in range(first, last + 1) if low - _SAME * step <= n * step <= high]
    ticks = tuple(Tick(n * step, plain_number(n * step, digits)) for n in places)
    return Axis(title, float(low), float(high), ticks)


def round_up(value: float) -> float:
    """Return the next of 1, 2, 5, 10 ... times a power of ten.

    Examples
    --------
    >>> round_up(0.013), round_up(5.0), round_up(51)
    (0.02, 5.0, 100.0)
    """
    power = 10.0 ** math.floor(math.log10(value))
    return next(float(f"{m * power:.3g}") for m in _MULTIPLES if m * power >= value * (1 - _SAME))
