"""What hangs on a coil: lamps, resistors, rectifiers and capacitors as a series-parallel tree.

Every part has two ends; ``forward`` runs from the first to the second. A group may say ``count``:
that many equal copies of what it holds, in series for `Series`, in parallel for `Parallel`. Equal
copies share the current or the voltage equally, so they are solved as one, exactly.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from fieldsim.machine.load.diode_law import JunctionLaw, diode_current_A, junction_through
from fieldsim.machine.load.diode_law import thermal_voltage_V as _thermal_voltage_V

__all__ = [
    "SCHOTTKY",
    "SILICON",
    "Bridge",
    "Capacitor",
    "Diode",
    "Leaf",
    "Led",
    "Load",
    "Open",
    "Parallel",
    "Resistor",
    "Series",
    "Short",
    "anti_parallel",
    "lamp_strings",
    "leaves",
    "single_rectifier",
]

LED_REVERSE_LIMIT_V = 5.0  # common practice, no published source
_LED_IDEALITY = 2.0


@dataclass(frozen=True)
class Resistor:
    """A resistance [ohm]; ``rated_W`` is what it may turn into heat, if known."""

    resistance_ohm: float
    name: str = ""
    rated_W: float | None = None

    def __post_init__(self) -> None:
        if not self.resistance_ohm > 0:
            raise ValueError(f"a resistor of {self.resistance_ohm:g} ohm; it must be above zero")


@dataclass(frozen=True)
class Open:
    """Nothing connected."""

    name: str = ""


@dataclass(frozen=True)
class Short:
    """A wire across; one micro-ohm, so that its current stays defined."""

    name: str = ""
    resistance_ohm: float = 1e-6


@dataclass(frozen=True)
class Capacitor:
    """A capacitor.

    Parameters
    ----------
    capacitance_F, esr_ohm
        Capacitance [F] and resistance in series with it [ohm].
    initial_V
        Voltage at the start of a transient, first end against second [V].
    rated_V
        Highest voltage it may see [V], if known.
    polarised
        Whether it must not be charged backwards (first end is plus).
    """

    capacitance_F: float
    esr_ohm: float = 0.0
    initial_V: float = 0.0
    rated_V: float | None = None
    polarised: bool = False
    name: str = ""

    def __post_init__(self) -> None:
        if not self.capacitance_F > 0:
            raise ValueError(f"a capacitor of {self.capacitance_F:g} F; it must be above zero")
        if not self.esr_ohm >= 0:
            raise ValueError(f"a capacitor's ESR of {self.esr_ohm:g} ohm; it cannot be negative")


@dataclass(frozen=True)
class Diode:
    """A rectifier diode, conducting from its first end to its second unless ``reverse``."""

    law: JunctionLaw
    name: str = ""
    reverse: bool = False

    @classmethod
    def from_forward(
        cls,
        forward_V: float,
        at_A: float,
        ideality: float = 1.8,
        series_ohm: float = 0.04,
        leakage_S: float = 1e-9,
        name: str = "",
    ) -> Diode:
        """Return the diode that drops ``forward_V`` at the current ``at_A``.

        Raises
        ------
        ValueError
            If a value is not above zero, or the series resistance alone drops more.
        """
        if not (forward_V > 0 and at_A > 0):
            raise ValueError("a diode needs a forward voltage and a current above zero")
        slope_V = ideality * _thermal_voltage_V()
        return cls(junction_through(forward_V, at_A, slope_V, series_ohm, leakage_S), name)


SILICON = Diode.from_forward(0.75, 0.1, ideality=1.8, series_ohm=0.04, name="silicon")
"""A small silicon rectifier: 0.75 V at 0.1 A (common practice, no published source)."""

SCHOTTKY = Diode.from_forward(
    0.32, 0.1, ideality=1.05, series_ohm=0.08, leakage_S=1e-7, name="Schottky"
)
"""A small Schottky rectifier: 0.32 V at 0.1 A (common practice, no published source)."""


@dataclass(frozen=True)
class Led:
    """A lamp: a light-emitting diode, conducting from its first end unless ``reverse``.

    Parameters
    ----------
    law
        Junction and series resistance.
    rated_A
        Current it may carry for long [A].
    peak_A
        Current it may carry for moments [A].
    visible_A
        Average current from which its light is plainly seen [A]; 0.5 mA unless said otherwise
        (common practice, no published source).
    colour
        Free text.
    reverse_limit_V
        Reverse voltage it may see [V]; 5 V unless said otherwise (common practice).
    """

    law: JunctionLaw
    rated_A: float = 0.02
    peak_A: float = 0.1
    visible_A: float = 0.5e-3
    colour: str = ""
    reverse_limit_V: float = LED_REVERSE_LIMIT_V
    name: str = ""
    reverse: bool = False

    @classmethod
    def from_data_sheet(
        cls,
        forward_V: float,
        at_A: float,
        rated_A: float | None = None,
        *,
        series_ohm: float | None = None,
        low_point: tuple[float, float] | None = None,
        ideality: float = _LED_IDEALITY,
        temperature_K: float = 298.15,
        peak_A: float | None = None,
        visible_A: float = 0.5e-3,
        reverse_limit_V: float = LED_REVERSE_LIMIT_V,
        colour: str = "",
        name: str = "",
    ) -> Led:
        """Return the LED with a forward voltage at a current, as data sheets state it.

        Parameters
        ----------
        forward_V, at_A
            A point of the curve [V], [A].
        rated_A
            Greatest lasting current [A]; ``at_A`` if not given.
        series_ohm
            Series resistance [ohm]. If it is not given it follows from ``low_point``, a second
            point (volt, ampere) of the curve at a lower current; without either, a tenth of the
            forward voltage is put into it (common practice, no published source).
        peak_A
            Greatest momentary current [A]; five times the rated current if not given (common
            practice, no published source).

        Raises
        ------
        ValueError
            If a value is not above zero or the points do not make a rising curve.

        Examples
        --------
        >>> led = Led.from_data_sheet(3.2, 0.020, rated_A=0.030, colour="white")
        >>> round(led.voltage_V(0.020), 6)
        3.2
        """
        if not forward_V > 0:
            raise ValueError(f"a forward voltage of {forward_V:g} V; it must be above zero")
        if not at_A > 0:
            raise ValueError(f"a forward current of {at_A:g} A; it must be above zero")
        slope_V = ideality * _thermal_voltage_V(temperature_K)
        if series_ohm is None and low_point is not None:
            series_ohm = _series_from_points((forward_V, at_A), low_point, slope_V)
        elif series_ohm is None:
            series_ohm = 0.1 * forward_V / at_A
        law = junction_through(forward_V, at_A, slope_V, series_ohm)
        rated = at_A if rated_A is None else rated_A
        if not rated > 0:
            raise ValueError(f"a rated current of {rated:g} A; it must be above zero")
        return cls(
            law,
            rated,
            5 * rated if peak_A is None else peak_A,
            visible_A,
            colour,
            reverse_limit_V,
            name,
        )

    def voltage_V(self, current_A: float) -> float:
        """Return the forward voltage at a current through the whole part [V]."""
        from scipy.optimize import brentq

        high = 1.0
        while diode_current_A(high, self.law) < current_A:
            high *= 2.0
        return float(
            brentq(lambda v: float(diode_current_A(v, self.law)) - current_A, 0.0, high, xtol=1e-13)
        )

    def reversed(self) -> Led:
        """Return the LED turned round."""
        return replace(self, reverse=not self.reverse)


def _series_from_points(
    point: tuple[float, float], low: tuple[float, float], slope_V: float
) -> float:
    """Return the series resistance that makes a junction pass two points of its curve [ohm]."""
    import math

    (v, i), (v_low, i_low) = point, low
    if not (0 < i_low < i and 0 < v_low < v):
        raise ValueError("the low point must have a lower voltage and a lower current, above zero")
    series_ohm = (v - v_low - slope_V * math.log(i / i_low)) / (i - i_low)
    if series_ohm < 0:
        raise ValueError(
            f"the voltage rises by {v - v_low:.3g} V between the two points, less than the "
            f"junction alone, {slope_V * math.log(i / i_low):.3g} V; give a lower ideality"
        )
    return series_ohm


@dataclass(frozen=True)
class Series:
    """Parts one after the other, the whole ``count`` times."""

    parts: tuple[Load, ...]
    count: int = 1
    name: str = ""

    def __post_init__(self) -> None:
        _check_group("series", self.parts, self.count)


@dataclass(frozen=True)
class Parallel:
    """Parts side by side, the whole ``count`` times."""

    parts: tuple[Load, ...]
    count: int = 1
    name: str = ""

    def __post_init__(self) -> None:
        _check_group("parallel", self.parts, self.count)


def _check_group(kind: str, parts: tuple[Load, ...], count: int) -> None:
    if not parts:
        raise ValueError(f"a {kind} group needs at least one part")
    if count < 1:
        raise ValueError(f"a {kind} group {count} times; it must be once or more")


@dataclass(frozen=True)
class Bridge:
    """Four diodes in front of a load: whichever end is positive feeds the load's first end.

    Notes
    -----
    ::

        first end --+--|>|--+----- plus
                    |       |      [load]
        plus <--|>|-- second end   minus
    """

    load: Load
    diode: Diode = field(default=SILICON)
    name: str = ""


Leaf = Resistor | Open | Short | Capacitor | Diode | Led
Load = Leaf | Series | Parallel | Bridge


def single_rectifier(load: Load, diode: Diode = SILICON) -> Series:
    """Return a load behind one diode: half of the wave reaches it."""
    return Series((diode, load))


def anti_parallel(led: Led, count: int = 1) -> Parallel:
    """Return pairs of LEDs, one each way, so that both halves of the wave light one."""
    return Parallel((led, led.reversed()), count)


def lamp_strings(led: Led, series: int = 1, parallel: int = 1, resistor_ohm: float = 0.0) -> Load:
    """Return ``parallel`` strings, each of ``series`` LEDs and a resistor if it is not zero.

    Examples
    --------
    >>> group = lamp_strings(Led.from_data_sheet(3.2, 0.02), series=2, parallel=12)
    >>> sum(n for _, n in leaves(group))
    24
    """
    string: Load = Series((led,), series)
    if resistor_ohm > 0:
        string = Series((string, Resistor(resistor_ohm)))
    return Parallel((string,), parallel)


def leaves(load: Load, copies: int = 1) -> Iterator[tuple[Leaf, int]]:
    """Yield each part that is not a group, with the number of equal copies of it.

    Examples
    --------
    >>> [(type(part).__name__, n) for part, n in leaves(Bridge(Resistor(100.0)))]
    [('Diode', 4), ('Resistor', 1)]
    """
    if isinstance(load, Series | Parallel):
        for part in load.parts:
            yield from leaves(part, copies * load.count)
    elif isinstance(load, Bridge):
        yield load.diode, 4 * copies
        yield from leaves(load.load, copies)
    else:
        yield load, copies
