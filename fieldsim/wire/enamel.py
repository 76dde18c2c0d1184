"""Overall diameter of enamelled round copper wire, by grade, from the published limits.

Each grade is a table of bare against nominal overall diameter. A wire between two rows takes the
ratio of overall to bare interpolated over the logarithm of the bare diameter; a wire beyond the
table's ends keeps the ratio of the last row.
"""

from __future__ import annotations

from enum import Enum
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fieldsim.errors import ImpossibleError

__all__ = ["LARGEST_BARE_M", "SMALLEST_BARE_M", "Enamel", "overall_diameter_m"]

SMALLEST_BARE_M = 0.039e-3  # just under AWG 46
LARGEST_BARE_M = 2.6e-3  # just over AWG 10

_MIL_M = 25.4e-6
_AWG_STEP = 92 ** (1 / 39)

# NEMA MW 1000 limits for AWG 14 to 40 in mil, as reprinted in a wire maker's data sheet.
_NEMA_FIRST_GAUGE = 14
_NEMA_LEAST_BARE = (
    "63.5 56.5 50.3 44.8 39.9 35.5 31.7 28.2 25.0 22.4 19.9 17.7 15.7 14.1 12.5 11.2 9.9 8.8 7.9 "
    "7.0 6.2 5.5 4.9 4.4 3.9 3.4 3.0"
)
_NEMA_LEAST_SINGLE_INCREASE = (
    "1.6 1.5 1.4 1.4 1.3 1.2 1.2 1.1 1.1 1.0 1.0 0.9 0.9 0.8 0.8 0.7 0.7 0.6 0.6 0.5 0.5 0.4 0.4 "
    "0.3 0.3 0.2 0.2"
)
_NEMA_LARGEST_SINGLE = (
    "66.6 59.4 53.1 47.5 42.4 37.9 33.9 30.3 27.0 24.3 21.7 19.4 17.3 15.6 14.0 12.6 11.2 10.0 "
    "9.1 8.1 7.2 6.4 5.8 5.2 4.7 4.1 3.7"
)
_NEMA_LEAST_HEAVY_INCREASE = (
    "3.2 3.0 2.9 2.8 2.6 2.5 2.3 2.2 2.1 2.0 1.9 1.8 1.7 1.6 1.6 1.5 1.4 1.3 1.2 1.1 1.0 0.9 0.8 "
    "0.8 0.7 0.6 0.6"
)

# IEC 60317-0-1 in mm: bare, least increase grade 1 and 2, largest overall grade 1 and 2. Rows up
# to 0.100 as reprinted in a wire maker's table; the others from memory of the standard (the rows
# 0.200, 0.250, 0.315, 0.500 and 1.000 agree with an independent list, from memory as well).
_IEC_MM = """
0.040 .004 .008 0.049 0.054
0.045 .005 .009 0.055 0.061
0.050 .005 .010 0.060 0.066
0.056 .006 .011 0.067 0.074
0.063 .006 .012 0.076 0.083
0.071 .007 .012 0.084 0.091
0.080 .007 .014 0.094 0.101
0.090 .008 .015 0.105 0.113
0.100 .008 .016 0.117 0.125
0.125 .010 .019 0.144 0.154
0.160 .012 .023 0.182 0.194
0.200 .014 .027 0.226 0.239
0.250 .017 .032 0.281 0.297
0.315 .019 .035 0.349 0.367
0.400 .021 .040 0.439 0.459
0.500 .024 .045 0.544 0.566
0.630 .027 .050 0.679 0.704
0.800 .030 .056 0.855 0.884
1.000 .034 .063 1.062 1.094
1.250 .035 .067 1.316 1.349
1.600 .038 .071 1.670 1.706
"""


class Enamel(Enum):
    """How thick the enamel is: two American grades and two metric ones."""

    SINGLE = "single"
    HEAVY = "heavy"
    GRADE_1 = "grade 1"
    GRADE_2 = "grade 2"


def _row(text: str) -> NDArray[np.float64]:
    return np.array(text.split(), dtype=float)


@cache
def _table(enamel: Enamel) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return log of bare diameter [m] in rising order, and the ratio of overall to bare."""
    if enamel in (Enamel.GRADE_1, Enamel.GRADE_2):
        rows = np.array([_row(line) for line in _IEC_MM.strip().splitlines()])
        grade = 0 if enamel is Enamel.GRADE_1 else 1
        bare_mm, least, largest = rows[:, 0], rows[:, 1 + grade], rows[:, 3 + grade]
        return np.log(bare_mm * 1e-3), (bare_mm + least + largest) / 2 / bare_mm
    least_single = _row(_NEMA_LEAST_BARE) + _row(_NEMA_LEAST_SINGLE_INCREASE)
    half_band = (_row(_NEMA_LARGEST_SINGLE) - least_single) / 2
    least = least_single
    if enamel is Enamel.HEAVY:
        least = _row(_NEMA_LEAST_BARE) + _row(_NEMA_LEAST_HEAVY_INCREASE)
    gauge = _NEMA_FIRST_GAUGE + np.arange(least.size)
    bare_m = 0.127e-3 * _AWG_STEP ** (36.0 - gauge)
    ratio = (least + half_band) * _MIL_M / bare_m
    return np.log(bare_m[::-1]), ratio[::-1]


def overall_diameter_m(bare_diameter_m: ArrayLike, enamel: Enamel) -> NDArray[np.float64]:
    """Return the nominal diameter over the enamel.

    Parameters
    ----------
    bare_diameter_m
        Of the copper [m], any shape.
    enamel
        The grade.

    Returns
    -------
    ndarray
        Overall diameter [m], the shape of ``bare_diameter_m``.

    Raises
    ------
    ImpossibleError
        If a diameter lies outside 0.039 mm to 2.6 mm (AWG 46 to AWG 10), where no common enamelled
        round wire is made.

    Notes
    -----
    Nominal is the middle between the least overall diameter (least copper plus least increase) and
    the largest one. Limits: NEMA MW 1000 for ``single`` and ``heavy``, IEC 60317-0-1 for
    ``grade 1`` and ``grade 2``. The largest diameters for ``heavy`` were not at hand: its band of
    tolerance is taken as wide as that of ``single``, which is good to about 1.5 % of the diameter.
    A real spool may lie anywhere between the limits, 3 % either way at AWG 32; measure ten turns
    side by side and state the result when it matters.

    Examples
    --------
    >>> [round(float(d) * 1e3, 4) for d in overall_diameter_m([0.2e-3, 1e-3], Enamel.GRADE_1)]
    [0.22, 1.048]
    """
    bare = np.asarray(bare_diameter_m, dtype=float)
    outside = ~((bare >= SMALLEST_BARE_M) & (bare <= LARGEST_BARE_M))
    if np.any(outside):
        worst = float(np.extract(outside, bare)[0])
        raise ImpossibleError(
            f"no enamelled wire of {worst * 1e3:.4g} mm; allowed: "
            f"{SMALLEST_BARE_M * 1e3:.3g} mm to {LARGEST_BARE_M * 1e3:.3g} mm (AWG 46 to AWG 10)"
        )
    log_bare, ratio = _table(enamel)
    return np.asarray(bare * np.interp(np.log(bare), log_bare, ratio), dtype=float)
