"""Everything about one design at one crank speed: what a report of it shows.

A part that a machine cannot have (no lamps, no wire, magnets inside their coil) is left out with
the reason; only what makes the whole machine impossible is an error.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TypeVar

from fieldsim.errors import FieldsimError, ImpossibleError, TooHardError
from fieldsim.machine.clearance.clearances import Clearance, check_collisions
from fieldsim.machine.machine import Machine
from fieldsim.mechanics.effort import Effort, effort
from fieldsim.operation.light import LightReport, light
from fieldsim.studies.gap import GapStudy, gap_study
from fieldsim.studies.levers import gap_follows_shaft
from fieldsim.studies.sensitivity import Sensitivity, main_source, sensitivity, terminal_emf_V
from fieldsim.waveform.emf import EmfWaveform, Speed, crank_speed, emf_waveform
from fieldsim.waveform.figures import NO_VOLTAGE_V, EmfFigures, emf_figures
from fieldsim.waveform.flux_table import DEFAULT_TOLERANCE, FluxTable, flux_table

__all__ = ["DesignStudy", "ranking_of_file", "study_design"]

GAPS_M = (0.5e-3, 1e-3, 2e-3, 3e-3, 4e-3, 6e-3, 8e-3)
_GAP_TOLERANCE = 1e-4
_CANCELS = 1e-4  # of a coil's own voltage: what is left where it all should cancel

T = TypeVar("T")


@dataclass(frozen=True)
class DesignStudy:
    """One design, computed.

    Parameters
    ----------
    geometry, speed
        The machine, and how fast it turns.
    clearances
        Smallest distances of its parts.
    table, waveform, figures
        Flux linkage, EMF over one period, and its figures by coil.
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

    geometry: Machine
    speed: Speed
    clearances: tuple[Clearance, ...]
    table: FluxTable
    waveform: EmfWaveform
    figures: dict[str, EmfFigures]
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
    def cancels(self) -> bool:
        """Whether rotors or coils leave next to nothing of the voltage where the load is."""
        whole = max((f.rms_V for f in self.figures.values()), default=0.0)
        return self.sensitivity.rms_V < _CANCELS * whole or whole < NO_VOLTAGE_V


def study_design(
    geometry: Machine,
    crank_rad_per_s: float,
    *,
    tolerance: float = DEFAULT_TOLERANCE,
    ranking: Callable[[], Sensitivity] | None = None,
    progress: Callable[[float], None] | None = None,
) -> DesignStudy:
    """Compute everything about a design.

    Parameters
    ----------
    geometry
        The machine.
    crank_rad_per_s
        Speed of its crank.
    tolerance
        Of its flux table, relative to peak-to-peak; changed machines are computed to 1e-4.
    ranking
        Gives what each practical step changes, as from `ranking_of_file`; computed here without.
    progress
        Called with the share that is done, from 0 to 1.

    Raises
    ------
    ImpossibleError
        If its parts collide or the speed cannot be.
    """
    say = progress or (lambda _share: None)
    clearances = check_collisions(geometry)
    speed = crank_speed(geometry, crank_rad_per_s)
    table = flux_table(geometry, tolerance=tolerance)
    waveform = emf_waveform(table, geometry, speed)
    say(0.1)
    if ranking is None:
        ranked = sensitivity(
            geometry, speed, table=table, progress=lambda done, of: say(0.1 + 0.5 * done / of)
        )

        def ranking() -> Sensitivity:
            return ranked

    notes: dict[str, str] = {}
    gap = _part(notes, "gap", lambda: _gap(geometry, crank_rad_per_s))
    say(0.7)
    lit = _part(notes, "light", lambda: _light(geometry, table, speed, waveform))
    say(0.9)
    hand, too_hard = None, False
    try:
        hand = _effort(geometry, table, speed, waveform)
    except FieldsimError as error:
        too_hard, notes["effort"] = isinstance(error, TooHardError), str(error)
    say(1.0)
    return DesignStudy(
        geometry, speed, clearances, table, waveform, emf_figures(waveform), ranking, gap, lit,
        hand, notes, too_hard,
    )  # fmt: skip


def ranking_of_file(path: str, crank_rad_per_s: float) -> Sensitivity:
    """Return what each practical step changes of the design in a file, at a crank speed."""
    from fieldsim.machine_file.reader import read_geometry

    geometry = read_geometry(path)
    table = flux_table(geometry, tolerance=DEFAULT_TOLERANCE)
    return sensitivity(geometry, crank_speed(geometry, crank_rad_per_s), table=table)


def _part(notes: dict[str, str], name: str, make: Callable[[], T]) -> T | None:
    """Return a part of the study, or None with the reason noted."""
    try:
        return make()
    except FieldsimError as error:
        notes[name] = str(error)
        return None


def _gap(geometry: Machine, crank_rad_per_s: float) -> GapStudy:
    if not gap_follows_shaft(geometry):
        raise ImpossibleError(
            "moving the rotors along their shafts hardly changes the clearance of this machine; "
            "its gap is set by the coil's opening"
        )

    def study(gaps: Sequence[float]) -> GapStudy:
        return gap_study(
            geometry, gaps, lambda g: crank_speed(g, crank_rad_per_s), tolerance=_GAP_TOLERANCE
        )

    try:
        return study(GAPS_M)
    except ImpossibleError:
        return study(_reachable(geometry))


def _reachable(geometry: Machine) -> list[float]:
    from fieldsim.studies.gap import rotor_at_gap

    found = []
    for gap in GAPS_M:
        try:
            for extra in (0.0, 1e-4):  # the study takes a small step beyond each gap
                moved = tuple(rotor_at_gap(r, geometry.coils, gap + extra) for r in geometry.rotors)
                check_collisions(geometry.with_rotors(moved))
        except ImpossibleError:
            continue
        found.append(gap)
    return found


def _light(geometry: Machine, table: FluxTable, speed: Speed, waveform: EmfWaveform) -> LightReport:
    fittings = geometry.fittings
    if fittings is None or fittings.load is None:
        wound = fittings is not None and bool(fittings.windings)
        lacking = "a load section" if wound else "wire to the coil and a load section"
        raise ImpossibleError(
            f"the file has no load; add {lacking}, for instance "
            "load: {across: " + geometry.coils[0].name + ", rectifier: bridge, lamps: "
            "{colour: white, parallel: 6}}"
        )
    if _cancels(geometry, waveform):
        raise ImpossibleError(
            f'the linkages cancel in "{fittings.across}": there is no voltage to light anything'
        )
    return light(geometry, table, speed)


def _cancels(geometry: Machine, waveform: EmfWaveform) -> bool:
    """Return whether rotors leave nothing but rounding where the load is."""
    _, source = main_source(geometry, waveform)
    return bool(abs(terminal_emf_V(waveform, source)).max() < NO_VOLTAGE_V)


def _effort(geometry: Machine, table: FluxTable, speed: Speed, waveform: EmfWaveform) -> Effort:
    fittings = geometry.fittings
    if fittings is None or fittings.load is None or not _cancels(geometry, waveform):
        return effort(geometry, speed, table=table)
    # A solver that is given rounding has nothing to go by; as with no wire, no current flows.
    open_coils = replace(geometry, fittings=replace(fittings, windings={}))
    found = effort(open_coils, speed, table=table)
    because = "the linkages cancel and leave no voltage"
    return replace(found, electric=replace(found.electric, open_because=because))
