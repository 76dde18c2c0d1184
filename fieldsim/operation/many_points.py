"""Many machines at their speeds at once: what each gives, as arrays."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, field
from functools import cached_property, partial
from typing import Any, TypeVar, overload

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fieldsim.circuit.emf_source import PeriodicEmf
from fieldsim.circuit.network import Circuit
from fieldsim.circuit.tolerances import TOLERANCE
from fieldsim.errors import FieldsimError, ImpossibleError
from fieldsim.machine.machine import Machine
from fieldsim.operation.books import Books
from fieldsim.operation.company import TOGETHER
from fieldsim.operation.electric_side import why_open
from fieldsim.operation.machine_at_speed import crank_rad_per_s
from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.operation.pieces import in_order
from fieldsim.waveform.emf import crank_speed, rotor_speed
from fieldsim.waveform.flux_table import learn_curves

__all__ = ["OperatingPoints", "Variants", "operating_points", "turned_as"]

Array = NDArray[np.float64]
Progress = Callable[[int, int], None]

PIECE = 200
"""How many machines are worked on together: the same however many workers there are."""


_OF_COILS = ("peak_V", "rms_V", "rectified_mean_V", "frequency_Hz", "peak_to_peak_linkage_Wb")
_OF_LOAD = (
    "lamps",
    "lamp_current_A",
    "lamp_peak_current_A",
    "visible_current_A",
    "rated_current_A",
    "coil_current_A",
    "coil_heat_W",
    "source_power_W",
    "load_W",
    "useful_power_W",
)
_OF_OUTLET = ("terminal_rms_V", "dc_voltage_V")
# All arrays, and what they run over besides the machines.
_SHAPES: dict[str, tuple[str, ...]] = {
    **dict.fromkeys(("clearance_m", "relative_error"), ()),
    **dict.fromkeys((*_OF_COILS, "resistance_ohm", "coil_current_A", "coil_heat_W"), ("coils",)),
    "inductance_H": ("coils", "coils"),
    **dict.fromkeys([name for name in _OF_LOAD if name.startswith("lamp_")], ("lamps",)),
    **dict.fromkeys(("visible_current_A", "rated_current_A"), ("lamps",)),
    **dict.fromkeys(("source_power_W", "load_W", "useful_power_W", *_OF_OUTLET), ()),
}


class Variants(Sequence[Machine]):
    """Machines that differ from one in the values at some paths, made when they are asked for.

    Parameters
    ----------
    machine
        The one.
    changes
        For each, what `Machine.changed` takes.

    Examples
    --------
    >>> from fieldsim.machine_file.reader import read
    >>> machine = read("geometries/one_rotor.yaml")
    >>> wider = Variants(machine, [{"clearance": f"{mm} mm"} for mm in (3, 4, 5)])
    >>> len(wider), round(wider[2].placed_rotors[0].magnets[0].height, 6)
    (3, 0.0135)
    """

    def __init__(self, machine: Machine, changes: Sequence[Mapping[str, Any]]) -> None:
        self.machine, self.changes = machine, list(changes)

    def __len__(self) -> int:
        return len(self.changes)

    @overload
    def __getitem__(self, index: int) -> Machine: ...

    @overload
    def __getitem__(self, index: slice) -> Variants: ...

    def __getitem__(self, index: int | slice) -> Machine | Variants:
        """Return one machine, or some of the variants.

        Raises
        ------
        ImpossibleError
            If there is no such machine.
        """
        if isinstance(index, slice):
            return Variants(self.machine, self.changes[index])
        changes = self.changes[index]
        return self.machine.changed(changes) if changes else self.machine


@dataclass(frozen=True, eq=False)
class OperatingPoints:
    """Machines of one kind at their speeds.

    All arrays have the machines along their first axis; what a machine has not, for want of a
    load, of wire or of room between its parts, is NaN.

    Parameters
    ----------
    machines
        As given.
    speed_rad_per_s
        Of each crank, or of a rotor of ratio one, (machines,).
    coils, lamps
        Names of the coils, and labels of the groups of equal lamps, the same for all.
    problems
        Why a machine cannot be; empty where it can.
    clearance_m
        Smallest distance between parts that move past each other.
    peak_V, rms_V, rectified_mean_V, frequency_Hz, peak_to_peak_linkage_Wb
        Of the open coils, (machines, coils).
    relative_error
        Of the flux linkage.
    resistance_ohm
        Of each coil, (machines, coils).
    inductance_H
        (machines, coils, coils).
    lamp_current_A, lamp_peak_current_A
        Average and greatest forward current of each lamp of a group, (machines, lamps).
    visible_current_A, rated_current_A
        From which a lamp is plainly seen, and what it bears for long, (machines, lamps).
    coil_current_A, coil_heat_W
        RMS current and average loss of each coil, (machines, coils).
    source_power_W, load_W, useful_power_W
        Average power of the EMFs, out of the coils, and into lamps (or resistors without lamps).
    terminal_rms_V, dc_voltage_V
        Across what the load hangs on, with it; behind its bridge, on average.
    """

    machines: Sequence[Machine] = field(repr=False)
    speed_rad_per_s: Array = field(repr=False)
    coils: tuple[str, ...]
    lamps: tuple[str, ...]
    problems: tuple[str, ...] = field(repr=False)
    clearance_m: Array = field(repr=False)
    peak_V: Array = field(repr=False)
    rms_V: Array = field(repr=False)
    rectified_mean_V: Array = field(repr=False)
    frequency_Hz: Array = field(repr=False)
    peak_to_peak_linkage_Wb: Array = field(repr=False)
    relative_error: Array = field(repr=False)
    resistance_ohm: Array = field(repr=False)
    inductance_H: Array = field(repr=False)
    lamp_current_A: Array = field(repr=False)
    lamp_peak_current_A: Array = field(repr=False)
    visible_current_A: Array = field(repr=False)
    rated_current_A: Array = field(repr=False)
    coil_current_A: Array = field(repr=False)
    coil_heat_W: Array = field(repr=False)
    source_power_W: Array = field(repr=False)
    load_W: Array = field(repr=False)
    useful_power_W: Array = field(repr=False)
    terminal_rms_V: Array = field(repr=False)
    dc_voltage_V: Array = field(repr=False)

    def __len__(self) -> int:
        """Return how many there are."""
        return len(self.problems)

    @cached_property
    def can_be(self) -> NDArray[np.bool_]:
        """Which of the machines can be, (machines,)."""
        return np.array([not problem for problem in self.problems], dtype=bool)

    @property
    def lights(self) -> NDArray[np.bool_]:
        """Which lamps are plainly seen, (machines, lamps)."""
        return np.asarray(self.lamp_current_A >= self.visible_current_A)

    @property
    def all_light(self) -> NDArray[np.bool_]:
        """In which machines all lamps are seen, (machines,)."""
        return np.asarray(self.lights.all(axis=1))

    @property
    def share_of_rated(self) -> Array:
        """Average over rated current of each lamp, (machines, lamps)."""
        return np.asarray(self.lamp_current_A / self.rated_current_A)

    @property
    def electric_torque_Nm(self) -> Array:
        """What the coils' power alone asks of the crank on average, (machines,)."""
        return np.asarray(self.source_power_W / np.abs(self.speed_rad_per_s))


