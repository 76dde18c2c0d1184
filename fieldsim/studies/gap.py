"""How the voltage falls as the clearance between magnets and winding grows."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from fieldsim.errors import ImpossibleError
from fieldsim.operation.company import in_company
from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.studies.blocked_rows import all_or_why
from fieldsim.waveform.figures import NO_VOLTAGE_V, EmfFigures
from fieldsim.waveform.machine_size import refuse_many

__all__ = ["GapFit", "GapRow", "GapStudy", "gap_study"]

_STEP_M = 1e-4  # the step over which sensitivity is stated
_MANY = 8  # different gaps from which on a spline gives the slopes

Array = NDArray[np.float64]


@dataclass(frozen=True)
class GapRow:
    """One clearance and the figures of every coil and connection at it.

    ``percent_per_tenth_mm`` is by how much each RMS voltage changes for 0.1 mm more gap. A
    connection has no figures where coils in parallel lack wire.
    """

    gap_m: float
    figures: dict[str, EmfFigures]
    percent_per_tenth_mm: dict[str, float]
    connections: dict[str, EmfFigures | None] = field(default_factory=dict)

    @property
    def told(self) -> dict[str, EmfFigures]:
        """Figures of coils, then of those connections that have some."""
        joined = {name: f for name, f in self.connections.items() if f is not None}
        return {**self.figures, **joined}


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
    """Rows in the order of the gaps asked for, and fits where there are three rows.

    A fit belongs to a coil or to a connection, by name.
    """

    title: str
    file: str
    coils: tuple[str, ...]
    rotors: tuple[str, ...]
    rows: tuple[GapRow, ...]
    fits: dict[str, GapFit]
    relative_error: float
    connections: tuple[str, ...] = ()

    @property
    def told(self) -> tuple[str, ...]:
        """Names of coils, then of those connections that have figures."""
        return tuple(self.rows[0].told)


def gap_study(
    point: OperatingPoint,
    gaps_m: Sequence[float],
    rotors: Sequence[str] = (),
    progress: Callable[[int, int], None] | None = None,
) -> GapStudy:
    """Return the figures at each clearance between magnets and winding.

    Parameters
    ----------
    point
        The machine at its speed.
    gaps_m
        Smallest clearances [m], above zero; see
        `fieldsim.machine.clearance.clearance_change.with_clearance`.
    rotors
        Names of the rotors to move, each to the same clearance; by default all magnets move
        together.
    progress
        Called with (rows done, rows in all).

    Raises
    ------
    ImpossibleError
        If clearances are not above zero, cannot be reached, or make parts collide, with a line for
        each; or if a name is unknown.
    """
    machine = point.machine
    known = [r.name for r in machine.rotors]
    for name in rotors:
        if name not in known:
            raise ImpossibleError(f'no rotor is called "{name}"; there are: {", ".join(known)}')
    if not gaps_m:
        raise ImpossibleError("there are no gaps to study; give at least one")
    for gap in gaps_m:
        if not 1e-6 <= gap <= 1.0:
            raise ImpossibleError(
                f"a gap of {gap * 1e3:.4g} mm is out of range; allowed: 0.001 mm to 1000 mm"
            )
    # Many rows tell the slope between them; of a few, each needs a neighbour of its own.
    many = len(set(gaps_m)) >= _MANY
    refuse_many(machine, point.tolerance, len(gaps_m) * (1 if many else 2))
    paths = [f"rotors.{name}.clearance" for name in rotors] or ["clearance"]

    def at(gap_m: float) -> OperatingPoint:
        try:
            return point.changed(dict.fromkeys(paths, gap_m))
        except ImpossibleError as error:
            problem = error.lines[0].removeprefix(f"{machine.file}: ")
            raise ImpossibleError(f"at a gap of {gap_m * 1e3:.4g} mm, {problem}") from None

    points = all_or_why(at, gaps_m)
    wider = [] if many else all_or_why(at, [gap + _STEP_M for gap in gaps_m])
    found, errors = [], []
    for gap, each in zip((*gaps_m, *gaps_m), in_company((*points, *wider)), strict=False):
        found.append(GapRow(float(gap), each.figures, {}, each.connection_figures))
        errors.append(each.waveform.relative_error)
        if progress is not None:
            progress(len(found), len(points) + len(wider))
    told = [row.told for row in found]
    count, gaps = len(points), np.array(gaps_m, dtype=float)
    if many:
        changes = _changes_along(gaps, told)
    else:
        changes = [_changes(told[i], told[count + i]) for i in range(count)]
    rows = tuple(
        replace(row, percent_per_tenth_mm=change)
        for row, change in zip(found, changes, strict=False)
    )
    fits = {}
    if len(set(gaps_m)) >= 3:
        for name in told[0]:
            volts = np.array([row.told[name].rms_V for row in rows])
            if volts.min() > NO_VOLTAGE_V:
                fits[name] = _fit(gaps, volts)
    return GapStudy(
        machine.title,
        machine.file,
        tuple(coil.name for coil in machine.coils),
        tuple(rotors) or tuple(known),
        rows,
        fits,
        max(errors),
        tuple(connection.name for connection in machine.connections),
    )


def _changes(near: dict[str, EmfFigures], far: dict[str, EmfFigures]) -> dict[str, float]:
    """Return by how many percent each RMS voltage changes over the step."""
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
