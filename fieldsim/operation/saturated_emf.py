"""EMF with iron that saturates: what the linear answer loses, solved cell by cell.

Cells tell how much less the iron takes up than it would without saturation; both with the same
cells, set right by what is known of linear iron, so that most of what cells get wrong leaves with
the difference. That is then taken off the linear linkage, which is far better known than cells
could tell it.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from fieldsim.errors import ImpossibleError
from fieldsim.field.force.turning_field import repeats_in_a_turn
from fieldsim.field.iron.cell_linkage import CellLinkage
from fieldsim.field.iron.iron_cells import FEWEST_OF_A_PIECE, iron_cells
from fieldsim.field.linkage.series import sample_series
from fieldsim.machine.iron import Core
from fieldsim.machine.machine import Machine
from fieldsim.machine.part import replaced
from fieldsim.machine.placed import PlacedRotor
from fieldsim.operation.machine_at_speed import MachineAtSpeed
from fieldsim.operation.terminal_voltage import connection_waveform
from fieldsim.waveform.emf import EmfWaveform, emf_waveform
from fieldsim.waveform.figures import EmfFigures, emf_figures, rms
from fieldsim.waveform.flux_table import flux_table
from fieldsim.waveform.period import common_period

__all__ = ["SaturatedEmf", "saturated_emf"]

Array = NDArray[np.float64]
Progress = Callable[[int, int], None]

_CELLS, _FEWER = 600, 200
_ANGLES = 24  # to begin with, of what repeats within the fastest rotor's turn
_MOST_ANGLES = 1024
_MOST_FIELDS = 20_000  # of a magnet at an angle, each at all points of the cells
_SAME = 5e-4  # of the RMS, by which twice the angles may change it
_LEAST = 0.01  # of what saturation takes: fine and rough cells may agree by chance


@dataclass(frozen=True, eq=False)
class SaturatedEmf:
    """EMF of every coil with iron that saturates, nothing connected.

    Parameters
    ----------
    linear, waveform
        With linear iron and with iron that saturates.
    rough
        As ``waveform``, with a third of the cells.
    machine
        Whose EMF it is.
    cells, angles
        How many were solved for, of iron and in the repeat.
    angle_error
        Largest part of its RMS by which the last doubling of the angles changed a coil's.
    speed_shift
        Largest relative change of a rotor's speed, where all else would not soon repeat.
    """

    linear: EmfWaveform
    waveform: EmfWaveform
    rough: EmfWaveform = field(repr=False)
    machine: Machine = field(repr=False)
    cells: int
    angles: int
    angle_error: float
    speed_shift: float

    @cached_property
    def figures(self) -> dict[str, EmfFigures]:
        """Figures of the EMF with iron that saturates, by coil."""
        return emf_figures(self.waveform)

    @cached_property
    def connection_figures(self) -> dict[str, EmfFigures | None]:
        """The same of joined coils; None where coils in parallel lack wire."""
        known = emf_figures(self._joined(self.waveform))
        return {each.name: known.get(each.name) for each in self.machine.connections}

    @cached_property
    def changes(self) -> dict[str, SaturationChange]:
        """By how much saturation changes the figures, by coil and connection that has any."""
        linear, now, rough = self._told(self.linear), self.told, self._told(self.rough)
        found = {}
        for name, before in linear.items():
            after = now[name]
            if before.rms_V > 0.0:
                doubt = abs(after.rms_V - rough[name].rms_V)
                doubt = max(doubt, _LEAST * abs(after.rms_V - before.rms_V)) / before.rms_V
                found[name] = SaturationChange(
                    after.peak_V / before.peak_V - 1.0,
                    after.rms_V / before.rms_V - 1.0,
                    after.peak_to_peak_linkage_Wb / before.peak_to_peak_linkage_Wb - 1.0,
                    doubt + self.angle_error,
                )
        return found

    @cached_property
    def told(self) -> dict[str, EmfFigures]:
        """Figures of coils and connections with iron that saturates."""
        return self._told(self.waveform)

    def _told(self, waveform: EmfWaveform) -> dict[str, EmfFigures]:
        return {**emf_figures(waveform), **emf_figures(self._joined(waveform))}

    def _joined(self, waveform: EmfWaveform) -> EmfWaveform:
        return connection_waveform(waveform, self.machine)


@dataclass(frozen=True)
class SaturationChange:
    """By how much saturation changes what a coil gives, each as a share of the linear answer.

    Parameters
    ----------
    peak_share, rms_share, swing_share
        Of the largest EMF, the RMS and the linkage's swing; negative where it takes some.
    rms_share_error
        Estimated error of ``rms_share``, from fewer cells and fewer angles.
    """

    peak_share: float
    rms_share: float
    swing_share: float
    rms_share_error: float


def saturated_emf(point: MachineAtSpeed, progress: Progress | None = None) -> SaturatedEmf:
    """Return the EMF with iron that saturates.

    Parameters
    ----------
    point
        The machine at its speed.
    progress
        Called with (done, in all), as far as that is known.

    Raises
    ------
    ImpossibleError
        If no iron has a saturation, the rotors come back together too late, or there are more
        pieces than cells to share out.

    Notes
    -----
    What saturation takes is worked out at rest: of eddy currents there is what the linear answer
    knows. The coils' own currents are left out, some hundredths of the magnets' field. Iron on a
    rotor is round about its shaft and without memory, so that its cells may stand still.

    Examples
    --------
    >>> from fieldsim.machine_file.reader import read
    >>> from fieldsim.operation.operating_point import OperatingPoint
    >>> machine = read("geometries/bolt_beside_magnets.yaml")
    >>> found = saturated_emf(OperatingPoint(machine, "60 rpm", tolerance=1e-3))
    >>> -0.02 < found.changes["pickup"].rms_share < -0.005
    True
    """
    machine = point.machine
    pieces = [piece for piece in machine.placed_iron if piece.material.susceptibility > 0]
    if not any(piece.material.saturation is not None for piece in pieces):
        raise ImpossibleError(_nothing_saturates(machine))
    if len(pieces) * FEWEST_OF_A_PIECE > _CELLS:
        raise ImpossibleError(
            f"iron: saturation is solved for with at most {_CELLS} cells, "
            f"{FEWEST_OF_A_PIECE} a piece or more; {len(pieces)} pieces are too many"
        )
    linear = point.machine_emf.waveform
    turns, count, most = _repeat(machine.placed_rotors, linear)
    repeats = round(linear.period.turns / turns)
    counter = itertools.count(1)

    def step() -> None:
        done = next(counter)
        if progress is not None:
            progress(done, done)

    sense = 1 if linear.speed.base_rad_per_s > 0 else -1
    turned = [sense * float(ratio * turns) for ratio in linear.speed.ratios]
    fine, rough = (
        CellLinkage.of(iron_cells(pieces, cells), machine.placed_coils, machine.placed_rotors)
        for cells in (_CELLS, _FEWER)
    )
    share = np.fft.rfft(_iron_share_Wb(point, linear), axis=1)[:, ::repeats] / len(linear.time_s)

    def left(found_Wb: Array) -> EmfWaveform:
        known_Wb = sample_series(share, found_Wb.shape[2])
        return _less(linear, _lost_Wb(found_Wb, known_Wb), repeats)

    found_Wb = fine.at(_angles(machine, turned, _places(count)), step)
    now = left(found_Wb)
    angle_error = math.inf
    while angle_error > _SAME and 2 * count <= most:
        before = now
        between = fine.at(_angles(machine, turned, _places(count) + 0.5 / count), step)
        count *= 2
        found_Wb = np.stack([found_Wb, between], axis=3).reshape(*found_Wb.shape[:2], count)
        now = left(found_Wb)
        angle_error = _moved(linear, before, now)
    roughly = left(rough.at(_angles(machine, turned, _places(count)), step))
    return SaturatedEmf(
        linear, now, roughly, machine, len(fine.system.cells), count, angle_error,
        point.machine_emf.speed_shift,
    )  # fmt: skip


def _nothing_saturates(machine: Machine) -> str:
    if not machine.placed_iron:
        return "there is no iron in this machine, and so none that saturates"
    return (
        "no iron of this machine has a saturation; give its material one, like "
        "{permeability: 500, saturation: 2 T}"
    )


def _places(count: int) -> Array:
    return np.asarray(np.arange(count) / count)


def _angles(machine: Machine, turned: Sequence[float], places: Array) -> Array:
    """Return the rotors' angles at places of the repeat from 0 to 1 [rad], (rotors, places)."""
    starts = np.array([rotor.start for rotor in machine.placed_rotors])
    return np.asarray(starts[:, None] + math.tau * np.outer(turned, places))


