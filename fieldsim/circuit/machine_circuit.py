"""From a machine to its circuit, and to the state that repeats itself at a steady speed."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from fieldsim.cautions import Doubt, Note
from fieldsim.circuit.emf_source import PeriodicEmf
from fieldsim.circuit.network import Circuit, CoilSet, Outlet
from fieldsim.circuit.results import CircuitResult
from fieldsim.field.inductance.matrix import InductanceBook, inductance_matrix
from fieldsim.field.inductance.winding_inductance import TOLERANCE
from fieldsim.field.iron.coil_iron import NO_IRON, CoilIron
from fieldsim.field.iron.iron_eddies import IronEddies
from fieldsim.machine.connections import CoilRef
from fieldsim.machine.load.circuit_parts import Open
from fieldsim.machine.machine import Machine
from fieldsim.machine.placed import PlacedCoil
from fieldsim.waveform.emf import EmfWaveform, Speed, emf_waveform
from fieldsim.waveform.flux_table import FluxTable
from fieldsim.waveform.repeating import repeating_speed
from fieldsim.wire.resistance import resistivity_ohm_m, warming_per_W

__all__ = [
    "CoilCircuit",
    "MachineEmf",
    "SteadyRun",
    "circuit_emf",
    "coil_circuit",
    "machine_emf",
    "steady_run",
]

Array = NDArray[np.float64]

_ROUNDING_V = 1e-9  # an EMF this small is what rounding leaves of one that cancels
_FEWEST_SAMPLES = 1024
_ASSUMED_FILL = 0.5


@dataclass(frozen=True)
class CoilCircuit:
    """The circuit of a machine's coils.

    Parameters
    ----------
    circuit
        Coils that can carry current, with their load.
    rows
        Place of each of its coils among the machine's.
    inductance_error
        Largest estimated error of an inductance, relative to the coils' own.
    assumed
        Open coils without wire in the file: their resistance is a guess that nothing rests on.
    frequency_Hz
        At which eddy currents in iron count for inductances and loss; None without.
    """

    circuit: Circuit
    rows: tuple[int, ...]
    inductance_error: float
    assumed: tuple[str, ...] = ()
    frequency_Hz: float | None = None

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the coils."""
        return self.circuit.coils.names

    @property
    def resistance_ohm(self) -> Array:
        """Resistance of each coil without current [ohm], (coils,)."""
        return np.array(self.circuit.coils.resistance_ohm)

    @property
    def inductance_H(self) -> Array:
        """Inductance matrix [H], (coils, coils)."""
        return np.array(self.circuit.coils.inductance_H)

    @property
    def iron_ohm(self) -> Array:
        """What eddy currents in iron add to each coil's resistance [ohm], (coils,)."""
        coils = self.circuit.coils
        return np.subtract(coils.whole_ohm, coils.resistance_ohm, dtype=float)


def coil_circuit(
    machine: Machine,
    iron: CoilIron = NO_IRON,
    tolerance: float = TOLERANCE,
    book: InductanceBook | None = None,
    eddies: IronEddies | None = None,
    omega_rad_per_s: float = 0.0,
) -> CoilCircuit:
    """Return the circuit of a machine: its wound coils as they are joined, and the load.

    Parameters
    ----------
    machine
        With the wire of every coil that is connected. A coil that stands open carries no current
        and may do without: half its section is then taken as copper.
    iron
        Of the machine; its coils' inductances count with it.
    eddies, omega_rad_per_s
        Its eddy currents, and the angular frequency at which they are reckoned with.

    Raises
    ------
    ImpossibleError
        If a connected coil has no wire, or two coils fill the same place.

    Notes
    -----
    Eddy currents make an inductance complex and a function of frequency. The circuit has what it is
    at one frequency, best that of the strongest wave of the EMF: its real part, and its imaginary
    part as a resistance in series with each coil. At higher harmonics of the current that is too
    much inductance and too little resistance. What a current loses in iron by another coil's field
    is left out.
    """
    outlets: list[Outlet] = []
    assumed: list[str] = []
    for name in machine.wiring.outermost:
        source = machine.wiring.source(name)
        loaded = bool(machine.load) and name == machine.load.across
        if isinstance(source, CoilRef) and not loaded and not machine.coil(name).wire:
            assumed.append(name)
        outlets.append(Outlet(name, source, machine.load.tree if loaded else Open()))
    idle_K = machine.idle_wire_K
    resistance = [
        _assumed_ohm(coil.placed, idle_K) if coil.name in assumed else coil.resistance_ohm(idle_K)
        for coil in machine.coils
    ]
    warming = [
        float(warming_per_W(coil.winding.surface_m2, idle_K))
        if coil.wire and machine.wire_temperature is None
        else 0.0
        for coil in machine.coils
    ]
    placed = machine.placed_coils
    inductance, error = inductance_matrix(placed, iron, tolerance, book)
    iron_ohm, frequency_Hz = np.zeros(len(placed)), None
    if eddies:
        change_H = eddies.inductance_change_H(omega_rad_per_s)
        inductance = inductance + change_H.real
        iron_ohm = np.maximum(-omega_rad_per_s * np.diag(change_H).imag, 0.0)
        frequency_Hz = omega_rad_per_s / math.tau
    coil_set = CoilSet.from_arrays(
        [c.name for c in placed], resistance, inductance, warming, iron_ohm
    )
    rows, circuit = tuple(range(len(placed))), Circuit(coil_set, tuple(outlets))
    return CoilCircuit(circuit, rows, error, tuple(assumed), frequency_Hz)


