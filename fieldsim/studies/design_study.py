"""Everything about one design at one crank speed: what a report of it shows.

A part that a machine cannot have (no lamps, no wire, magnets inside their coil) is left out with
the reason; only what makes the whole machine impossible is an error.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TypeVar

from fieldsim.errors import FieldsimError, ImpossibleError, TooHardError
from fieldsim.machine.improbable_sizes import improbable_sizes
from fieldsim.machine.machine import Machine
from fieldsim.operation.effort import Effort
from fieldsim.operation.light import LightReport
from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.operation.terminal_voltage import cancels, nothing_drives
from fieldsim.studies.gap import GapStudy, gap_study
from fieldsim.studies.gauges import GaugeStudy, gauge_study, gauges_about
from fieldsim.studies.levers import gap_follows_shaft
from fieldsim.studies.ranges import RangeStudy, ranges, takes_long
from fieldsim.studies.sensitivity import Sensitivity, no_steps, sensitivity

__all__ = ["Changes", "DesignStudy", "changes_of_file", "study_design"]

GAPS_M = (0.5e-3, 1e-3, 2e-3, 3e-3, 4e-3, 6e-3, 8e-3)
_GAP_TOLERANCE = 1e-4

T = TypeVar("T")


@dataclass(frozen=True, eq=False)
class Changes:
    """What changing a design does.

    Parameters
    ----------
    sensitivity
        What each practical step changes; without steps where they take too long.
    gap
        Voltage against clearance, or None.
    gauges
        What wires of other gauges give, or None.
    ranges
        What machines built like it give, or None where that takes long.
    absent
        By the name of one of the first three that is None or without steps, why.
    """

    sensitivity: Sensitivity
    gap: GapStudy | None
    gauges: GaugeStudy | None
    ranges: RangeStudy | None = None
    absent: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True, eq=False)
class DesignStudy:
    """One design, computed.

    Parameters
    ----------
    point
        The machine at its speed.
    changes
        Gives what changing it does; that may still be being computed elsewhere.
    light
        Lamps, currents and meters, or None.
    effort
        The mechanical side, or None.
    absent
        By the name of one of these that is None, why.
    too_hard
        Whether no hand can turn it.
    """

    point: OperatingPoint
    changes: Callable[[], Changes] = field(repr=False, compare=False)
    light: LightReport | None
    effort: Effort | None
    absent: dict[str, str] = field(default_factory=dict)
    too_hard: bool = False

    @cached_property
    def _changes(self) -> Changes:
        return self.changes()

    @property
    def sensitivity(self) -> Sensitivity:
        """What each practical step changes."""
        return self._changes.sensitivity

    @property
    def gap(self) -> GapStudy | None:
        """Voltage against clearance, or None."""
        return self._changes.gap

    @property
    def gauges(self) -> GaugeStudy | None:
        """What wires of other gauges give, or None."""
        return self._changes.gauges

    @property
    def ranges(self) -> RangeStudy | None:
        """What machines built like it give, or None."""
        return self._changes.ranges

    @property
    def notes(self) -> dict[str, str]:
        """By the name of a part that is None, why."""
        return {**self.absent, **self._changes.absent}

    @property
    def machine(self) -> Machine:
        """The machine."""
        return self.point.machine

    @property
    def cancels(self) -> bool:
        """Whether rotors or coils leave next to nothing of the voltage where the load is."""
        return cancels(self.point)


def study_design(
    point: OperatingPoint,
    *,
    changes: Callable[[], Changes] | None = None,
    progress: Callable[[float], None] | None = None,
) -> DesignStudy:
    """Compute everything about a design.

    Parameters
    ----------
    point
        The machine at its crank speed.
    changes
        Gives what changing it does, as from `changes_of_file`; computed here without.
    progress
        Called with the share that is done, from 0 to 1.

    Raises
    ------
    ImpossibleError
        If the machine as a whole cannot be computed.
    """
    say = progress or (lambda _share: None)
    _ = point.figures
    say(0.1)
    absent: dict[str, str] = {}
    lit = _part(absent, "light", lambda: _light(point))
    say(0.3)
    hand, too_hard = None, False
    try:
        hand = point.effort
    except FieldsimError as error:
        too_hard, absent["effort"] = isinstance(error, TooHardError), str(error)
    say(0.4)
    if changes is None:
        found = _changes(point, lambda done: say(0.4 + 0.6 * done))

        def changes() -> Changes:
            return found

    say(1.0)
    return DesignStudy(point, changes, lit, hand, absent, too_hard)


def changes_of_file(path: str, crank_rad_per_s: float) -> Changes:
    """Return what changing the design in a file does, at a crank speed."""
    from fieldsim.machine_file.reader import read

    return _changes(OperatingPoint(read(path), crank_speed_rad_per_s=crank_rad_per_s))


def _changes(point: OperatingPoint, progress: Callable[[float], None] | None = None) -> Changes:
    say = progress or (lambda _share: None)
    absent: dict[str, str] = {}
    gap = _part(absent, "gap", lambda: _gap(point))
    say(0.2)
    gauges = _part(absent, "gauges", lambda: _gauges(point))
    say(0.4)
    steps = _part(absent, "sensitivity", lambda: _steps(point, lambda done: say(0.4 + 0.4 * done)))
    known = None if takes_long(point.machine) else ranges(point)
    return Changes(steps or no_steps(point), gap, gauges, known, absent)


def _part(absent: dict[str, str], name: str, make: Callable[[], T]) -> T | None:
    """Return a part of the study, or None with the reason noted."""
    try:
        return make()
    except FieldsimError as error:
        absent[name] = str(error)
        return None


def _gap(point: OperatingPoint) -> GapStudy:
    if not gap_follows_shaft(point.machine):
        raise ImpossibleError(
            "moving the rotors along their shafts hardly changes the clearance of this machine; "
            "its gap is set by the coil's opening"
        )
    rough = replace(point, tolerance=_GAP_TOLERANCE, near=None)
    try:
        return gap_study(rough, GAPS_M)
    except ImpossibleError:
        return gap_study(rough, _reachable(rough))


def _reachable(point: OperatingPoint) -> list[float]:
    found = []
    for gap in GAPS_M:
        try:
            for extra in (0.0, 1e-4):  # the study takes a small step beyond each gap
                point.changed({"clearance": gap + extra})
        except ImpossibleError:
            continue
        found.append(gap)
    return found


def _steps(point: OperatingPoint, progress: Callable[[float], None]) -> Sensitivity:
    _refuse_hardly_meant(point.machine)
    return sensitivity(point, progress=lambda done, of: progress(done / of))


def _refuse_hardly_meant(machine: Machine) -> None:
    """Refuse what takes dozens of machines of sizes that are slips of the pen, and slow."""
    if improbable_sizes(machine):
        raise ImpossibleError(
            "a size of this machine is hardly meant (see the cautions): what takes dozens of "
            "machines like it is left out"
        )


def _gauges(point: OperatingPoint) -> GaugeStudy:
    machine = point.machine
    _refuse_hardly_meant(machine)
    if machine.load and machine.windings and cancels(point):
        raise ImpossibleError(
            f'the linkages cancel in "{machine.load.across}": no gauge gives any voltage there'
        )
    return gauge_study(point, gauges_about(machine))


def _light(point: OperatingPoint) -> LightReport:
    machine = point.machine
    if not machine.load:
        lacking = "a load section" if machine.windings else "wire to the coil and a load section"
        raise ImpossibleError(
            f"the file has no load; add {lacking}, for instance "
            "load: {across: " + machine.coils[0].name + ", rectifier: bridge, lamps: "
            "{colour: white, parallel: 6}}"
        )
    if nothing_drives(point):
        raise ImpossibleError(
            f'the linkages cancel in "{machine.load.across}": there is no voltage to light anything'
        )
    return point.light