def _moved(linear: EmfWaveform, before: EmfWaveform, now: EmfWaveform) -> float:
    """Return the largest change of a coil's RMS, as a part of its linear one."""
    size = rms(linear.emf_V)
    change = np.abs(rms(now.emf_V) - rms(before.emf_V))
    return float(np.divide(change, size, out=np.zeros_like(size), where=size > 0).max())


def _lost_Wb(found_Wb: Array, known_Wb: Array) -> Array:
    """Return what coils lose of their linkage, but for a constant [Wb], (coils, places).

    Parameters
    ----------
    found_Wb
        From `fieldsim.field.iron.cell_linkage.CellLinkage.at`.
    known_Wb
        What linear iron adds to the linkage, (coils, places).

    Notes
    -----
    Evenly magnetised cells demagnetise themselves too well, the more so the larger they are. How
    much too well is told by linear iron, whose answer is known; then it is set right in both.
    """
    linear, saturated, more, more_saturated = found_Wb - found_Wb.mean(axis=2, keepdims=True)
    missing = known_Wb - known_Wb.mean(axis=1, keepdims=True) - linear
    grows = float((more**2).sum())
    excess = float((missing * more).sum()) / grows if grows > 0.0 else 0.0
    return np.asarray(linear - saturated + np.clip(excess, 0.0, 1.0) * (more - more_saturated))


