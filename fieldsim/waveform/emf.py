"""EMF of every coil at a speed, from the flux table: -d(linkage)/dt with all rotors added."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from fieldsim.errors import ImpossibleError
from fieldsim.field.linkage.pair_linkage import sample_series
from fieldsim.machine.machine import Machine
from fieldsim.waveform.flux_table import FluxTable
from fieldsim.waveform.period import Period, common_period

__all__ = ["EmfWaveform", "Speed", "combined", "crank_speed", "emf_waveform", "rotor_speed"]

Array = NDArray[np.float64]

_ENOUGH_ANGLES = 2000  # more a user hardly asks for: such a table was made as fine as it gets
_OVERSAMPLING = 4  # samples to the shortest wave that matters
_FEWEST, _MOST = 720, 4_000_000
_MOST_BY_ITSELF = 1_500_000
_BLOCK = 64  # samples at a time, at least
_FASTEST_RAD_PER_S = 2 * math.pi * 10_000
_SLOWEST_RAD_PER_S = 2 * math.pi / 1e6  # a turn in eleven days
_ROUNDING = 1e-9  # of what is added up: what it leaves where all cancels


@dataclass(frozen=True)
class Speed:
    """How fast every rotor turns.

    Parameters
    ----------
    base_rad_per_s
        Speed of the crank, or of a rotor of ratio one.
    ratios
        Rotor turns per base turn, signed, in the order of the rotors.
    given_as
        ``"crank"`` or ``"rotor"``, for messages.
    """

    base_rad_per_s: float
    ratios: tuple[Fraction, ...]
    given_as: str

    @property
    def rotors_rad_per_s(self) -> tuple[float, ...]:
        """Signed speed of every rotor [rad/s]."""
        return tuple(float(r) * self.base_rad_per_s for r in self.ratios)


def _checked(speed: Speed) -> Speed:
    if not 0 < abs(speed.base_rad_per_s) < math.inf:
        raise ImpossibleError("the speed must be above zero and finite")
    if abs(speed.base_rad_per_s) < _SLOWEST_RAD_PER_S:
        raise ImpossibleError(
            f"a speed of {speed.base_rad_per_s * 30 / math.pi:.3g} rpm is too slow to speak of; "
            f"at least {_SLOWEST_RAD_PER_S * 30 / math.pi:.0e} rpm is allowed"
        )
    fastest = max(abs(s) for s in speed.rotors_rad_per_s)
    if fastest > _FASTEST_RAD_PER_S:
        raise ImpossibleError(
            f"a rotor would turn at {fastest * 30 / math.pi:.3g} rpm; "
            f"at most {_FASTEST_RAD_PER_S * 30 / math.pi:.3g} rpm is allowed"
        )
    return speed


def crank_speed(machine: Machine, crank_rad_per_s: float) -> Speed:
    """Return the speeds of all rotors when the crank turns at a speed.

    Raises
    ------
    ImpossibleError
        If the speed is zero, not finite or beyond any model's strength.
    """
    ratios = tuple(r.gear_ratio for r in machine.placed_rotors)
    return _checked(Speed(crank_rad_per_s, ratios, "crank"))


def rotor_speed(machine: Machine, rotor_rad_per_s: float) -> Speed:
    """Return the speeds when every rotor turns at one speed, with the sign of its gear ratio.

    Raises
    ------
    ImpossibleError
        If the speed is zero, not finite or beyond any model's strength.
    """
    signs = tuple(Fraction(1 if r.gear_ratio > 0 else -1) for r in machine.placed_rotors)
    return _checked(Speed(rotor_rad_per_s, signs, "rotor"))


@dataclass(frozen=True, eq=False)
class EmfWaveform:
    """EMF of every coil over one period.

    Parameters
    ----------
    coils
        Names.
    time_s
        Equal steps from 0, without the end point, shape (samples,).
    emf_V, linkage_Wb
        Shape (coils, samples).
    frequency_Hz
        How often each coil's waveform repeats, shape (coils,).
    speed
        Of the rotors.
    period
        In turns, and whether it is exact.
    relative_error
        Largest estimated error of the flux table behind it; NaN if that is not known.
    scale_V
        RMS EMF that each coil had if no rotor and no coil worked against another, shape (coils,).
    title
        Of the machine.

    Notes
    -----
    Where parts cancel down to the table's own error, the EMF is exactly zero.
    """

    coils: tuple[str, ...]
    time_s: Array
    emf_V: Array
    linkage_Wb: Array
    frequency_Hz: Array
    speed: Speed
    period: Period
    relative_error: float
    scale_V: Array
    title: str = field(default="", compare=False)

    def __post_init__(self) -> None:
        error = 0.0 if math.isnan(self.relative_error) else self.relative_error
        floor_V = max(error, _ROUNDING) * self.scale_V
        nothing = np.sqrt(np.mean(self.emf_V**2, axis=1)) < floor_V
        if nothing.any():
            emf_V = np.where(nothing[:, None], 0.0, self.emf_V)
            level_Wb = self.linkage_Wb.mean(axis=1, keepdims=True)
            linkage_Wb = np.where(nothing[:, None], level_Wb, self.linkage_Wb)
            object.__setattr__(self, "emf_V", emf_V)
            object.__setattr__(self, "linkage_Wb", linkage_Wb)

    @property
    def period_s(self) -> float:
        """Length of the period or window [s]."""
        return float(self.period.turns) * 2 * math.pi / abs(self.speed.base_rad_per_s)

    @property
    def repeats(self) -> int:
        """How often all coils repeat within the period.

        More than once where the magnets of a rotor are alike; once in a window.
        """
        if not self.period.exact:
            return 1
        return math.gcd(*(round(f * self.period_s) for f in self.frequency_Hz.tolist())) or 1


def emf_waveform(
    table: FluxTable,
    machine: Machine,
    speed: Speed,
    *,
    samples: int | None = None,
    moving: FluxTable | None = None,
) -> EmfWaveform:
    """Return the EMF of every coil at a speed.

    Parameters
    ----------
    table
        Of the machine, from `flux_table`, with enough angles for its derivative.
    machine
        Gives the rotors' start angles.
    speed
        From `crank_speed` or `rotor_speed`.
    samples
        Over the period; by default four to the shortest wave that matters.
    moving
        The table as it acts at this speed (`fieldsim.waveform.moving_flux`), from which the EMF is
        then taken; the linkage remains that at rest.

    Raises
    ------
    ImpossibleError
        If the table has too few angles to differentiate, or the number of samples is absurd.

    Notes
    -----
    EMF = -sum over rotors of d(linkage)/d(angle) times the rotor's speed, evaluated from the
    Fourier series of the table, so that the derivative is exact.
    """
    if table.rotors != tuple(r.name for r in machine.placed_rotors):
        raise ImpossibleError(
            f"the table is of rotors {', '.join(table.rotors)}, which are not the machine's"
        )
    if table.resolution() > 1e-3:
        raise ImpossibleError(_too_coarse(table, machine))
    series = _significant(table.harmonics_Wb())
    acting = series if moving is None else moving.harmonics_Wb()[:, :, : series.shape[2]]
    period = _affordable(common_period(speed.ratios), speed.ratios, series.shape[2] - 1)
    starts = np.array([r.start for r in machine.placed_rotors])
    orders = np.arange(series.shape[2])
    # A rotor that starts at an angle is its own series shifted by it.
    shift = np.exp(1j * starts[:, None] * orders)
    series, acting = series * shift, acting * shift
    turns = [r * period.turns for r in speed.ratios]
    highest = max(1, math.ceil(max(abs(float(t)) for t in turns) * (series.shape[2] - 1)))
    count = max(_FEWEST, 2 * _OVERSAMPLING * highest) if samples is None else samples
    if not 8 <= count <= _MOST:
        raise ImpossibleError(f"{count} samples is out of range; allowed: 8 to {_MOST}")
    omega = np.array(speed.rotors_rad_per_s)
    rates = -1j * orders * omega[:, None] * acting  # c_k of the EMF, in each rotor's angle
    sign = 1 if speed.base_rad_per_s > 0 else -1
    if period.exact:
        whole = [int(t) * sign for t in turns]
        linkage = sample_series(_merged(series, whole, highest), count)
        emf = sample_series(_merged(rates, whole, highest), count)
    else:
        phase = 2 * math.pi * sign * np.array([float(t) for t in turns]) / count
        linkage = _direct(series, phase, count)
        emf = _direct(rates, phase, count)
    length = float(period.turns) * 2 * math.pi / abs(speed.base_rad_per_s)
    if period.exact:
        spectrum = _merged(rates, [int(t) for t in turns], highest)
        frequency = np.array([_repeats(row) for row in np.abs(spectrum)]) / length
    else:
        frequency = _rises(emf) / length
    alone_V = np.sqrt(2.0 * (np.abs(rates[:, :, 1:]) ** 2).sum(axis=2))
    return EmfWaveform(
        table.coils,
        np.arange(count) * (length / count),
        emf,
        linkage,
        frequency,
        speed,
        period,
        float(table.relative_error.max()),  # not known stays so: NaN
        alone_V.sum(axis=1),
        table.title,
    )


def combined(waveform: EmfWaveform, weights: Mapping[str, Array]) -> EmfWaveform:
    """Return the waveforms of weighted sums of coils.

    Parameters
    ----------
    waveform
        Of the coils.
    weights
        Of each coil in a sum, by the sum's name, shape (coils,).

    Examples
    --------
    >>> from fieldsim.operation.operating_point import OperatingPoint
    >>> from fieldsim.machine_file.reader import read
    >>> two = OperatingPoint(read("geometries/two_coils.yaml"), "90 rpm", tolerance=1e-4).waveform
    >>> both = combined(two, {"added": np.array([1.0, 1.0]), "opposed": np.array([1.0, -1.0])})
    >>> both.coils, both.emf_V.shape == two.emf_V.shape
    (('added', 'opposed'), True)
    """
    each = np.array(list(weights.values())).reshape(len(weights), len(waveform.coils))
    emf_V = each @ waveform.emf_V
    if waveform.period.exact:
        count = np.array([_repeats(row) for row in np.abs(np.fft.rfft(emf_V, axis=1))])
    else:
        count = _rises(emf_V)
    return replace(
        waveform,
        coils=tuple(weights),
        emf_V=emf_V,
        linkage_Wb=each @ waveform.linkage_Wb,
        frequency_Hz=count / waveform.period_s,
        scale_V=np.abs(each) @ waveform.scale_V,
    )


def _rises(emf_V: Array) -> Array:
    """Return how often each of several waveforms passes zero upwards, (waveforms,)."""
    rising = (emf_V < 0) & (np.roll(emf_V, -1, axis=1) >= 0)
    return np.asarray(rising.sum(axis=1), dtype=np.float64)


def _too_coarse(table: FluxTable, machine: Machine) -> str:
    """Return what is wrong with a table that cannot be differentiated."""
    few = f"the table's {table.angles} angles are too few to differentiate"
    if table.angles < _ENOUGH_ANGLES:
        return f"{few}; make it with more"
    widest = max(
        ((m.radius, f"rotors.{r.name}") for r in machine.placed_rotors for m in r.magnets),
        default=(0.0, "rotors"),
    )
    where = f"{machine.file}: {widest[1]}" if machine.file else widest[1]
    return (
        f"{where}: at a radius of {widest[0] * 1e3:.3g} mm, magnets so close to a winding or so "
        f"many change its linkage too finely for {table.angles} angles a turn; a smaller radius, "
        "a wider gap or fewer magnets can be computed"
    )


def _affordable(period: Period, ratios: tuple[Fraction, ...], orders: int) -> Period:
    """Return the period, or a shorter window where a whole one needs too many samples.

    Fewer samples than its waves need would be no way out: they miss peaks and turning points.
    """
    fastest = max(abs(r) for r in ratios)
    most = Fraction(_MOST_BY_ITSELF, 2 * _OVERSAMPLING * orders) / fastest
    if period.turns <= most:
        return period
    return Period(Fraction(math.floor(most)) if most >= 1 else most, exact=False)


def _significant(series: NDArray[np.complex128]) -> NDArray[np.complex128]:
    """Return the series without the highest orders that are rounding noise in every pair."""
    size = np.abs(series[:, :, 1:])
    if not size.any():
        return series[:, :, :2]
    last = int(np.nonzero((size > 1e-15 * size.max()).any(axis=(0, 1)))[0].max()) + 1
    return series[:, :, : last + 1]


def _merged(
    series: NDArray[np.complex128], turns: list[int], highest: int
) -> NDArray[np.complex128]:
    """Add the rotors' series, each in its own angle, into one in the period's angle."""
    result = np.zeros((series.shape[0], highest + 1), dtype=np.complex128)
    result[:, 0] = series[:, :, 0].sum(axis=1)
    orders = np.arange(1, series.shape[2])
    for r, n in enumerate(turns):
        part = series[:, r, 1:]
        # A rotor that turns backwards runs through its own orders with the opposite sign.
        result[:, orders * abs(n)] += part if n > 0 else np.conj(part)
    return result


def _direct(series: NDArray[np.complex128], phase_step: Array, count: int) -> Array:
    """Sum the series at every sample, for rotors whose turns in the window are not whole.

    By 2 m k = m^2 + k^2 - (k - m)^2 the sum over orders m at samples k becomes a convolution
    (Bluestein 1970); as many samples at a time as there are orders, for phases of few turns.
    """
    from scipy.signal import fftconvolve

    coils, orders = series.shape[0], np.arange(series.shape[2])
    length = max(len(orders), _BLOCK)
    blocks, samples = math.ceil(count / length), np.arange(length)
    apart = np.arange(1 - len(orders), length)
    result = np.zeros((coils, blocks, length))
    for r, step in enumerate(phase_step.tolist()):
        begun = np.exp(1j * (length * step * np.arange(blocks))[:, None] * orders)
        begun *= np.exp(0.5j * step * orders**2)
        chirp, after = np.exp(-0.5j * step * apart**2)[None], np.exp(0.5j * step * samples**2)
        for coil in range(coils):
            wave = fftconvolve(series[coil, r] * begun, chirp, mode="valid", axes=1) * after
            result[coil] += 2 * wave.real - series[coil, r, 0].real
    return result.reshape(coils, -1)[:, :count]


def _repeats(size: Array) -> int:
    """Return how often a waveform repeats in the period, from the orders that matter."""
    matter = np.nonzero(size > 1e-4 * size.max())[0] if size.any() else np.array([1])
    return max(int(np.gcd.reduce(matter[matter > 0])) if (matter > 0).any() else 1, 1)
