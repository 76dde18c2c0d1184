"""The flux-versus-angle table: linkage of every coil with every rotor over one rotor turn."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from fieldsim.errors import ImpossibleError
from fieldsim.field.iron.coil_iron import CoilIron
from fieldsim.field.linkage.curve_book import CurveBook
from fieldsim.field.linkage.pair_linkage import curves_of, pair_linkage, sample_series
from fieldsim.field.linkage.track import CoilInRotor, Track
from fieldsim.machine.machine import Machine
from fieldsim.waveform.machine_size import refuse_large

__all__ = ["MOST_NUMBERS", "FluxTable", "coil_iron", "flux_table", "learn_curves", "tolerance_for"]

Array = NDArray[np.float64]
Progress = Callable[[int, int], None]  # pairs done, pairs in all

DEFAULT_TOLERANCE = 1e-6
IRON_TOLERANCE = 1e-4  # nodes on iron are dear, and its permeability is a guess
_LOOSEST, _TIGHTEST = 1e-2, 1e-11
_MOST_ANGLES = 1_000_000
MOST_NUMBERS = 10_000_000
"""Linkages of a table: more, and what is made of them, do not fit in a small memory."""


@dataclass(frozen=True)
class FluxTable:
    """Flux linkage against rotor angle.

    Parameters
    ----------
    coils, rotors
        Names, in the order of the machine.
    linkage_Wb
        Shape (coils, rotors, angles); the angles are equal steps from 0 over one rotor turn.
    relative_error
        Estimated largest error over each pair's peak-to-peak, shape (coils, rotors); all NaN where
        they are not known, as in a table read from CSV.
    title
        Of the machine.

    Raises
    ------
    ValueError
        If a shape does not fit the names, a name comes twice, or an error is below zero or not a
        number.

    Notes
    -----
    Angle is each rotor's own, from its ``zero`` direction; ``start`` and gearing come in later.

    Examples
    --------
    >>> import numpy as np
    >>> angle = 2 * np.pi * np.arange(8) / 8
    >>> table = FluxTable(("coil",), ("rotor",), np.sin(angle)[None, None], np.zeros((1, 1)))
    >>> bool(np.allclose(table.derivative_Wb_per_rad()[0, 0], np.cos(angle)))
    True
    """

    coils: tuple[str, ...]
    rotors: tuple[str, ...]
    linkage_Wb: Array
    relative_error: Array
    title: str = field(default="", compare=False)

    def __post_init__(self) -> None:
        expected = (len(self.coils), len(self.rotors))
        if self.linkage_Wb.ndim != 3 or self.linkage_Wb.shape[:2] != expected:
            raise ValueError(
                f"linkage_Wb has shape {self.linkage_Wb.shape}; it needs (coils, rotors, angles) "
                f"with {expected[0]} coils and {expected[1]} rotors"
            )
        if self.relative_error.shape != expected:
            raise ValueError(
                f"relative_error has shape {self.relative_error.shape}; it needs {expected}, a "
                "number for each coil and rotor"
            )
        for kind, names in (("coil", self.coils), ("rotor", self.rotors)):
            twice = next((name for name in names if names.count(name) > 1), None)
            if twice is not None:
                raise ValueError(f'two {kind}s are called "{twice}"')
        for array in (self.linkage_Wb, self.relative_error):
            if array.dtype.kind != "f":
                raise ValueError("linkages and errors are real numbers")
        unknown = np.isnan(self.relative_error)
        if not unknown.all() and not (np.isfinite(self.relative_error).all()):
            raise ValueError("relative_error is not a finite number for every coil and rotor")
        if (self.relative_error < 0).any():
            raise ValueError("relative_error is below zero")
        for array in (self.linkage_Wb, self.relative_error):
            array.flags.writeable = False

    def __eq__(self, other: object) -> bool:
        """Return whether names and every number agree exactly."""
        if not isinstance(other, FluxTable):
            return NotImplemented
        return (
            self.coils == other.coils
            and self.rotors == other.rotors
            and np.array_equal(self.linkage_Wb, other.linkage_Wb)
            and np.array_equal(self.relative_error, other.relative_error, equal_nan=True)
        )

    __hash__ = None  # type: ignore[assignment]

    @property
    def angles(self) -> int:
        """Number of angles a turn."""
        return int(self.linkage_Wb.shape[2])

    @property
    def rotor_angle_deg(self) -> Array:
        """Rotor angles [degree], shape (angles,)."""
        return np.arange(self.angles) * 360.0 / self.angles

    @property
    def rotor_angle_rad(self) -> Array:
        """Rotor angles [rad], shape (angles,)."""
        return np.asarray(np.arange(self.angles) * (2 * math.pi / self.angles))

    @property
    def peak_to_peak_Wb(self) -> Array:
        """Largest less smallest linkage in the table, shape (coils, rotors)."""
        return np.asarray(np.ptp(self.linkage_Wb, axis=2))

    def harmonics_Wb(self) -> NDArray[np.complex128]:
        """Return c_k of linkage = c_0 + 2 Re sum c_k exp(i k angle), (coils, rotors, K + 1).

        K is the highest order that the number of angles can tell, (angles - 1) // 2.
        """
        return self._harmonics_Wb

    @cached_property
    def _harmonics_Wb(self) -> NDArray[np.complex128]:
        orders = (self.angles + 1) // 2
        spectrum = np.fft.rfft(self.linkage_Wb, axis=2)[:, :, :orders] / self.angles
        spectrum.flags.writeable = False
        return np.asarray(spectrum)

    def derivative_Wb_per_rad(self) -> Array:
        """Return d(linkage)/d(rotor angle) at the table's angles, of the same shape.

        Spectral: exact for all orders that the angles can tell.
        """
        harmonics = self.harmonics_Wb()
        k = np.arange(harmonics.shape[2])
        return sample_series(1j * k * harmonics, self.angles)

    def resolution(self) -> float:
        """Return the size of the highest orders beside the largest: how well angles resolve it.

        Near rounding (1e-12) is perfect; above 1e-3 the spectral derivative is doubtful.
        """
        size = np.abs(self.harmonics_Wb())[:, :, 1:]
        if size.shape[2] < 4 or not size.any():
            return 1.0 if size.shape[2] < 4 else 0.0
        tail = size[:, :, -max(size.shape[2] // 8, 1) :].max(axis=2)
        return float(tail.max() / size.max())


def coil_iron(machine: Machine) -> CoilIron:
    """Return the iron of a machine, to be solved for when it is first asked for."""
    return CoilIron(machine.placed_iron, machine.placed_coils, machine.placed_rotors)


def tolerance_for(machine: Machine, usual: float = DEFAULT_TOLERANCE) -> float:
    """Return the error of the linkage that is asked for if nobody says otherwise.

    Parameters
    ----------
    machine
        With iron it is 1e-4 of the swing at least.
    usual
        Without iron.
    """
    return max(usual, IRON_TOLERANCE) if coil_iron(machine) else usual


def flux_table(
    machine: Machine,
    *,
    angles: int | None = None,
    tolerance: float | None = None,
    progress: Progress | None = None,
    iron: CoilIron | None = None,
    book: CurveBook | None = None,
) -> FluxTable:
    """Return the flux-versus-angle table of a machine.

    Parameters
    ----------
    machine
        The machine.
    angles
        How many equal steps a turn to list; by default as many as the tolerance needs, at least
        360. The values do not depend on it: they are read off one converged series.
    tolerance
        Largest error asked for, relative to each curve's peak-to-peak; by default what
        `tolerance_for` says.
    progress
        Called with (pairs done, pairs in all) as the work goes on.
    iron
        Of this machine, if it is solved for already.
    book
        Curves of other machines, which are not computed again where they come again.

    Raises
    ------
    ImpossibleError
        If the number of angles or the tolerance is outside what can be done, or the machine takes
        more numbers than a small computer holds.
    """
    if angles is not None and not 4 <= angles <= _MOST_ANGLES:
        raise ImpossibleError(f"{angles} angles is out of range; allowed: 4 to {_MOST_ANGLES}")
    tolerance = tolerance_for(machine) if tolerance is None else tolerance
    if not _TIGHTEST <= tolerance <= _LOOSEST:
        raise ImpossibleError(
            f"tolerance {tolerance:g} is out of range; allowed: {_TIGHTEST:g} to {_LOOSEST:g}"
        )
    iron = coil_iron(machine) if iron is None else iron
    book = CurveBook() if book is None else book
    in_all = len(machine.placed_coils) * len(machine.placed_rotors)
    if angles is not None and angles * in_all > MOST_NUMBERS:
        raise ImpossibleError(
            f"{angles} angles of {in_all} pairs of coil and rotor are more than {MOST_NUMBERS} "
            f"numbers; allowed here: up to {MOST_NUMBERS // in_all} angles"
        )
    refuse_large(machine, tolerance)
    pairs = []
    for coil in machine.placed_coils:
        for rotor in machine.placed_rotors:
            pairs.append(pair_linkage(coil, rotor, tolerance, iron, book))
            if progress is not None:
                progress(len(pairs), in_all)
    count = angles or max(360, *(pair.angles for pair in pairs))
    shape = (len(machine.placed_coils), len(machine.placed_rotors))
    linkage = np.array([sample_series(pair.harmonics_Wb, count) for pair in pairs])
    error = np.array([pair.relative_error for pair in pairs])
    return FluxTable(
        tuple(c.name for c in machine.placed_coils),
        tuple(r.name for r in machine.placed_rotors),
        linkage.reshape(*shape, count),
        error.reshape(shape),
        machine.title,
    )


def learn_curves(machines: Iterable[tuple[Machine, float]], book: CurveBook) -> None:
    """Make the curves of several machines' tables together, which takes less than one by one.

    Parameters
    ----------
    machines
        With the tolerance of each; those that are too large are left to `flux_table` to refuse.
    book
        That `flux_table` is given then.

    Examples
    --------
    >>> from fieldsim.machine_file.reader import read
    >>> machine, book = read("geometries/one_rotor.yaml"), CurveBook()
    >>> rows = [machine.changed({"clearance": gap}) for gap in ("2 mm", "4 mm")]
    >>> learn_curves([(row, 1e-4) for row in rows], book)
    >>> near, far = (flux_table(row, tolerance=1e-4, book=book) for row in rows)
    >>> len(book.curves), bool(near.peak_to_peak_Wb > far.peak_to_peak_Wb)
    (2, True)
    """
    asked: list[tuple[Track, CoilInRotor, float]] = []
    for machine, tolerance in machines:
        try:
            refuse_large(machine, tolerance)
        except ImpossibleError:
            continue
        for coil in machine.placed_coils:
            for rotor in machine.placed_rotors:
                asked += curves_of(coil, rotor, tolerance)
    book.learn(asked)