def _iron_share_Wb(point: MachineAtSpeed, linear: EmfWaveform) -> Array:
    """Return what linear iron adds to the linkage of a waveform [Wb], (coils, samples)."""
    machine = point.machine
    bare = replaced(
        machine, coils=tuple(replaced(coil, core=Core()) for coil in machine.coils), iron=()
    )
    table = flux_table(bare, tolerance=point.tolerance, book=point.books.curves)
    without = emf_waveform(table, bare, linear.speed, samples=len(linear.time_s))
    return linear.linkage_Wb - without.linkage_Wb


def _less(linear: EmfWaveform, lost_Wb: Array, repeats: int) -> EmfWaveform:
    """Return a waveform with what is lost taken off, which repeats some times within it."""
    count = len(linear.time_s)
    some = np.fft.rfft(lost_Wb, axis=1)[:, : (lost_Wb.shape[1] + 1) // 2] / lost_Wb.shape[1]
    series = np.zeros((len(some), repeats * (some.shape[1] - 1) + 1), dtype=np.complex128)
    series[:, ::repeats] = some
    rates = 2j * math.pi / linear.period_s * np.arange(series.shape[1]) * series
    return replace(
        linear,
        linkage_Wb=linear.linkage_Wb - sample_series(series, count),
        emf_V=linear.emf_V + sample_series(rates, count),
    )


def _repeat(rotors: Sequence[PlacedRotor], linear: EmfWaveform) -> tuple[Fraction, int, int]:
    """Return the base turns until all magnets stand as before, angles to begin with, and at most.

    Raises
    ------
    ImpossibleError
        If that are too many.
    """
    alike = [repeats_in_a_turn(rotor) for rotor in rotors]
    steps = [ratio * n for ratio, n in zip(linear.speed.ratios, alike, strict=True)]
    turns = common_period(steps).turns
    count = _ANGLES * math.ceil(max(abs(step) for step in steps) * turns)
    magnets = sum(len(rotor.magnets) for rotor in rotors)
    most = min(_MOST_ANGLES, _MOST_FIELDS // max(magnets, 1))
    if 2 * count > most:
        raise ImpossibleError(
            f"rotors: until their {magnets} magnets stand as before, saturation would be solved "
            f"for at {2 * count} angles; at most {most} are: gear them by smaller whole numbers, "
            "or space like magnets evenly"
        )
    return turns, count, most