@dataclass(frozen=True, eq=False)
class _Piece:
    """Some machines and how to look at them; small enough to be sent."""

    machines: Sequence[Machine]
    turned: str
    speeds_rad_per_s: Array
    tolerance: float | None
    circuit_tolerance: float
    with_load: bool


def operating_points(
    machines: Sequence[Machine],
    crank_speeds: str | float | Sequence[str | float] | ArrayLike | None = None,
    *,
    rotor_speeds: str | float | Sequence[str | float] | ArrayLike | None = None,
    tolerance: float | None = None,
    circuit_tolerance: float = TOLERANCE,
    with_load: bool = True,
    executor: Executor | None = None,
    progress: Progress | None = None,
) -> OperatingPoints:
    """Return what many machines give, each by itself, with the work shared.

    Parameters
    ----------
    machines
        With the same coils by name, and the same groups of lamps; `Variants` are made as they are
        needed. Those whose parts collide, or that cannot be, are listed with the reason.
    crank_speeds
        One for all or one for each: text with unit, or numbers [rad/s]; 120 rpm by default.
    rotor_speeds
        In their place, of every rotor, with the sign of its gear ratio.
    tolerance
        Of the flux linkage, relative to each curve's peak-to-peak; by default 1e-6, with iron 1e-4.
    circuit_tolerance
        Of average powers and currents.
    with_load
        Whether currents are wanted too, where there are wire and a load.
    executor
        Who works on pieces of `PIECE` machines: one of `concurrent.futures`, or an engine's that
        behaves like one. The results are the same, to the last bit, whoever works.
    progress
        Called with (machines done, machines in all).

    Raises
    ------
    ImpossibleError
        If a speed cannot be, or machines have other coils or lamps than the first.

    Examples
    --------
    >>> from fieldsim.machine_file.reader import read
    >>> ring = read("geometries/lamp_ring.yaml")
    >>> gauges = Variants(ring, [{"coils.pickup.wire.gauge": f"AWG {n}"} for n in (26, 32, 38)])
    >>> points = operating_points(gauges, "60 rpm", tolerance=1e-4)
    >>> points.all_light.tolist()
    [False, True, True]
    """
    if crank_speeds is not None and rotor_speeds is not None:
        raise ImpossibleError("give crank speeds or rotor speeds, not both")
    turned = "crank" if rotor_speeds is None else "rotor"
    speeds = _speeds(crank_speeds if rotor_speeds is None else rotor_speeds, len(machines))
    pieces = [
        _Piece(
            machines[start : start + PIECE],
            turned,
            speeds[start : start + PIECE],
            tolerance,
            circuit_tolerance,
            with_load,
        )
        for start in range(0, len(machines), PIECE)
    ]
    found: list[_Row] = []
    for rows in in_order(_worked_out, pieces, executor):
        found += rows
        if progress is not None:
            progress(len(found), len(machines))
    return _as_arrays(machines, speeds, found)


