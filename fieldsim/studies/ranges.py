"""What machines built like one give: the range of every answer, and what it comes from.

Every value that is uncertain is anywhere within what is given or taken, all values equally likely:
that is what a stated limit without more knowledge says (JCGM 100:2008, "Guide to the expression of
uncertainty in measurement", 4.3.7). Machines are drawn from all of these together, evenly, by
scrambled Sobol points with a fixed seed, and each is worked out in full. With iron, whose charge is
solved for in each, that takes too long: there a response surface (`fieldsim.studies.response`)
through few tells what the others give.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fieldsim.circuit.tolerances import TABLE_TOLERANCE
from fieldsim.errors import FieldsimError
from fieldsim.machine.clearance.clearances import magnet_coil_pairs
from fieldsim.machine.improbable_sizes import improbable_sizes
from fieldsim.machine.load.led_colours import USUAL_A
from fieldsim.machine.machine import Machine
from fieldsim.machine.uncertain import DEFAULTS, GiveOrTake
from fieldsim.machine.uncertain_values import LAMP_VOLTAGE, uncertain_value
from fieldsim.operation.effort import Effort
from fieldsim.operation.electric_side import why_open
from fieldsim.operation.many_points import OperatingPoints, Variants, operating_points, turned_as
from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.studies.response import ends, on_surface
from fieldsim.studies.vary import CRANK_SPEED

__all__ = [
    "MACHINES",
    "NINE_OF_TEN",
    "Range",
    "RangeStudy",
    "UncertainInput",
    "effort_range",
    "effort_torque_Nm",
    "ranges",
    "takes_long",
]

Array = NDArray[np.float64]
Progress = Callable[[int, int], None]

MACHINES = 64
"""How many machines are drawn; powers of two spread most evenly."""

NINE_OF_TEN = (0.05, 0.95)
"""The shares of machines that lie below a range and below its upper end."""

_ON_SURFACE = 128  # machines, which cost nothing there
_FEW = 32  # where each is worked out with its iron, for want of a surface
_MOST_IRON = 4  # pieces
_MANY_PAIRS = 400  # of magnets and coils
_ROUGH = 1e-3  # of linkage: far below what machines differ by
_SEED = 20
_LEAST_SHARE_LEFT = 0.5  # of a clearance or build that the default may not take more than


@dataclass(frozen=True)
class UncertainInput:
    """A value that is not known exactly.

    Parameters
    ----------
    path
        Of the value.
    value, give_or_take
        As stated, and by how much it may be off, in ``unit``.
    unit
        SI; empty for counts and ratios.
    text
        The amount in words.
    stated
        Whether the file says so; else it is common practice.
    """

    path: str
    value: float
    give_or_take: float
    unit: str
    text: str
    stated: bool


@dataclass(frozen=True)
class Range:
    """Where nine of ten machines lie, and what that comes from most.

    Parameters
    ----------
    low, high
        Its ends.
    mostly_from
        Path of the input that it comes from most; empty where nothing moves.
    share
        Of the variance that a straight line through all machines sees, that input's.
    """

    low: float
    high: float
    mostly_from: str
    share: float


@dataclass(frozen=True, eq=False)
class RangeStudy:
    """Machines built like one.

    Parameters
    ----------
    point
        The one.
    inputs
        What is not known exactly.
    offsets
        Of each machine and input, from -1 to 1 of what is given or taken, (machines, inputs).
    points
        The machines.
    """

    point: OperatingPoint
    inputs: tuple[UncertainInput, ...]
    offsets: Array = field(repr=False)
    points: OperatingPoints = field(repr=False)

    @property
    def machines(self) -> int:
        """How many of the machines drawn can be built."""
        return int(self.points.can_be.sum())

    @property
    def share_that_can_be(self) -> float:
        """Of the machines drawn, those whose parts leave each other room."""
        return float(self.points.can_be.mean())

    @property
    def share_all_light(self) -> float | None:
        """Of the machines that can be built, those in which all lamps light; None without any."""
        if not self.points.lamps or not self.machines:
            return None
        return float(self.points.all_light[self.points.can_be].mean())

    def range_of(self, values: Array) -> Range | None:
        """Return the range of a figure of all machines, (machines,); None where none has it."""
        known = self.points.can_be & np.isfinite(values)
        if known.sum() < 2:
            return None
        low, high = np.quantile(values[known], NINE_OF_TEN)
        slopes = np.column_stack([np.ones(int(known.sum())), self.offsets[known]])
        found = np.linalg.lstsq(slopes, values[known], rcond=None)[0][1:] ** 2
        if not len(found) or not found.max() > 0:
            return Range(float(low), float(high), "", 0.0)
        most = int(found.argmax())
        share = float(found[most] / found.sum())
        return Range(float(low), float(high), self.inputs[most].path, share)

    def coil_ranges(self, coil: str) -> dict[str, Range]:
        """Return the ranges of the figures of an open coil, by their names."""
        column = self.points.coils.index(coil)
        names = ("peak_V", "rms_V", "rectified_mean_V", "peak_to_peak_linkage_Wb")
        return self._of({name: getattr(self.points, name)[:, column] for name in names})

    def lamp_ranges(self, lamp: str) -> dict[str, Range]:
        """Return the ranges of the figures of a group of lamps, by their names."""
        column = self.points.lamps.index(lamp)
        return self._of(
            {
                "average_current_A": self.points.lamp_current_A[:, column],
                "share_of_rated": self.points.share_of_rated[:, column],
            }
        )

    def power_ranges(self) -> dict[str, Range]:
        """Return the ranges of the circuit's powers and of its voltage behind the bridge."""
        names = ("source_power_W", "load_W", "useful_power_W", "dc_voltage_V")
        return self._of({name: getattr(self.points, name) for name in names})

    def input(self, path: str) -> UncertainInput:
        """Return the input of a path."""
        return next(each for each in self.inputs if each.path == path)

    def _of(self, figures: Mapping[str, Array]) -> dict[str, Range]:
        found = {name: self.range_of(values) for name, values in figures.items()}
        return {name: each for name, each in found.items() if each is not None}


