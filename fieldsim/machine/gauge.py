"""Wire sizes as a builder states them: a gauge number or the diameter of the copper, and ranges."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from fieldsim.errors import ImpossibleError
from fieldsim.machine.kinds import Kind, problem
from fieldsim.machine.units import parse_quantity, quantity_text
from fieldsim.wire.enamel import LARGEST_BARE_M, SMALLEST_BARE_M
from fieldsim.wire.round_wire import AWG_LEAST, AWG_MOST, awg_wire, parse_awg
from fieldsim.wire.sizes import SWG_LEAST, SWG_MOST, parse_swg, preferred_m, swg_diameter_m

__all__ = ["Gauge", "GaugeKind", "gauge_from", "gauges_of", "neighbours"]

_MOST_GAUGES = 40
_RANGE = re.compile(r"(.+?)\s*\.\.\s*(.+)")
_DASHED = re.compile(
    r"((?:[AS]WG\s*)?[\d.]+(?:\s*mm)?)\s*(?:-|–|to|\.{3,}|:)\s*((?:[AS]WG\s*)?[\d.]+(?:\s*mm)?)",
    re.IGNORECASE,
)
_NUMBER = re.compile(r"(?:([AS]WG|#)\s*)?(\d{1,3})", re.IGNORECASE)


@dataclass(frozen=True)
class Gauge:
    """A wire size as stated.

    Parameters
    ----------
    awg
        American gauge number, or None.
    bare_diameter_m
        Copper diameter [m].
    swg
        British gauge number, or None; with neither number the size is metric.
    """

    awg: int | None
    bare_diameter_m: float
    swg: int | None = None

    @property
    def series(self) -> str:
        """What numbers it: ``"AWG"`` or ``"SWG"``; empty for a diameter."""
        return "AWG" if self.awg is not None else "SWG" if self.swg is not None else ""

    @property
    def number(self) -> int | None:
        """In its series, or None for a diameter."""
        return self.awg if self.awg is not None else self.swg

    def __str__(self) -> str:
        """Return it as a file has it."""
        if self.number is not None:
            return f"{self.series} {self.number}"
        return quantity_text(self.bare_diameter_m, "length")


class GaugeKind(Kind):
    """A wire size: an American or British gauge, or the diameter of the copper."""

    def read(self, value: Any, in_file: bool) -> Gauge:
        """Return the size."""
        try:
            if isinstance(value, float) and not in_file:
                return _metric(value, f"{value:g} m")
            return gauge_from(value)
        except ImpossibleError as error:
            raise problem(str(error)) from None

    def written(self, value: Gauge) -> str:
        """Return the size as text."""
        return str(value)

    @property
    def values(self) -> str:
        """What is allowed, for the table of keys."""
        return (
            f"`AWG 10` to `AWG 46`, `SWG {SWG_LEAST}` to `SWG {SWG_MOST}`, or "
            f"{SMALLEST_BARE_M * 1e3:.3g} to {LARGEST_BARE_M * 1e3:.3g} mm"
        )


def gauge_from(value: object) -> Gauge:
    """Return a wire size from its text, or from the number of an American gauge.

    Raises
    ------
    ImpossibleError
        If it is none.

    Examples
    --------
    >>> str(gauge_from(32)), str(gauge_from("swg 30")), str(gauge_from("0.2 mm"))
    ('AWG 32', 'SWG 30', '0.2 mm')
    """
    if isinstance(value, Gauge):
        return value
    british = parse_swg(value)
    if british is not None:
        return Gauge(None, swg_diameter_m(british), british)
    try:
        number = parse_awg(value)  # type: ignore[arg-type]
    except ValueError:
        number = None
    if number is not None:
        return Gauge(number, awg_wire(number).bare_diameter_m)
    try:
        diameter_m = parse_quantity(value, "length")
    except ValueError as error:
        detail = str(error).split(";")[0]
        raise ImpossibleError(f'{detail}; write the gauge like "AWG 32" or "0.2 mm"') from None
    return _metric(diameter_m, value)


def _metric(diameter_m: float, shown: object) -> Gauge:
    if not SMALLEST_BARE_M <= diameter_m <= LARGEST_BARE_M:
        raise ImpossibleError(
            f'"{shown}" is out of range; allowed: {SMALLEST_BARE_M * 1e3:.3g} mm to '
            f"{LARGEST_BARE_M * 1e3:.3g} mm (AWG 46 to AWG 10)"
        )
    return Gauge(None, diameter_m)


def gauges_of(text: str, own: Gauge | None = None) -> list[Gauge]:
    """Return the wire sizes that a text lists, each once.

    Parameters
    ----------
    text
        Sizes with commas between, and ranges ``N..M``: all sizes of a series between two.
    own
        The size that is in use. Numbers alone count in its series; if it is metric, a range of them
        stands for the metric sizes between those American gauges. Ranges of metric sizes hold it as
        well.

    Raises
    ------
    ImpossibleError
        If a size does not exist, a range runs backwards or is empty, or there are too many.

    Examples
    --------
    >>> [str(each) for each in gauges_of("28..30, AWG 34")]
    ['AWG 28', 'AWG 29', 'AWG 30', 'AWG 34']
    >>> [str(each) for each in gauges_of("30..32", gauge_from("0.22 mm"))]
    ['0.25 mm', '0.224 mm', '0.22 mm']
    >>> [str(each) for each in gauges_of("0.2 mm..0.28 mm, SWG 32")]
    ['0.2 mm', '0.224 mm', '0.25 mm', '0.28 mm', 'SWG 32']
    """
    found: list[Gauge] = []
    for piece in (piece.strip() for piece in text.split(",")):
        span = _RANGE.fullmatch(piece)
        if span is not None:
            found += _between(span[1].strip(), span[2].strip(), own)
            continue
        number = _NUMBER.fullmatch(piece)
        try:
            british = number is not None and number[1] is None and own is not None and own.swg
            found.append(gauge_from(f"SWG {piece}" if british else piece))
        except ImpossibleError as error:
            if number is not None or "range" in str(error):
                raise
            dash = _DASHED.fullmatch(piece)
            like = f"{dash[1]}..{dash[2]}" if dash else 'gauges like 24..40, "28, 30" or "0.2 mm"'
            raise ImpossibleError(f'"{piece[:40]}" is not a gauge; write {like}') from None
    return _counted(dict.fromkeys(found))


def neighbours(own: Gauge, each_side: int) -> list[Gauge]:
    """Return a size and as many of its series on either side of it as there are, up to a number.

    Examples
    --------
    >>> [str(each) for each in neighbours(gauge_from("AWG 11"), 2)]
    ['AWG 10', 'AWG 11', 'AWG 12', 'AWG 13']
    >>> [str(each) for each in neighbours(gauge_from("0.21 mm"), 1)]
    ['0.224 mm', '0.21 mm', '0.2 mm']
    """
    if own.series == "AWG":
        series = [gauge_from(number) for number in range(AWG_LEAST, AWG_MOST + 1)]
    elif own.series == "SWG":
        series = [gauge_from(f"SWG {number}") for number in range(SWG_LEAST, SWG_MOST + 1)]
    else:
        series = _with_own(SMALLEST_BARE_M, LARGEST_BARE_M, own)[::-1]
    place = series.index(own)
    return series[max(place - each_side, 0) : place + each_side + 1]


def _counted(found: Iterable[Gauge]) -> list[Gauge]:
    gauges = list(found)
    if len(gauges) > _MOST_GAUGES:
        raise ImpossibleError(f"{len(gauges)} gauges; at most {_MOST_GAUGES} are allowed")
    return gauges


def _between(first: str, last: str, own: Gauge | None) -> list[Gauge]:
    """Return the sizes from one to another, in their order."""
    ends = [_NUMBER.fullmatch(end) for end in (first, last)]
    if ends[0] is None or ends[1] is None:
        return _metric_between(first, last, own)
    named = {end[1].upper().replace("#", "AWG") for end in ends if end is not None and end[1]}
    low, high = int(ends[0][2]), int(ends[1][2])
    if low > high:
        raise ImpossibleError(f"{first}..{last} runs backwards; write {last}..{first}")
    if len(named) > 1:
        raise ImpossibleError(f"{first}..{last} mixes gauges; write both ends in one series")
    if high - low >= _MOST_GAUGES:
        raise ImpossibleError(f"{high - low + 1} gauges; at most {_MOST_GAUGES} are allowed")
    if not named and own is not None and not own.series:
        thick, thin = (gauge_from(number).bare_diameter_m for number in (low, high))
        return _with_own(thin, thick, own)[::-1]
    series = named.pop() if named else own.series if own is not None else "AWG"
    return [gauge_from(f"{series} {number}") for number in range(low, high + 1)]


def _metric_between(first: str, last: str, own: Gauge | None) -> list[Gauge]:
    if re.fullmatch(r"[\d.]+", first):
        first = f"{first} {last.lstrip('.0123456789').strip()}"  # 0.1..0.4 mm
    low, high = gauge_from(first), gauge_from(last)
    if low.series or high.series:
        raise ImpossibleError(f"{first}..{last} mixes gauges; write both ends in one series")
    if low.bare_diameter_m > high.bare_diameter_m:
        raise ImpossibleError(f"{first}..{last} runs backwards; write {last}..{first}")
    return _with_own(low.bare_diameter_m, high.bare_diameter_m, own)


def _with_own(least_m: float, most_m: float, own: Gauge | None) -> list[Gauge]:
    """Return the preferred metric sizes, and the one in use if that is metric, from thin on."""
    sizes = [gauge_from(f"{size * 1e3:.4g} mm") for size in preferred_m(least_m, most_m).tolist()]
    if own is not None and not own.series:
        sizes = [s for s in sizes if abs(s.bare_diameter_m / own.bare_diameter_m - 1) > 1e-9]
        sizes = sorted([*sizes, own], key=lambda gauge: gauge.bare_diameter_m)
    if not sizes:
        raise ImpossibleError(
            f"no preferred wire gauge between {least_m * 1e3:.4g} mm and {most_m * 1e3:.4g} mm; "
            "list the sizes"
        )
    return sizes
