"""A machine at a steady speed, up to the currents: every step made once, when it is asked for."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, fields, replace
from fractions import Fraction
from functools import cached_property
from typing import TYPE_CHECKING, Any, Self

from fieldsim.circuit.tolerances import TOLERANCE
from fieldsim.errors import ImpossibleError
from fieldsim.machine.clearance.clearances import Clearance, check_collisions
from fieldsim.machine.machine import Machine
from fieldsim.machine.units import parse_quantity
from fieldsim.operation.books import Books
from fieldsim.operation.terminal_voltage import connection_waveform
from fieldsim.waveform.emf import EmfWaveform, Speed, crank_speed, emf_waveform, rotor_speed
from fieldsim.waveform.figures import EmfFigures, emf_figures, rms
from fieldsim.waveform.flux_table import DEFAULT_TOLERANCE, FluxTable, coil_iron, flux_table
from fieldsim.waveform.moving_flux import flux_tables_at_speed, principal_rad_per_s

if TYPE_CHECKING:
    from fieldsim.cautions import Caution
    from fieldsim.circuit.emf_source import PeriodicEmf
    from fieldsim.circuit.lamp_speeds import LampSpeed
    from fieldsim.circuit.machine_circuit import CoilCircuit, MachineEmf, SteadyRun
    from fieldsim.circuit.network import Circuit
    from fieldsim.circuit.results import CircuitResult
    from fieldsim.field.iron.coil_iron import CoilIron
    from fieldsim.field.iron.iron_eddies import IronEddies
    from fieldsim.field.iron.iron_energy import IronEnergy
    from fieldsim.field.iron.magnetised_iron import MagnetisedIron
    from fieldsim.operation.iron_loss import IronLoss

__all__ = ["DEFAULT_CRANK_SPEED", "MachineAtSpeed", "crank_rad_per_s", "speed_asked"]

DEFAULT_CRANK_SPEED = "120 rpm"

Progress = Callable[[int, int], None]


def speed_asked(
    crank: str | float | None = None, rotor: str | float | None = None
) -> Callable[[Machine], Speed]:
    """Return the function from a machine to the speeds of its rotors that is asked for.

    Parameters
    ----------
    crank
        Speed of the crank: text with unit, or a number [rad/s]; by default 120 rpm.
    rotor
        Speed of every rotor, with the sign of its gear ratio; instead of ``crank``.

    Raises
    ------
    ImpossibleError
        If both are given, or a text is no speed.

    Examples
    --------
    >>> from fieldsim.machine_file.reader import read
    >>> machine = read("geometries/one_rotor.yaml")
    >>> round(speed_asked("60 rpm")(machine).base_rad_per_s, 4)
    6.2832
    """
    if crank is not None and rotor is not None:
        raise ImpossibleError("give a crank speed or a rotor speed, not both")
    if rotor is not None:
        rotor_rad_per_s = _rad_per_s(rotor)
        return lambda machine: rotor_speed(machine, rotor_rad_per_s)
    base_rad_per_s = crank_rad_per_s(crank)
    return lambda machine: crank_speed(machine, base_rad_per_s)


def crank_rad_per_s(speed: str | float | None = None) -> float:
    """Return a crank speed [rad/s]: text with unit, or a number; by default 120 rpm.

    Raises
    ------
    ImpossibleError
        If a text is no speed.
    """
    return _rad_per_s(DEFAULT_CRANK_SPEED if speed is None else speed)


def _rad_per_s(speed: str | float) -> float:
    if not isinstance(speed, str):
        return float(speed)
    try:
        return parse_quantity(speed, "rotation speed")
    except ValueError as error:
        raise ImpossibleError(str(error)) from None


@dataclass(frozen=True, eq=False)
class MachineAtSpeed:
    """A machine at a steady speed.

    Parameters
    ----------
    machine
        Its parts must leave each other room.
    speed
        Of its rotors, from `speed_asked` or `fieldsim.waveform.emf.crank_speed`.
    tolerance
        Of the flux linkage, relative to each curve's peak-to-peak.
    circuit_tolerance
        Of average powers and currents.
    near
        A point whose machine or speed differs little: what is the same is taken from it, and the
        steps of its currents are nearly those needed here.
    progress
        Called with (pairs done, pairs in all) while the flux table is made.
    books
        What is known of other machines and is not computed again where it comes again.

    Raises
    ------
    ImpossibleError
        If parts collide.
    """

    machine: Machine
    speed: Speed
    tolerance: float = DEFAULT_TOLERANCE
    circuit_tolerance: float = TOLERANCE
    near: MachineAtSpeed | None = field(default=None, repr=False)
    progress: Progress | None = field(default=None, repr=False)
    books: Books = field(default_factory=Books, repr=False)

    def __post_init__(self) -> None:
        _ = self.clearances

    def __getstate__(self) -> dict[str, Any]:
        """Return what other processes are sent: what else was worked out they do themselves."""
        taken = {each.name for each in fields(self)} - {"progress"}
        taken |= {"clearances", "flux_table", "waveform", "figures"}
        kept = {name: value for name, value in self.__dict__.items() if name in taken}
        return {**kept, "progress": None}

    def _near_if(self, same: Callable[[Machine, Machine], bool]) -> MachineAtSpeed | None:
        """Return the point that this one is near to, if their machines are the same in this."""
        near = self.near
        return near if near is not None and same(near.machine, self.machine) else None

    @cached_property
    def clearances(self) -> tuple[Clearance, ...]:
        """Smallest distances of its parts."""
        near = self._near_if(_alike)
        return near.clearances if near else check_collisions(self.machine)

    @cached_property
    def flux_table(self) -> FluxTable:
        """Flux linkage of every coil with every rotor, against rotor angle."""
        near = self._near_if(_alike)
        if near and near.tolerance <= self.tolerance:
            return near.flux_table
        return flux_table(
            self.machine,
            tolerance=self.tolerance,
            progress=self.progress,
            iron=self.iron,
            book=self.books.curves,
        )

    @cached_property
    def iron(self) -> CoilIron:
        """Its iron, solved for in the fields of its coils when that is first asked for."""
        near = self._near_if(_alike)
        return near.iron if near else coil_iron(self.machine)

    @cached_property
    def eddies(self) -> IronEddies:
        """Its iron in changing fields; false where it has no eddy currents."""
        from fieldsim.field.iron.iron_eddies import IronEddies

        near = self._near_if(_alike)
        return near.eddies if near else IronEddies(self.iron)

    @property
    def moving_flux_table(self) -> FluxTable:
        """Flux linkage as it acts at this speed: the table itself without eddy currents."""
        return self._moving_flux_tables[0]

    @property
    def braking_flux_table(self) -> FluxTable:
        """Flux linkage by which currents in the coils act on the rotors at this speed.

        Iron answers to a current as late as to a magnet, so the magnets feel the current behind the
        time: what turning back would give.
        """
        return self._moving_flux_tables[1]

    @cached_property
    def _moving_flux_tables(self) -> tuple[FluxTable, FluxTable]:
        return flux_tables_at_speed(
            self.flux_table, self.machine, self.speed, self.eddies, self.tolerance
        )

    @cached_property
    def iron_energy(self) -> IronEnergy:
        """Energy of its iron in the field of the rotors' magnets, at any of their angles."""
        from fieldsim.field.iron.iron_energy import iron_energy

        if near := self._near_if(_same_iron):
            return near.iron_energy
        return iron_energy(self.machine.placed_iron, self.machine.placed_rotors)

    @cached_property
    def magnetised_iron(self) -> MagnetisedIron | None:
        """The charge that the magnets draw to its iron, to some per cent; None without iron."""
        from fieldsim.field.iron.magnetised_iron import magnetised_iron

        if near := self._near_if(_same_iron):
            return near.magnetised_iron
        return magnetised_iron(self.machine.placed_iron, self.machine.placed_rotors)

    @cached_property
    def carried_T(self) -> dict[str, float]:
        """The greatest average flux density over any section of each piece of iron [T]."""
        from fieldsim.operation.saturation import carried_T

        return carried_T(self.machine, self.magnetised_iron)

    @cached_property
    def saturation(self) -> tuple[Caution, ...]:
        """A caution for each piece of iron past the knee of its material."""
        from fieldsim.operation.saturation import saturation_cautions

        near = self._near_if(_same_iron_and_windings)
        if near and near.tolerance <= self.tolerance:
            return near.saturation
        return saturation_cautions(self)

    @cached_property
    def solid_iron(self) -> tuple[Caution, ...]:
        """A caution for each piece of solid iron whose eddy currents are left out but matter."""
        from fieldsim.operation.solid_iron import solid_iron_cautions

        return solid_iron_cautions(self)

    @cached_property
    def eddy_shares(self) -> dict[str, float]:
        """What share of its RMS EMF eddy currents in iron take, by coil; empty without any."""
        if not self.eddies:
            return {}
        still = rms(emf_waveform(self.flux_table, self.machine, self.speed).emf_V)
        now = rms(self.waveform.emf_V)
        pairs = zip(self.waveform.coils, now.tolist(), still.tolist(), strict=True)
        return {coil: 1.0 - a / b if b > 0 else 0.0 for coil, a, b in pairs}

    @cached_property
    def waveform(self) -> EmfWaveform:
        """EMF of every coil with nothing connected, over one period."""
        return emf_waveform(
            self.flux_table, self.machine, self.speed, moving=self.moving_flux_table
        )

    @cached_property
    def figures(self) -> dict[str, EmfFigures]:
        """Figures of the EMF, by coil."""
        return emf_figures(self.waveform)

    @cached_property
    def connection_waveform(self) -> EmfWaveform:
        """Voltage of joined coils with nothing connected; see `connection_figures`."""
        return connection_waveform(self.waveform, self.machine)

    @cached_property
    def connection_figures(self) -> dict[str, EmfFigures | None]:
        """The same figures of joined coils with nothing connected, by connection.

        None where coils in parallel lack wire: they share by their resistances.
        """
        if not self.machine.connections:
            return {}
        known = emf_figures(self.connection_waveform)
        return {each.name: known.get(each.name) for each in self.machine.connections}

    @cached_property
    def coil_circuit(self) -> CoilCircuit:
        """Resistances, inductances and connections of the coils, and the load.

        Raises
        ------
        ImpossibleError
            If a connected coil has no wire.
        """
        from fieldsim.circuit.machine_circuit import coil_circuit

        near = self._near_if(_same_circuit)
        if near and (not self.eddies or near.speed == self.speed):
            return near.coil_circuit
        book, eddies = self.books.inductances, self.eddies
        if not eddies:
            return coil_circuit(self.machine, self.iron, book=book)
        omega = principal_rad_per_s(self.flux_table, self.speed)
        return coil_circuit(
            self.machine, self.iron, book=book, eddies=eddies, omega_rad_per_s=omega
        )

    @cached_property
    def resting_circuit(self) -> CoilCircuit:
        """As `coil_circuit`, but with iron as in a field that stands still.

        Raises
        ------
        ImpossibleError
            If a connected coil has no wire.
        """
        from fieldsim.circuit.machine_circuit import coil_circuit

        if not self.eddies:
            return self.coil_circuit
        return coil_circuit(self.machine, self.iron, book=self.books.inductances)

    @cached_property
    def machine_emf(self) -> MachineEmf:
        """EMF over a period that is short enough to be solved.

        Raises
        ------
        ImpossibleError
            If no speeds near those asked for repeat soon.
        """
        from fieldsim.circuit.machine_circuit import machine_emf

        return machine_emf(self.machine, self.flux_table, self.speed, self.moving_flux_table)

    @cached_property
    def resting_emf(self) -> MachineEmf:
        """As `machine_emf`, but with iron as in a field that stands still.

        Raises
        ------
        ImpossibleError
            If no speeds near those asked for repeat soon.
        """
        from fieldsim.circuit.machine_circuit import machine_emf

        if not self.eddies:
            return self.machine_emf
        return machine_emf(self.machine, self.flux_table, self.speed)

    @cached_property
    def circuit_emf(self) -> PeriodicEmf:
        """EMF of the circuit's coils, as the solver takes it."""
        from fieldsim.circuit.machine_circuit import circuit_emf

        return circuit_emf(self.coil_circuit, self.machine_emf)

    @cached_property
    def circuit_result(self) -> CircuitResult:
        """The circuit's state that repeats itself every period."""
        from fieldsim.circuit.solver import periodic_steady_state

        near = None
        if self.near is not None and self.near.circuit_tolerance == self.circuit_tolerance:
            near = self.near.__dict__.get("circuit_result")  # only if it is known already
        return periodic_steady_state(
            self.coil_circuit.circuit, self.circuit_emf, tolerance=self.circuit_tolerance, near=near
        )

    @cached_property
    def steady_state(self) -> SteadyRun:
        """Its waveforms at equal steps, for all coils of the machine."""
        from fieldsim.circuit.machine_circuit import steady_run

        return steady_run(self.coil_circuit, self.machine_emf, self.circuit_result)

    @cached_property
    def lamp_speeds(self) -> tuple[LampSpeed, ...]:
        """The lowest speed at which each lamp lights."""
        from fieldsim.circuit.lamp_speeds import lamp_speeds

        def driven(ratio: float) -> tuple[Circuit, PeriodicEmf]:
            if not self.eddies:
                return self.coil_circuit.circuit, self.circuit_emf.faster(ratio)
            # With eddy currents in iron an EMF does not grow as the speed.
            point = self if ratio == 1.0 else self.moved_to(self.machine, ratio)
            return point.coil_circuit.circuit, point.circuit_emf

        return lamp_speeds(driven, abs(self.machine_emf.waveform.speed.base_rad_per_s))

    @cached_property
    def iron_loss(self) -> IronLoss:
        """What eddy currents in iron take from the magnets and the coils' currents.

        Raises
        ------
        ImpossibleError
            If the rotors never come back together.
        """
        from fieldsim.operation.electric_side import electric_side
        from fieldsim.operation.iron_loss import iron_loss

        return iron_loss(self, electric_side(self))

    def changed(self, changes: Mapping[str, Any], speed_factor: float = 1.0) -> Self:
        """Return the point of a changed machine, or of the same at another speed.

        Parameters
        ----------
        changes
            As `fieldsim.machine.parameters.changed` takes them.
        speed_factor
            By what the speed is multiplied.

        Raises
        ------
        ImpossibleError
            If there is no such machine.
        """
        machine = self.machine.changed(changes) if changes else self.machine
        return self.moved_to(machine, speed_factor)

    def moved_to(self, machine: Machine, speed_factor: float = 1.0) -> Self:
        """Return the point of another machine like this one, as fast or faster by a factor."""
        base = self.speed.base_rad_per_s * speed_factor
        asked = crank_speed if self.speed.given_as == "crank" else rotor_speed
        near = self if self.near is None else self._alone()
        return replace(self, machine=machine, speed=asked(machine, base), near=near)

    def _alone(self) -> Self:
        """Return the point with all it has worked out, but without the one it was near to.

        A long walk of moves would otherwise keep every step of it.
        """
        alone = object.__new__(type(self))
        alone.__dict__.update(self.__dict__, near=None)
        return alone

    @property
    def crank_speed_rpm(self) -> float:
        """Speed of the crank, or of a rotor of ratio one [turns a minute]."""
        return self.speed.base_rad_per_s * 30 / math.pi

    @property
    def repeat_turns(self) -> Fraction:
        """Base turns after which all repeats."""
        return self.machine_emf.turns


