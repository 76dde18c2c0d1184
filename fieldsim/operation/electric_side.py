"""The electrical side of a machine at a steady speed: solved, or standing open, and why."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from fieldsim.cautions import Caution, Note
from fieldsim.circuit.circulating import circulating_cautions
from fieldsim.circuit.results import CircuitResult
from fieldsim.machine.connections import CoilRef, coil_refs
from fieldsim.machine.machine import Machine
from fieldsim.operation.coil_heat import CoilHeat, coil_heat
from fieldsim.operation.machine_at_speed import MachineAtSpeed
from fieldsim.operation.terminal_voltage import nothing_drives
from fieldsim.waveform.emf import Speed

__all__ = ["CoilPower", "ElectricSide", "electric_side", "why_open"]

Array = NDArray[np.float64]


@dataclass(frozen=True)
class CoilPower:
    """What one coil does.

    Parameters
    ----------
    name
        Of the coil.
    open_peak_V
        Largest EMF, which it shows with nothing connected [V].
    heat_W
        Average loss in its wire [W]; 0 without current.
    heat
        How hard its wire works; None where no current is reckoned with or its wire is not known.
    """

    name: str
    open_peak_V: float
    heat_W: float
    heat: CoilHeat | None = None

    @property
    def temperature_rise_K(self) -> float | None:
        """About how much warmer than the air it gets [K]; None where that is not known."""
        return None if self.heat is None else self.heat.temperature_rise_K


@dataclass(frozen=True, eq=False)
class ElectricSide:
    """Currents and powers through one repeat of the machine.

    Parameters
    ----------
    speed
        Of the rotors, as solved.
    turns
        Crank turns in the repeat.
    current_A
        Of each coil at equal steps of the repeat, (coils, samples).
    load_W
        Average power out of the coils' terminals, into all that hangs on them [W].
    useful_W
        What lamps take of it, or resistors if there are none [W].
    source_W
        Average power of all EMFs by the circuit's own books: ``load_W``, the wires' heat and
        ``iron_W``.
    coils
        In the order of the machine.
    open_peak_V
        Largest voltage with nothing connected, of a coil or of coils in series [V].
    open_because
        Why no current is reckoned with; empty where the circuit was solved.
    notes
        What to know about the numbers.
    circulating
        Cautions about coils in parallel that heat each other.
    iron_W
        What the coils' currents lose in iron by themselves [W].
    """

    speed: Speed
    turns: Fraction
    current_A: Array = field(repr=False)
    load_W: float
    useful_W: float
    source_W: float
    coils: tuple[CoilPower, ...]
    open_peak_V: float
    open_because: str
    notes: tuple[Note, ...]
    circulating: tuple[Caution, ...] = ()
    iron_W: float = 0.0

    @property
    def wire_W(self) -> float:
        """Heat in the wires [W]."""
        return self.source_W - self.load_W - self.iron_W


def why_open(machine: Machine) -> str:
    """Return why no current can be reckoned with, or nothing if the circuit can be solved."""
    if not machine.windings:
        return "no coil has wire"
    sources = {name: machine.wiring.source(name) for name in machine.wiring.outermost}
    wanted = {
        ref.coil
        for name, source in sources.items()
        for ref in coil_refs(source)
        if name == machine.load.across or not isinstance(source, CoilRef)
    }
    missing = sorted(wanted - set(machine.windings))
    if missing:
        return f'coil "{missing[0]}" has no wire'
    return "" if wanted else "the file has no load"


def electric_side(point: MachineAtSpeed) -> ElectricSide:
    """Return the currents and powers at a steady speed, all zero where none can flow.

    Parameters
    ----------
    point
        A machine at a crank speed.

    Raises
    ------
    ImpossibleError
        If the rotors never come back together.
    """
    because = why_open(point.machine) or _why_nothing_drives(point)
    if because:
        return _standing_open(point, because)
    run = point.steady_state
    peaks = np.abs(run.emf_V).max(axis=1)
    outlets = [outlet.open_circuit_peak_V for outlet in run.result.outlets.values()]
    return ElectricSide(
        run.speed,
        run.turns,
        run.current_A,
        run.result.load_W,
        run.result.useful_power_W,
        run.result.source_power_W,
        tuple(
            _coil_power(name, float(peak), run.result, point.machine)
            for name, peak in zip(run.coils, peaks, strict=True)
        ),
        max(float(peaks.max()), *outlets),
        "",
        run.warnings,
        circulating_cautions(run.result),
        run.result.iron_W,
    )


def _why_nothing_drives(point: MachineAtSpeed) -> str:
    """Return a reason where rotors or coils leave nothing but rounding where the load is.

    A solver that is given rounding has nothing to go by.
    """
    if not point.machine.load or not nothing_drives(point):
        return ""
    return "the linkages cancel and leave no voltage to speak of"


def _standing_open(point: MachineAtSpeed, because: str) -> ElectricSide:
    emf = point.machine_emf
    emf_V = emf.waveform.emf_V
    peaks = np.abs(emf_V).max(axis=1)
    coils = tuple(
        CoilPower(name, float(peak), 0.0)
        for name, peak in zip(emf.waveform.coils, peaks, strict=True)
    )
    return ElectricSide(
        emf.waveform.speed,
        emf.turns,
        np.zeros_like(emf_V),
        0.0,
        0.0,
        0.0,
        coils,
        float(peaks.max()),
        because,
        emf.notes,
    )


def _coil_power(name: str, peak_V: float, result: CircuitResult, machine: Machine) -> CoilPower:
    heat = coil_heat(result.coils[name], machine) if name in result.coils else None
    return CoilPower(name, peak_V, 0.0 if heat is None else heat.heat_W, heat)
