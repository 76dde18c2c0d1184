"""What a solved circuit says: waveforms, averages, lamps, balances; immutable."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fieldsim.cautions import Note
from fieldsim.circuit.network import Circuit
from fieldsim.circuit.steady_waves import SteadyWaves
from fieldsim.machine.load.circuit_parts import Leaf

__all__ = [
    "Balance",
    "CircuitResult",
    "CoilTrace",
    "LampReport",
    "OutletTrace",
    "PartTrace",
]

Array = NDArray[np.float64]

_SHOWN = 512, 50_000  # fewest and most even samples


@dataclass(frozen=True)
class Balance:
    """How well what goes in and what comes out agree; all relative, all to be small.

    Parameters
    ----------
    charge
        Greatest net charge found at any node or lost in any capacitor, over the charge that the
        coils moved (at least 1e-4 of what they would move if shorted).
    energy
        Source energy less all losses and the change of stored energy, over the source energy or a
        millionth of what shorted coils would take.
    discretisation
        Change of the average powers and lamp currents by the last refinement of the steps, over the
        source power and the average coil current.
    """

    charge: float
    energy: float
    discretisation: float


@dataclass(frozen=True, eq=False)
class CoilTrace:
    """One coil.

    Parameters
    ----------
    emf_V, current_A, voltage_V
        Waveforms, (points,); current positive along the axis, voltage at its terminals.
    resistance_ohm
        As it was solved, of the warm wire in a steady state [ohm].
    heat_W
        Average loss in its resistance [W].
    delivered_W
        Average power out of its terminals [W].
    iron_W
        Average loss that its current makes in iron by eddy currents [W].
    """

    name: str
    emf_V: Array = field(repr=False)
    current_A: Array = field(repr=False)
    voltage_V: Array = field(repr=False)
    rms_current_A: float
    resistance_ohm: float
    heat_W: float
    delivered_W: float
    iron_W: float = 0.0


@dataclass(frozen=True, eq=False)
class PartTrace:
    """One of ``count`` equal parts that share current and voltage equally.

    Parameters
    ----------
    series, parallel
        How they stand: in a string, and strings.
    voltage_V, current_A
        Waveforms of each of them, (points,), in the part's forward direction.
    power_W
        Average power into each [W].
    power_each_W
        Average power turned into heat or light in each [W]; differs from ``power_W`` only where
        energy is stored.
    """

    outlet: str
    label: str
    part: Leaf
    series: int
    parallel: int
    voltage_V: Array = field(repr=False)
    current_A: Array = field(repr=False)
    average_current_A: float
    peak_current_A: float
    power_W: float
    power_each_W: float
    on_dc: bool

    @property
    def count(self) -> int:
        """Number of equal parts."""
        return self.series * self.parallel

    @property
    def total_power_W(self) -> float:
        """Average power into all of them [W]."""
        return self.power_W * self.count

    @property
    def power_of_all_W(self) -> float:
        """Average power turned into heat or light in all of them [W]."""
        return self.power_each_W * self.count


@dataclass(frozen=True, eq=False)
class OutletTrace:
    """A pair of terminals: voltage and current into the load, and what the coils give unloaded.

    Parameters
    ----------
    dc_voltage_V
        Behind the bridge, or None without one.
    open_circuit_peak_V
        Greatest voltage if the load came off [V]; for coils in parallel that of the highest.
    """

    name: str
    voltage_V: Array = field(repr=False)
    current_A: Array = field(repr=False)
    dc_voltage_V: Array | None = field(repr=False)
    power_W: float
    open_circuit_peak_V: float


@dataclass(frozen=True)
class LampReport:
    """Whether a lamp lights, and how.

    Parameters
    ----------
    average_current_A, peak_current_A
        Forward current through each lamp of the group [A].
    visible_current_A, rated_current_A
        Average current from which it is plainly seen, and the greatest lasting one [A].
    flicker_Hz
        Lowest frequency at which its current swings by a tenth of its mean or more, as from
        `fieldsim.circuit.flicker.flicker_Hz` [Hz]; 0 if it is steady, None in a transient.
    flicker_percent
        Depth of the whole swing, ``(max - min)/(max + min)`` of the current, percent.
    seen_peak_A
        Greatest current as an eye sees it, which is slower than a sixtieth of a second [A].
    flash_Hz
        How often a second an eye sees it brighten, as from `fieldsim.circuit.flicker.flashes` [Hz];
        0 if it looks steady, None in a transient.
    """

    label: str
    colour: str
    count: int
    average_current_A: float
    peak_current_A: float
    visible_current_A: float
    rated_current_A: float
    reverse_voltage_V: float
    power_each_W: float
    flicker_Hz: float | None
    flicker_percent: float
    seen_peak_A: float
    flash_Hz: float | None

    @property
    def lights(self) -> bool:
        """Whether the average current reaches the visible value."""
        return self.average_current_A >= self.visible_current_A

    @property
    def flashes(self) -> bool:
        """Whether it is seen in flashes only: its average is too low to glow, its peaks are not."""
        return (
            not self.lights and bool(self.flash_Hz) and self.seen_peak_A >= self.visible_current_A
        )

    @property
    def log_of_visible(self) -> float:
        """Logarithm of its average current over the visible one.

        For finding where it begins to light: below the knee the current falls by decades.
        """
        return math.log(max(self.average_current_A, 1e-15) / self.visible_current_A)

    @property
    def share_of_rated(self) -> float:
        """Average current over rated current."""
        return self.average_current_A / self.rated_current_A


@dataclass(frozen=True, eq=False)
class CircuitResult:
    """A solved stretch of time.

    Parameters
    ----------
    time_s
        Times of the waveforms, (points,), unevenly spaced: closer where things change fast.
    weight_s
        Quadrature weights, (points,): ``weight_s @ y / weight_s.sum()`` is the average of ``y``.
    period_s
        The period, or None for a transient.
    warnings
        Why the result may be doubtful; empty if it is not.
    steps, iterations
        Time steps in the last solution and Newton iterations in all.
    waves
        What a neighbour's solution may start from; None where it was found another way.
    """

    circuit: Circuit
    period_s: float | None
    time_s: Array = field(repr=False)
    weight_s: Array = field(repr=False)
    coils: Mapping[str, CoilTrace]
    parts: tuple[PartTrace, ...]
    outlets: Mapping[str, OutletTrace]
    lamps: tuple[LampReport, ...]
    source_power_W: float
    useful_power_W: float
    balance: Balance
    warnings: tuple[Note, ...]
    steps: int
    iterations: int
    waves: SteadyWaves | None = field(default=None, repr=False)

    @property
    def duration_s(self) -> float:
        """Length of the stretch [s]."""
        return float(self.weight_s.sum())

    @property
    def points_to_show(self) -> int:
        """How many even samples show all that the uneven points show."""
        steps = 1.5 * np.diff(self.time_s.reshape(-1, 2), axis=1).ravel()
        return int(np.clip(self.duration_s / float(np.median(steps)), *_SHOWN))

    @property
    def iron_W(self) -> float:
        """Average loss that the coils' currents make in iron [W]."""
        return sum(coil.iron_W for coil in self.coils.values())

    @property
    def load_W(self) -> float:
        """Average power out of the coils' terminals [W]."""
        return sum(outlet.power_W for outlet in self.outlets.values())

    @property
    def efficiency(self) -> float:
        """Useful power (lamps; resistors if there are none) over all electrical power."""
        return self.useful_power_W / self.source_power_W if self.source_power_W > 0 else 0.0

    def average(self, values: Array) -> float:
        """Return the time average of a waveform of this result."""
        return float(self.weight_s @ values / self.weight_s.sum())

    def part(self, label: str) -> PartTrace:
        """Return the part of that label.

        Raises
        ------
        KeyError
            If there is none; the message lists the labels.
        """
        for trace in self.parts:
            if trace.label == label:
                return trace
        known = ", ".join(t.label for t in self.parts)
        raise KeyError(f'no part is called "{label}"; there are: {known}')

    def sampled(self, values: Array, points: int = 512) -> tuple[Array, Array]:
        """Return uniform times (points,) and a waveform at them.

        Notes
        -----
        By the parabola through the three points of each time step: its start, a third of it and its
        end. Times run over the period without its end, or over a transient with both ends.
        """
        first, end = self.time_s[0::2], self.time_s[1::2]
        steps = 1.5 * (end - first)  # the first point stands at a third of its step
        whole = self.period_s is None
        last = float(end[-1]) if self.period_s is None else self.period_s
        times: Array = np.linspace(0.0, last, points, endpoint=whole, dtype=np.float64)
        step = np.minimum(np.searchsorted(end, times), len(end) - 1)
        middle, after = values[0::2], values[1::2]
        before = np.concatenate([middle[:1] if whole else after[-1:], after[:-1]])
        p = (times - (end - steps)[step]) / steps[step]
        sampled = 3.0 * (p - 1 / 3) * (p - 1) * before[step]
        sampled += -4.5 * p * (p - 1) * middle[step] + 1.5 * p * (p - 1 / 3) * after[step]
        return times, sampled
