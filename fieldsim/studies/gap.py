"""How the voltage falls as rotors move away from the winding along their shafts."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fieldsim.errors import ImpossibleError
from fieldsim.machine.clearance.clearances import check_collisions, rotor_to_winding_m
from fieldsim.machine.machine import Machine
from fieldsim.machine.placed import PlacedCoil, PlacedRotor
from fieldsim.waveform.emf import Speed, emf_waveform
from fieldsim.waveform.figures import NO_VOLTAGE_V, EmfFigures, emf_figures
from fieldsim.waveform.flux_table import flux_table

__all__ = ["GapFit", "GapRow", "GapStudy", "gap_study", "rotor_at_gap"]

_SAME = 1e-9  # m
_LEAST_STEP_M = 1e-4  # of the search for a place
_STEP_M = 1e-4  # the step over which sensitivity is stated
DEFAULT_GAP_TOLERANCE = 1e-5
_MANY = 8  # different gaps from which on a spline gives the slopes

Array = NDArray[np.float64]


@dataclass(frozen=True)
class GapRow:
    """One clearance and the figures of every coil at it.

    ``percent_per_tenth_mm`` is by how much each coil's RMS voltage changes for 0.1 mm more gap.
    """

    gap_m: float
    figures: dict[str, EmfFigures]
    percent_per_tenth_mm: dict[str, float]


@dataclass(frozen=True)
class GapFit:
    """An exponential through the RMS voltages: ``rms_at_zero_gap_V * exp(-gap / length)``.

    ``largest_relative_misfit`` is the largest relative deviation of a row from it.
    """

    rms_at_zero_gap_V: float
    decay_length_m: float
    largest_relative_misfit: float


@dataclass(frozen=True)
class GapStudy:
    """Rows in the order of the gaps asked for, and a fit by coil where there are three rows."""

    title: str
    file: str
    coils: tuple[str, ...]
    rotors: tuple[str, ...]
    rows: tuple[GapRow, ...]
    fits: dict[str, GapFit]
    relative_error: float


def rotor_at_gap(rotor: PlacedRotor, coils: tuple[PlacedCoil, ...], gap_m: float) -> PlacedRotor:
    """Return the rotor moved along its shaft so that its clearance to the windings is ``gap_m``.

    Of the places that have this clearance, it is the nearest to where the rotor is.

    Raises
    ------
    ImpossibleError
        If no place along the shaft has it; the message says what can be had.
    """
    from scipy.optimize import brentq

    def clearance(shift: float) -> float:
        return rotor_to_winding_m(rotor.raised(shift), coils)

    now = clearance(0.0)
    if abs(now - gap_m) < _SAME:
        return rotor
    # Along a step s the clearance changes by s at most, so no place is nearer than this one.
    for shift in (gap_m - now, now - gap_m):
        if abs(clearance(shift) - gap_m) < _SAME:
            return rotor.raised(shift)
    # Along a step s the clearance changes by s at most: a step as long as what is missing cannot
    # jump over the place, and steps grow on the way out.
    reach = 4 * (gap_m + abs(now)) + 2 * max(
        coil.length + max(coil.opening) + 2 * coil.build for coil in coils
    )
    brackets = []
    for sign in (1.0, -1.0):
        last, last_value = 0.0, now
        while abs(last) < reach:
            shift = last + sign * max(abs(last_value - gap_m), _LEAST_STEP_M)
            value = clearance(shift)
            if (value - gap_m) * (last_value - gap_m) <= 0:
                brackets.append((last, shift))
                break
            last, last_value = shift, value
    if not brackets:
        largest = clearance(reach)
        smallest = min(clearance(s) for s in np.linspace(-reach, reach, 401))
        raise ImpossibleError(
            f'rotor "{rotor.name}" has no place along its shaft with a clearance of '
            f"{gap_m * 1e3:.4g} mm; it can have {smallest * 1e3:.4g} mm to "
            f"{largest * 1e3:.4g} mm and more"
        )
    places = [brentq(lambda s: clearance(s) - gap_m, a, b, xtol=1e-10) for a, b in brackets]
    return rotor.raised(min(places, key=abs))


def _moved(geometry: Machine, names: Sequence[str], gap_m: float) -> Machine:
    rotors = tuple(
        rotor_at_gap(r, geometry.coils, gap_m) if r.name in names else r for r in geometry.rotors
    )
    moved = geometry.with_rotors(rotors)
    try:
        check_collisions(moved)
    except ImpossibleError as error:
        raise ImpossibleError(f"at a gap of {gap_m * 1e3:.4g} mm, {error}") from None
    return moved


def gap_study(
    geometry: Machine,
    gaps_m: Sequence[float],
    speed: Callable[[Machine], Speed],
    *,
    rotors: Sequence[str] | None = None,
    tolerance: float = DEFAULT_GAP_TOLERANCE,
    progress: Callable[[int, int], None] | None = None,
) -> GapStudy:
    """Return the figures at each clearance between magnets and winding.

    Parameters
    ----------
    geometry
        The machine.
    gaps_m
        Clearances [m], above zero.
    speed
        Turns a geometry into the speeds of its rotors.
    rotors
        Names of the rotors to move; by default all, each to the same clearance.
    tolerance
        Of the flux tables, relative to peak-to-peak.
    progress
        Called with (rows done, rows in all).

    Raises
    ------
    ImpossibleError
        If a clearance is not above zero, cannot be reached by moving along the shaft, or makes
        parts collide; or if a name is unknown.
    """
    known = [r.name for r in geometry.rotors]
    names = list(rotors) if rotors else known
    for name in names:
        if name not in known:
            raise ImpossibleError(f'no rotor is called "{name}"; there are: {", ".join(known)}')
    if not gaps_m:
        raise ImpossibleError("there are no gaps to study; give at least one")
    for gap in gaps_m:
        if not 1e-6 <= gap <= 1.0:
            raise ImpossibleError(
                f"a gap of {gap * 1e3:.4g} mm is out of range; allowed: 0.001 mm to 1000 mm"
            )
    machines = [_moved(geometry, names, gap) for gap in gaps_m]
    # Many rows tell the slope between them; of a few, each needs a neighbour of its own.
    many = len(set(gaps_m)) >= _MANY
    wider = [] if many else [_moved(geometry, names, gap + _STEP_M) for gap in gaps_m]
    figures, errors = [], []
    for machine in (*machines, *wider):
        table = flux_table(machine, tolerance=tolerance)
        waveform = emf_waveform(table, machine, speed(machine))
        figures.append(emf_figures(waveform))
        errors.append(waveform.relative_error)
        if progress is not None:
            progress(len(figures), len(machines) + len(wider))
    count, coils = len(machines), tuple(c.name for c in geometry.coils)
    if many:
        changes = _changes_along(np.array(gaps_m, dtype=float), figures)
    else:
        changes = [_changes(figures[i], figures[count + i]) for i in range(count)]
    rows = tuple(GapRow(float(gap), figures[i], changes[i]) for i, gap in enumerate(gaps_m))
    fits = {}
    if len(set(gaps_m)) >= 3:
        for coil in coils:
            volts = np.array([row.figures[coil].rms_V for row in rows])
            if volts.min() > NO_VOLTAGE_V:
                fits[coil] = _fit(np.array(gaps_m, dtype=float), volts)
    return GapStudy(geometry.title, geometry.file, coils, tuple(names), rows, fits, max(errors))


def _changes(near: dict[str, EmfFigures], far: dict[str, EmfFigures]) -> dict[str, float]:
    """Return by how many percent each coil's RMS voltage changes over the step."""
    return {
        coil: 100.0 * (far[coil].rms_V / f.rms_V - 1.0) if f.rms_V > NO_VOLTAGE_V else 0.0
        for coil, f in near.items()
    }


def _changes_along(gaps: Array, figures: list[dict[str, EmfFigures]]) -> list[dict[str, float]]:
    """Return the changes over the step from a cubic spline through the rows' logarithms."""
    from scipy.interpolate import CubicSpline

    order = np.unique(gaps, return_index=True)[1]
    result: list[dict[str, float]] = [{} for _ in gaps]
    for coil in figures[0]:
        volts = np.array([f[coil].rms_V for f in figures])
        if volts.min() <= NO_VOLTAGE_V:
            change = np.zeros(len(gaps))
        else:
            spline = CubicSpline(gaps[order], np.log(volts[order]))
            change = 100.0 * np.expm1(spline(gaps + _STEP_M) - spline(gaps))
        for row, value in zip(result, change, strict=True):
            row[coil] = float(value)
    return result


def _fit(gaps: Array, volts: Array) -> GapFit:
    """Return the exponential through the logarithms of the voltages, by least squares."""
    slope, level = np.polyfit(gaps, np.log(volts), 1)
    model = np.exp(level + slope * gaps)
    length = -1.0 / slope if slope < 0 else math.inf
    return GapFit(float(np.exp(level)), float(length), float(np.abs(model / volts - 1).max()))