def _assumed_ohm(coil: PlacedCoil, temperature_K: float) -> float:
    """Return the resistance of a coil with half its section copper [ohm]."""
    copper_m2 = _ASSUMED_FILL * coil.length * coil.build / coil.turns
    wire_m = coil.turns * coil.mean_turn_m
    return float(resistivity_ohm_m(temperature_K)) * wire_m / copper_m2


@dataclass(frozen=True)
class MachineEmf:
    """One period of the EMF of every coil of a machine.

    Parameters
    ----------
    waveform
        Of the machine's coils.
    turns
        Base turns in the period: of the crank, or of a rotor of ratio one.
    speed_shift
        By how much a rotor's speed was changed so that the period is short; 0 for none.
    """

    waveform: EmfWaveform
    turns: Fraction
    speed_shift: float

    @property
    def notes(self) -> tuple[Note, ...]:
        """What to know about the period."""
        if self.speed_shift == 0.0:
            return ()
        turns = {"turns": float(self.turns)}
        return (Note(Doubt.SHIFTED_SPEEDS, self.speed_shift, None, turns),)


def machine_emf(
    machine: Machine, table: FluxTable, speed: Speed, moving: FluxTable | None = None
) -> MachineEmf:
    """Return the EMF of every coil over the machine's exact period, or over the nearest short one.

    Parameters
    ----------
    machine, table
        A machine and its flux table.
    speed
        From `fieldsim.waveform.emf.crank_speed` or ``rotor_speed``.
    moving
        The table as it acts at this speed, if it is another.

    Raises
    ------
    ImpossibleError
        If no speeds near those asked for repeat within 100 turns of the fastest rotor.
    """
    found = repeating_speed(speed)
    waveform = emf_waveform(table, machine, found.speed, moving=moving)
    return MachineEmf(waveform, found.turns, found.shift)


def circuit_emf(coils: CoilCircuit, emf: MachineEmf) -> PeriodicEmf:
    """Return the EMF of a circuit's coils as the solver takes it.

    Where symmetry leaves nothing but rounding, it is zero: the solver would chase the digits.
    """
    emf_V = emf.waveform.emf_V[list(coils.rows)]
    if np.abs(emf_V).max(initial=0.0) < _ROUNDING_V:
        emf_V = np.zeros_like(emf_V)
    return PeriodicEmf(emf.waveform.period_s, emf_V)


@dataclass(frozen=True, eq=False)
class SteadyRun:
    """The periodic steady state of a machine's circuit.

    Parameters
    ----------
    coils
        Names of all the machine's coils, those without current included.
    time_s
        Equal steps from 0 over the period, without the end point, (samples,).
    emf_V, current_A, voltage_V
        Of each coil, (coils, samples); the current is positive along the coil's axis and driven by
        the EMF, the voltage is that at its terminals.
    turns
        Base turns in the period: of the crank, or of a rotor of ratio one.
    speed
        Of the rotors, as solved.
    emf
        What the coils give open.
    circuit
        Of the coils.
    result
        The solver's own, with all parts, balances and warnings.
    """

    coils: tuple[str, ...]
    time_s: Array = field(repr=False)
    emf_V: Array = field(repr=False)
    current_A: Array = field(repr=False)
    voltage_V: Array = field(repr=False)
    turns: Fraction
    speed: Speed
    emf: MachineEmf = field(repr=False)
    circuit: CoilCircuit = field(repr=False)
    result: CircuitResult = field(repr=False)

    @property
    def period_s(self) -> float:
        """Length of the period [s]."""
        return self.emf.waveform.period_s

    @property
    def crank_turns(self) -> Fraction | None:
        """Crank turns in the period; None if the rotors were given speeds of their own."""
        return self.turns if self.speed.given_as == "crank" else None

    @property
    def base_angle_rad(self) -> Array:
        """Angle of the crank, or of a rotor of ratio one, at each time [rad], (samples,)."""
        return self.speed.base_rad_per_s * self.time_s

    @property
    def warnings(self) -> tuple[Note, ...]:
        """What makes the result doubtful."""
        return (*self.emf.notes, *self.result.warnings)


def steady_run(
    coils: CoilCircuit,
    emf: MachineEmf,
    result: CircuitResult,
    samples: int | None = None,
) -> SteadyRun:
    """Return a solved circuit's waveforms at equal steps, for all coils of the machine."""
    waveform = emf.waveform
    count = samples or max(_FEWEST_SAMPLES, len(waveform.time_s))
    time: Array = np.arange(count, dtype=np.float64) * (waveform.period_s / count)
    emf_V = PeriodicEmf(waveform.period_s, waveform.emf_V)(time)
    current, voltage = np.zeros_like(emf_V), emf_V.copy()
    for row, name in zip(coils.rows, coils.names, strict=True):
        trace = result.coils[name]
        current[row] = result.sampled(trace.current_A, count)[1]
        voltage[row] = result.sampled(trace.voltage_V, count)[1]
    for array in (time, emf_V, current, voltage):
        array.setflags(write=False)
    return SteadyRun(
        waveform.coils, time, emf_V, current, voltage, emf.turns, waveform.speed, emf, coils, result
    )
