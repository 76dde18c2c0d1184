"""How many lamps of the file's kind light at once."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache, partial

from fieldsim.circuit.results import LampReport
from fieldsim.circuit.tolerances import TABLE_TOLERANCE
from fieldsim.operation.operating_point import OperatingPoint

__all__ = ["LampCount", "lamp_counts"]

_MOST_STRINGS = 1000
_MOST_IN_SERIES = 12


@dataclass(frozen=True)
class LampCount:
    """How many strings of lamps side by side light.

    Parameters
    ----------
    series
        Lamps in each string.
    most
        Strings up to which all lamps light.
    fewest
        Strings from which on none gets more than its rated current on average; None where that
        takes more than light.
    lamps
        In all, with the most strings.
    """

    series: int
    most: int
    fewest: int | None
    lamps: int


def lamp_counts(
    point: OperatingPoint, progress: Callable[[int], None] | None = None
) -> tuple[LampCount, ...]:
    """Return how many strings light, for one, two and more lamps in series, while any do.

    Parameters
    ----------
    point
        A machine at a speed. Without ``load.lamps`` nothing is returned.
    progress
        Called with the circuits solved.

    Notes
    -----
    More strings share one current, so that each gets less: the counts are found by halving.

    Examples
    --------
    >>> from fieldsim.machine_file.reader import read
    >>> point = OperatingPoint(read("geometries/lamp_ring.yaml"), "60 rpm", tolerance=1e-4)
    >>> [(each.series, each.most) for each in lamp_counts(point)]
    [(1, 38), (2, 3)]
    """
    if not point.machine.load.lamps:
        return ()
    rough = replace(point, circuit_tolerance=TABLE_TOLERANCE, near=point)
    solved = 0

    @cache
    def lamps(series: int, strings: int) -> tuple[LampReport, ...]:
        nonlocal solved
        wired = {"load.lamps.series": series, "load.lamps.parallel": strings}
        solved += 1
        if progress is not None:
            progress(solved)
        return rough.changed(wired).circuit_result.lamps

    def dark(series: int, strings: int) -> bool:
        return not all(lamp.lights for lamp in lamps(series, strings))

    def within(series: int, strings: int) -> bool:
        return all(lamp.share_of_rated <= 1.0 for lamp in lamps(series, strings))

    found = []
    for series in range(1, _MOST_IN_SERIES + 1):
        most = _first(partial(dark, series), _MOST_STRINGS + 1) - 1
        if most == 0:
            break
        fewest = _first(partial(within, series), most + 1)
        in_all = sum(lamp.count for lamp in lamps(series, most))
        found.append(LampCount(series, most, fewest if fewest <= most else None, in_all))
    return tuple(found)


def _first(holds: Callable[[int], bool], end: int) -> int:
    """Return the first number from one on from which something holds; ``end`` if none below it."""
    step = 1
    while step < end and not holds(step):
        step *= 2
    low, high = step // 2, min(step, end)  # it does not hold at low, and does at high
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if holds(middle) else (middle, high)
    return high
