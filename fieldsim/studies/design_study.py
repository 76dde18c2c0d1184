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
from fieldsim.machine.machine import Machine
from fieldsim.operation.effort import Effort
from fieldsim.operation.light import LightReport
from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.operation.terminal_voltage import cancels
from fieldsim.studies.gap import GapStudy, gap_study
from fieldsim.studies.levers import gap_follows_shaft
from fieldsim.studies.sensitivity import Sensitivity, sensitivity
from fieldsim.waveform.figures import NO_VOLTAGE_V

__all__ = ["DesignStudy", "ranking_of_file", "study_design"]

GAPS_M = (0.5e-3, 1e-3, 2e-3, 3e-3, 4e-3, 6e-3, 8e-3)
_GAP_TOLERANCE = 1e-4
_CANCELS = 1e-4  # of a coil's own voltage: what is left where it all should cancel

T = TypeVar("T")


@dataclass(frozen=True, eq=False)
class DesignStudy:
    """One design, computed.

    Parameters
    ----------
    point
        The machine at its speed.
    ranking
        Gives what each practical step changes; it may still be being computed elsewhere.
    gap
        Voltage against clearance, or None.
    light
        Lamps, currents and meters, or None.
    effort
        The mechanical side, or None.
    notes
        By the name of a part that is None, why.
    too_hard
        Whether no hand can turn it.
    """

    point: OperatingPoint
    ranking: Callable[[], Sensitivity] = field(repr=False, compare=False)
    gap: GapStudy | None
    light: LightReport | None
    effort: Effort | None
    notes: dict[str, str] = field(default_factory=dict)
    too_hard: bool = False

    @cached_property
    def sensitivity(self) -> Sensitivity:
        """What each practical step changes."""
        return self.ranking()

    @property
    def machine(self) -> Machine:
        """The machine."""
        return self.point.machine

    @property
    def cancels(self) -> bool:
        """Whether rotors or coils leave next to nothing of the voltage where the load is."""
        whole = max((f.rms_V for f in self.point.figures.values()), default=0.0)
        return self.sensitivity.rms_V < _CANCELS * whole or whole < NO_VOLTAGE_V


def study_design(
    point: OperatingPoint,
    *,
    ranking: Callable[[], Sensitivity] | None = None,
    progress: Callable[[float], None] | None = None,
) -> DesignStudy:
    """Compute everything about a design.

    Parameters
    ----------
    point
        The machine at its crank speed.
    ranking
        Gives what each practical step changes, as from `ranking_of_file`; computed here without.
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
    notes: dict[str, str] = {}
    lit = _part(notes, "light", lambda: _light(point))
    say(0.3)
    hand, too_hard = None, False
    try:
        hand = point.effort
    except FieldsimError as error:
        too_hard, notes["effort"] = isinstance(error, TooHardError), str(error)
    say(0.4)
    gap = _part(notes, "gap", lambda: _gap(point))
    say(0.5)
    if ranking is None:
        ranked = sensitivity(point, progress=lambda done, of: say(0.5 + 0.5 * done / of))

        def ranking() -> Sensitivity:
            return ranked

    say(1.0)
    return DesignStudy(point, ranking, gap, lit, hand, notes, too_hard)


def ranking_of_file(path: str, crank_rad_per_s: float) -> Sensitivity:
    """Return what each practical step changes of the design in a file, at a crank speed."""
    from fieldsim.machine_file.reader import read

    return sensitivity(OperatingPoint(read(path), crank_speed_rad_per_s=crank_rad_per_s))


def _part(notes: dict[str, str], name: str, make: Callable[[], T]) -> T | None:
    """Return a part of the study, or None with the reason noted."""
    try:
        return make()
    except FieldsimError as error:
        notes[name] = str(error)
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


def _light(point: OperatingPoint) -> LightReport:
    machine = point.machine
    if not machine.load:
        lacking = "a load section" if machine.windings else "wire to the coil and a load section"
        raise ImpossibleError(
            f"the file has no load; add {lacking}, for instance "
            "load: {across: " + machine.coils[0].name + ", rectifier: bridge, lamps: "
            "{colour: white, parallel: 6}}"
        )
    if cancels(point):
        raise ImpossibleError(
            f'the linkages cancel in "{machine.load.across}": there is no voltage to light anything'
        )
    return point.light
