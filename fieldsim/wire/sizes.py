"""Sizes in which wire is sold, beside the American gauges: British gauges and metric diameters."""

from __future__ import annotations

import re

import numpy as np
from numpy.typing import NDArray

from fieldsim.errors import ImpossibleError
from fieldsim.wire.enamel import LARGEST_BARE_M, SMALLEST_BARE_M, Enamel, overall_diameter_m
from fieldsim.wire.round_wire import Wire

__all__ = ["SWG_LEAST", "SWG_MOST", "parse_swg", "preferred_m", "swg_diameter_m", "swg_wire"]

SWG_LEAST, SWG_MOST = 13, 48

_MIL_M = 25.4e-6
# Standard wire gauge in thousandths of an inch, from SWG 13 on: BS 3737 (withdrawn), from memory.
_SWG_MIL = (
    "92 80 72 64 56 48 40 36 32 28 24 22 20 18 16.4 14.8 13.6 12.4 11.6 10.8 10 9.2 8.4 7.6 6.8 6 "
    "5.2 4.8 4.4 4 3.6 3.2 2.8 2.4 2 1.6"
)
# The series R20 of preferred numbers (ISO 3), which IEC 60317-0-1 prefers for round wire; from
# memory of both.
_R20 = "1 1.12 1.25 1.4 1.6 1.8 2 2.24 2.5 2.8 3.15 3.55 4 4.5 5 5.6 6.3 7.1 8 9"
_SWG = re.compile(r"SWG\s*(\d{1,3})|(\d{1,3})\s*SWG", re.IGNORECASE)


def parse_swg(text: object) -> int | None:
    """Return a British standard wire gauge number; None if it is no such gauge.

    Examples
    --------
    >>> parse_swg("SWG 32"), parse_swg("32 swg"), parse_swg("AWG 32")
    (32, 32, None)
    """
    match = _SWG.fullmatch(text.strip()) if isinstance(text, str) else None
    return None if match is None else int(match[1] or match[2])


def swg_diameter_m(gauge: int) -> float:
    """Return the bare diameter of a British standard wire gauge [m].

    Raises
    ------
    ImpossibleError
        If it lies outside SWG 13 to SWG 48, where enamelled wire is made.

    Examples
    --------
    >>> round(swg_diameter_m(32) * 1e3, 4)
    0.2743
    """
    if not SWG_LEAST <= gauge <= SWG_MOST:
        raise ImpossibleError(
            f"SWG {gauge} is out of range; allowed: SWG {SWG_LEAST} to SWG {SWG_MOST}"
        )
    return float(_SWG_MIL.split()[gauge - SWG_LEAST]) * _MIL_M


def swg_wire(gauge: int, enamel: Enamel = Enamel.GRADE_1) -> Wire:
    """Return wire of a British gauge.

    Raises
    ------
    ImpossibleError
        If the gauge lies outside SWG 13 to SWG 48.
    """
    bare = swg_diameter_m(gauge)
    return Wire(f"SWG {gauge} {enamel.value}", bare, float(overall_diameter_m(bare, enamel)))


def preferred_m(
    least_m: float = SMALLEST_BARE_M, most_m: float = LARGEST_BARE_M
) -> NDArray[np.float64]:
    """Return the metric diameters that are preferred, from thin to thick [m].

    Parameters
    ----------
    least_m, most_m
        Bounds, both counted in.

    Notes
    -----
    Shops keep most of these; common practice, no published source.

    Examples
    --------
    >>> (preferred_m(0.19e-3, 0.3e-3) * 1e3).round(4).tolist()
    [0.2, 0.224, 0.25, 0.28]
    """
    steps = np.array(_R20.split(), dtype=float)
    sizes = np.outer([1e-5, 1e-4, 1e-3], steps).ravel()
    slack = 1e-9 * sizes
    return sizes[(sizes >= least_m - slack) & (sizes <= most_m + slack)]