def _speeds(asked: Any, count: int) -> Array:
    one = asked is None or isinstance(asked, str) or np.ndim(asked) == 0
    each = [asked] * count if one else list(asked)
    if len(each) != count:
        raise ImpossibleError(f"{len(each)} crank speeds for {count} machines; give one, or each")
    known = {speed: crank_rad_per_s(speed) for speed in set(each)}
    return np.array([known[speed] for speed in each], dtype=float)


def turned_as(point: OperatingPoint, speeds_rad_per_s: Any) -> dict[str, Any]:
    """Return what `operating_points` is given of speeds that are of the crank or of rotors.

    Parameters
    ----------
    point
        As whose speed they are given.
    speeds_rad_per_s
        One, or one for each machine.
    """
    crank = point.speed.given_as == "crank"
    return {"crank_speeds" if crank else "rotor_speeds": speeds_rad_per_s}


_Row = dict[str, Any]
_T = TypeVar("_T")
_S = TypeVar("_S")


@dataclass(frozen=True, eq=False)
class _Loaded:
    """What is needed of a machine to know its currents, without its iron and its table."""

    circuit: Circuit
    emf: PeriodicEmf
    across: str
    known: _Row


def _worked_out(piece: _Piece) -> list[_Row]:
    """Return what each machine of a piece gives, by the names of an `OperatingPoints`."""
    from fieldsim.circuit.steady_figures import steady_figures

    books, count = Books(), len(piece.speeds_rad_per_s)
    rows: list[_Row] = []
    loaded: dict[int, _Loaded] = {}
    for first in range(0, count, TOGETHER):
        more, also = _up_to_load(piece, range(first, min(first + TOGETHER, count)), books)
        rows, loaded = rows + more, loaded | also
    circuits, emfs = [each.circuit for each in loaded.values()], [e.emf for e in loaded.values()]
    figures = steady_figures(circuits, emfs, tolerance=piece.circuit_tolerance)
    for (i, each), found in zip(loaded.items(), figures, strict=True):
        outlet = found.outlets.index(each.across)
        rows[i] |= each.known | {name: getattr(found, name) for name in _OF_LOAD}
        rows[i] |= {name: float(getattr(found, name)[outlet]) for name in _OF_OUTLET}
    return rows