def _alike(first: Machine, second: Machine) -> bool:
    """Return whether two machines have the same magnets, windings and iron in the same places."""
    if first is second:
        return True
    return (
        first.placed_coils == second.placed_coils
        and first.placed_iron == second.placed_iron
        and _in_place(first) == _in_place(second)
    )


def _same_iron(first: Machine, second: Machine) -> bool:
    """Return whether two machines have the same iron among the same rotors."""
    return first.placed_iron == second.placed_iron and first.placed_rotors == second.placed_rotors


def _same_iron_and_windings(first: Machine, second: Machine) -> bool:
    return first.placed_coils == second.placed_coils and _same_iron(first, second)


def _in_place(machine: Machine) -> list[tuple[object, ...]]:
    """Return all of the rotors but how fast they turn and where they start."""
    other = ("gear_ratio", "start")
    return [
        tuple(getattr(rotor, each.name) for each in fields(rotor) if each.name not in other)
        for rotor in machine.placed_rotors
    ]


def _same_circuit(first: Machine, second: Machine) -> bool:
    return (
        first.coils == second.coils
        and first.placed_iron == second.placed_iron
        and first.connections == second.connections
        and first.load == second.load
        and first.temperature == second.temperature
        and first.wire_temperature == second.wire_temperature
    )
