"""Round enamelled copper wire: gauge, diameters, copper area and mass per length."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fieldsim.errors import ImpossibleError
from fieldsim.wire.enamel import Enamel, overall_diameter_m

__all__ = [
    "AWG_LEAST",
    "AWG_MOST",
    "COPPER_DENSITY_KG_M3",
    "ENAMEL_DENSITY_KG_M3",
    "Wire",
    "Wires",
    "awg_diameter_m",
    "awg_number",
    "awg_wire",
    "awg_wires",
    "copper_area_m2",
    "copper_mass_kg_m",
    "metric_wire",
    "parse_awg",
    "wire_mass_kg_m",
]

AWG_LEAST, AWG_MOST = 10, 46  # of enamelled wire

COPPER_DENSITY_KG_M3 = 8890.0  # annealed copper at 20 °C: IEC 60028
# Fits the difference between enamelled and bare mass in a wire maker's table (single film).
ENAMEL_DENSITY_KG_M3 = 1400.0

_AWG = re.compile(r"(?:AWG|#)?\s*(\d{1,3}|0000|[1-4]/0)\s*(?:AWG|ga|gauge)?", re.IGNORECASE)


def parse_awg(text: str | int) -> int:
    """Return an American wire gauge number; 2/0 to 4/0 come back as -1 to -3.

    Parameters
    ----------
    text
        ``32``, ``"32"``, ``"AWG 32"``, ``"32 AWG"``, ``"#32"``, ``"0"``, ``"00"`` or ``"2/0"``.

    Raises
    ------
    ValueError
        If it is not a gauge.

    Examples
    --------
    >>> parse_awg("AWG 32"), parse_awg(32), parse_awg("000"), parse_awg("4/0")
    (32, 32, -2, -3)
    >>> parse_awg("0.2 mm")
    Traceback (most recent call last):
    ...
    ValueError: "0.2 mm" is not a wire gauge; write it like 32 or "AWG 32"
    """
    if isinstance(text, int) and not isinstance(text, bool):
        return text
    match = _AWG.fullmatch(text.strip()) if isinstance(text, str) else None
    if match is None:
        shown = f'"{text}"' if isinstance(text, str) else str(text)
        raise ValueError(f'{shown[:60]} is not a wire gauge; write it like 32 or "AWG 32"')
    digits = match[1]
    if "/" in digits:
        return 1 - int(digits[0])
    return 1 - len(digits) if set(digits) == {"0"} else int(digits)


def awg_diameter_m(gauge: ArrayLike) -> NDArray[np.float64]:
    """Return the bare diameter of American wire gauges.

    Parameters
    ----------
    gauge
        AWG numbers, any shape; 2/0, 3/0, 4/0 are -1, -2, -3. Half sizes are allowed.

    Returns
    -------
    ndarray
        Diameter [m], the shape of ``gauge``.

    Notes
    -----
    d = 0.127 mm * 92^((36 - n) / 39), ASTM B258. Wire is sold to diameters rounded to 0.1 mil, up
    to 1.5 % away at AWG 40.

    Examples
    --------
    >>> float(awg_diameter_m(36))
    0.000127
    """
    n = np.asarray(gauge, dtype=float)
    return np.asarray(0.127e-3 * 92.0 ** ((36.0 - n) / 39.0), dtype=float)


def awg_number(bare_diameter_m: ArrayLike) -> NDArray[np.float64]:
    """Return the gauge number, in general not whole, of bare diameters [m], any shape.

    Examples
    --------
    >>> round(float(awg_number(0.2e-3)), 2)
    32.08
    """
    d = np.asarray(bare_diameter_m, dtype=float)
    return np.asarray(36.0 - 39.0 * np.log(d / 0.127e-3) / math.log(92.0), dtype=float)


def copper_area_m2(bare_diameter_m: ArrayLike) -> NDArray[np.float64]:
    """Return the copper cross-section [m2] of bare diameters [m], any shape."""
    return np.asarray(math.pi / 4 * np.square(np.asarray(bare_diameter_m, dtype=float)))


def copper_mass_kg_m(bare_diameter_m: ArrayLike) -> NDArray[np.float64]:
    """Return the mass of copper per metre [kg/m], enamel not included."""
    return COPPER_DENSITY_KG_M3 * copper_area_m2(bare_diameter_m)


def wire_mass_kg_m(
    bare_diameter_m: ArrayLike, overall_diameter_m: ArrayLike
) -> NDArray[np.float64]:
    """Return the mass per metre [kg/m], enamel included: what a spool is weighed and sold by.

    Parameters
    ----------
    bare_diameter_m, overall_diameter_m
        Of the copper and over the enamel [m], broadcast against each other.
    """
    copper = copper_area_m2(bare_diameter_m)
    enamel = copper_area_m2(overall_diameter_m) - copper
    return COPPER_DENSITY_KG_M3 * copper + ENAMEL_DENSITY_KG_M3 * enamel


@dataclass(frozen=True)
class Wire:
    """Round enamelled copper wire.

    Parameters
    ----------
    name
        As it is shown, for instance ``AWG 32 single``.
    bare_diameter_m
        Of the copper [m].
    overall_diameter_m
        Over the enamel [m].

    Raises
    ------
    ImpossibleError
        If a diameter is not above zero, or the enamel would have no thickness.

    Examples
    --------
    >>> wire = awg_wire(32)
    >>> wire.name, round(wire.bare_diameter_m * 1e3, 4), round(wire.overall_diameter_m * 1e3, 4)
    ('AWG 32 single', 0.2019, 0.2235)
    """

    name: str
    bare_diameter_m: float
    overall_diameter_m: float

    def __post_init__(self) -> None:
        bare, overall = self.bare_diameter_m, self.overall_diameter_m
        if not (0 < bare < math.inf and 0 < overall < math.inf):
            raise ImpossibleError(f"wire diameters must be above zero; given {bare}, {overall} m")
        if overall <= bare:
            raise ImpossibleError(
                f"wire of {bare * 1e3:.4g} mm copper cannot be {overall * 1e3:.4g} mm over its "
                "enamel; it must be thicker than the copper"
            )

    @property
    def copper_area_m2(self) -> float:
        """Cross-section of the copper [m2]."""
        return float(copper_area_m2(self.bare_diameter_m))

    @property
    def overall_area_m2(self) -> float:
        """Cross-section of copper and enamel [m2]."""
        return float(copper_area_m2(self.overall_diameter_m))

    @property
    def copper_mass_kg_m(self) -> float:
        """Mass of copper per metre [kg/m]."""
        return float(copper_mass_kg_m(self.bare_diameter_m))

    @property
    def mass_kg_m(self) -> float:
        """Mass per metre, enamel included [kg/m]."""
        return float(wire_mass_kg_m(self.bare_diameter_m, self.overall_diameter_m))


@dataclass(frozen=True, eq=False)
class Wires:
    """Several wires at once, for tables over gauges.

    Parameters
    ----------
    bare_diameter_m, overall_diameter_m
        Of the copper and over the enamel [m], arrays of one shape.
    """

    bare_diameter_m: NDArray[np.float64]
    overall_diameter_m: NDArray[np.float64]


def awg_wires(gauges: ArrayLike, enamel: Enamel = Enamel.SINGLE) -> Wires:
    """Return wires of American gauges, any shape.

    Raises
    ------
    ImpossibleError
        If a gauge lies outside AWG 10 to AWG 46.

    Examples
    --------
    >>> from fieldsim.wire.packing import SquareLayers
    >>> stack = SquareLayers().stack(awg_wires([28, 32, 36]), length_m=12e-3)
    >>> stack.turns_in(6e-3).tolist()
    [578, 1378, 3570]
    """
    bare = awg_diameter_m(gauges)
    return Wires(bare, overall_diameter_m(bare, enamel))


@lru_cache(maxsize=256, typed=True)
def awg_wire(gauge: int, enamel: Enamel = Enamel.SINGLE) -> Wire:
    """Return wire of an American gauge.

    Raises
    ------
    ImpossibleError
        If the gauge lies outside AWG 10 to AWG 46.
    """
    # Checked before the power is taken, which overflows for absurd numbers.
    if not AWG_LEAST <= gauge <= AWG_MOST:
        raise ImpossibleError(
            f"AWG {gauge} is out of range; allowed: AWG {AWG_LEAST} to AWG {AWG_MOST}"
        )
    bare = awg_diameter_m(gauge)
    return Wire(f"AWG {gauge} {enamel.value}", float(bare), float(overall_diameter_m(bare, enamel)))


def metric_wire(bare_diameter_m: float, enamel: Enamel = Enamel.GRADE_1) -> Wire:
    """Return wire of a bare diameter [m].

    Raises
    ------
    ImpossibleError
        If the diameter lies outside 0.039 mm to 2.6 mm.
    """
    name = f"{bare_diameter_m * 1e3:.4g} mm {enamel.value}"
    return Wire(name, bare_diameter_m, float(overall_diameter_m(bare_diameter_m, enamel)))