def _up_to_load(piece: _Piece, some: range, books: Books) -> tuple[list[_Row], dict[int, _Loaded]]:
    """Return what machines give with nothing connected, and what their load is fed by."""
    problems = dict[int, str]()
    points = _stepped({i: i for i in some}, partial(_made, piece, books), problems)
    learn_curves(((each.machine, each.tolerance) for each in points.values()), books.curves)
    rows: dict[int, _Row] = {}
    loaded: dict[int, _Loaded] = {}
    for i in list(points):
        one = {i: points.pop(i)}  # kept no longer: iron and tables need much memory
        rows |= _stepped(one, _open_side, problems)
        if piece.with_load and i in rows and _is_loaded(one[i].machine):
            loaded |= _stepped(one, _loaded, problems)
    return [{"problems": problems.get(i, "")} | rows.get(i, {}) for i in some], loaded


def _made(piece: _Piece, books: Books, i: int) -> OperatingPoint:
    machine = piece.machines[i]
    asked = crank_speed if piece.turned == "crank" else rotor_speed
    return OperatingPoint(
        machine,
        speed=asked(machine, float(piece.speeds_rad_per_s[i])),
        tolerance=piece.tolerance,
        circuit_tolerance=piece.circuit_tolerance,
        books=books,
    )


def _stepped(
    done: Mapping[int, _T], step: Callable[[_T], _S], problems: dict[int, str]
) -> dict[int, _S]:
    """Return what a step makes of each, by number; what is wrong with the others is noted."""
    found = {}
    for i, each in done.items():
        try:
            found[i] = step(each)
        except FieldsimError as error:
            problems[i] = error.in_one_line
    return found


def _is_loaded(machine: Machine) -> bool:
    return bool(machine.load) and not why_open(machine)


def _open_side(point: OperatingPoint) -> _Row:
    """Return what is known of a machine without its load."""
    figures = point.figures
    return {
        "coils": tuple(figures),
        "clearance_m": min((c.distance_m for c in point.clearances), default=np.nan),
        "relative_error": point.waveform.relative_error,
        **{name: [getattr(each, name) for each in figures.values()] for name in _OF_COILS},
    }


def _loaded(point: OperatingPoint) -> _Loaded:
    """Return what is known of a machine's circuit and what drives it."""
    coils = point.coil_circuit
    known = {"resistance_ohm": coils.resistance_ohm, "inductance_H": coils.inductance_H}
    return _Loaded(coils.circuit, point.circuit_emf, point.machine.load.across, known)


def _as_arrays(
    machines: Sequence[Machine], speeds_rad_per_s: Array, rows: list[_Row]
) -> OperatingPoints:
    coils, lamps = (_the_same(rows, name) for name in ("coils", "lamps"))
    many = {"coils": len(coils), "lamps": len(lamps)}
    found: dict[str, Any] = {}
    for name, axes in _SHAPES.items():
        found[name] = np.full((len(rows), *(many[axis] for axis in axes)), np.nan)
        for i, row in enumerate(rows):
            if name in row and not row["problems"]:
                found[name][i] = row[name]
    problems = tuple(row["problems"] for row in rows)
    return OperatingPoints(machines, speeds_rad_per_s, coils, lamps, problems, **found)


def _the_same(rows: list[_Row], what: str) -> tuple[str, ...]:
    """Return the names that all machines have; of those without any it is not asked."""
    first: tuple[str, ...] = ()
    for i, row in enumerate(rows):
        names = row.get(what, ())
        if names and first and names != first:
            raise ImpossibleError(
                f"machine {i} has the {what} {', '.join(names)}, others have {', '.join(first)}; "
                "only machines of one kind can be worked out together"
            )
        first = first or names
    return first