def takes_long(machine: Machine) -> bool:
    """Return whether so many machines take longer than anybody waits who has not asked for them.

    With many pieces of iron, more parts than a table holds, or sizes that are hardly meant.
    """
    return (
        len(machine.placed_iron) > _MOST_IRON
        or magnet_coil_pairs(machine) > _MANY_PAIRS
        or bool(improbable_sizes(machine))
    )


def ranges(
    point: OperatingPoint,
    *,
    machines: int | None = None,
    with_load: bool = True,
    executor: Executor | None = None,
    progress: Progress | None = None,
) -> RangeStudy:
    """Return what machines built like one give.

    Parameters
    ----------
    point
        The machine at its speed; its ``uncertain`` section, and `DEFAULTS` for what that does not
        name.
    machines
        How many to draw; by default `MACHINES`, and more with iron.
    with_load
        Whether currents and lamps are wanted too.
    executor, progress
        As of `fieldsim.operation.many_points.operating_points`.

    Examples
    --------
    >>> from fieldsim.machine_file.reader import read
    >>> study = ranges(OperatingPoint(read("geometries/one_rotor.yaml"), "60 rpm"), machines=32)
    >>> found = study.coil_ranges("pickup")["rms_V"]
    >>> found.low < study.point.figures["pickup"].rms_V < found.high
    True
    """
    from scipy.stats import qmc

    with_load = with_load and not why_open(point.machine)
    inputs = _inputs(point, with_load)
    with_iron = bool(point.machine.placed_iron)
    count = machines or (_ON_SURFACE if with_iron else MACHINES)
    offsets = 2.0 * qmc.Sobol(len(inputs), scramble=True, seed=_SEED).random(count) - 1.0

    def worked_out(variants: Variants, speeds: list[float]) -> OperatingPoints:
        return operating_points(
            variants,
            **turned_as(point, speeds),
            tolerance=max(_ROUGH, point.tolerance),
            circuit_tolerance=max(TABLE_TOLERANCE, point.circuit_tolerance),
            with_load=with_load,
            executor=executor,
            progress=progress,
        )

    if with_iron:
        few = worked_out(*_variants(point, inputs, ends(len(inputs))))
        if few.can_be.all():
            drawn, speeds = _variants(point, inputs, offsets)
            points = on_surface(few, offsets, drawn, np.array(speeds))
            return RangeStudy(point, inputs, offsets, points)
        offsets = offsets[:_FEW]
    return RangeStudy(point, inputs, offsets, worked_out(*_variants(point, inputs, offsets)))


def _variants(
    point: OperatingPoint, inputs: Sequence[UncertainInput], offsets: Array
) -> tuple[Variants, list[float]]:
    """Return machines with their inputs off by shares of what is given or taken, and speeds."""
    plain = point.machine.changed({"uncertain": None}) if point.machine.uncertain else point.machine
    changes, speeds = [], []
    for row in offsets.tolist():
        values = {
            each.path: each.value + offset * each.give_or_take
            for each, offset in zip(inputs, row, strict=True)
        }
        speeds.append(values.pop(CRANK_SPEED, point.speed.base_rad_per_s))
        changes.append(_changes(plain, values))
    return Variants(plain, changes), speeds


def effort_range(study: RangeStudy, effort: Effort) -> Range | None:
    """Return the range of the average torque at the crank; None where no current asks for any.

    Parameters
    ----------
    study
        Of the same point.
    effort
        Of the machine as it is stated.
    """
    return study.range_of(effort_torque_Nm(study, effort))


def effort_torque_Nm(study: RangeStudy, effort: Effort) -> Array:
    """Return the average torque at the crank of each machine, (machines,); NaN without currents.

    Parameters
    ----------
    study
        Of the same point.
    effort
        Of the machine as it is stated.

    Notes
    -----
    The coils' power is that of each machine; friction is taken as it is, gears lose their share of
    what passes through them. Magnets add nothing on average.
    """
    if not effort.electric.source_W > 0:
        return np.full(len(study.points), np.nan)
    crank = effort.crank
    passed_W = crank.hand_W - crank.gears_W
    lost = crank.gears_W / passed_W if passed_W > 0 else 0.0
    now_Nm = effort.electric.source_W / abs(crank.speed_rad_per_s)
    more_Nm = (study.points.electric_torque_Nm - now_Nm) * (1.0 + lost)
    return np.asarray(crank.average_torque_Nm + more_Nm)


def _inputs(point: OperatingPoint, with_load: bool) -> tuple[UncertainInput, ...]:
    """Return what is not known exactly: as the file states it, then by common practice."""
    machine = point.machine
    stated = {each.path: each for each in machine.uncertain}
    found = [_input(point, each, True) for each in stated.values()]
    for path, text in _usual(machine, with_load).items():
        if path not in stated:
            try:
                found.append(_input(point, GiveOrTake(path, text), False))
            except (FieldsimError, ValueError):
                continue  # it has none, such as a clearance that nothing changes
    return tuple(found)


def _usual(machine: Machine, with_load: bool) -> dict[str, str]:
    """Return give or take by path, where a file says nothing."""
    used = {mount.magnet for rotor in machine.rotors for mount in rotor.magnets}
    usual = {
        f"magnets.{kind.name}.remanence": DEFAULTS["remanence"]
        for kind in machine.magnets
        if kind.name in used
    }
    usual["clearance"] = DEFAULTS["clearance"]
    for coil in machine.coils:
        usual[f"coils.{coil.name}.turns"] = DEFAULTS["turns"]
        usual[f"coils.{coil.name}.build"] = DEFAULTS["build"]
    if with_load and machine.load.lamps:
        usual[LAMP_VOLTAGE] = DEFAULTS["lamp voltage"]
    usual[CRANK_SPEED] = DEFAULTS["crank speed"]
    return usual


def _input(point: OperatingPoint, said: GiveOrTake, stated: bool) -> UncertainInput:
    if said.path == CRANK_SPEED:
        value, unit = point.speed.base_rad_per_s, "rad/s"
    else:
        value, unit = uncertain_value(point.machine, said.path)
    amount = said.amount(value, unit)
    if not stated and said.path == "clearance":
        amount = min(amount, _LEAST_SHARE_LEFT * value)
    return UncertainInput(said.path, value, amount, unit, said.text, stated)


def _changes(machine: Machine, values: Mapping[str, float]) -> dict[str, Any]:
    """Return what makes the machine one with other values."""
    changes: dict[str, Any] = dict(values)
    for coil in machine.coils:
        turns, build = (f"coils.{coil.name}.{key}" for key in ("turns", "build"))
        if turns in changes or build in changes:
            # wound by hand: so many turns in such a build, whatever the plan says
            placed = coil.placed
            changes[turns] = max(round(changes.get(turns, placed.turns)), 1)
            changes.setdefault(build, placed.build)
            if coil.wire:
                changes[f"coils.{coil.name}.wire.packing"] = None
    lamps = machine.load.lamps
    if LAMP_VOLTAGE in changes and lamps.forward is None:
        changes["load.lamps.at"] = USUAL_A
        changes["load.lamps.inner_resistance"] = lamps.led().law.series_ohm
        if lamps.rated is None:
            changes["load.lamps.rated"] = lamps.led().rated_A
    # whatever cannot be counted in parts is a whole number
    for path in changes:
        if path.endswith(("parallel", "series", "teeth", "count")):
            changes[path] = round(changes[path])
    clearance = {path: changes.pop(path) for path in list(changes) if path.endswith("clearance")}
    return {**changes, **clearance}
