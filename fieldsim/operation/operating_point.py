"""The operating point: a machine at a crank speed, and all that follows from it, each made once."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING

from fieldsim.circuit.multimeter import Meter
from fieldsim.circuit.tolerances import TOLERANCE
from fieldsim.errors import ImpossibleError
from fieldsim.machine.machine import Machine
from fieldsim.machine.summary import table_html
from fieldsim.operation.books import Books
from fieldsim.operation.machine_at_speed import (
    MachineAtSpeed,
    Progress,
    speed_asked,
)
from fieldsim.waveform.emf import Speed
from fieldsim.waveform.flux_table import tolerance_for
from fieldsim.words.numbers import in_unit, number, plain_rpm

if TYPE_CHECKING:
    from fieldsim.operation.effort import Effort
    from fieldsim.operation.light import LightReport

__all__ = ["OperatingPoint"]


@dataclass(frozen=True, eq=False, init=False, repr=False)
class OperatingPoint(MachineAtSpeed):
    """A machine at a crank speed; what is asked of it is computed once and kept.

    Parameters
    ----------
    machine
        Its parts must leave each other room.
    crank_speed
        Text with unit; by default 120 rpm.
    crank_speed_rad_per_s
        In its place, a number.
    rotor_speed, rotor_speed_rad_per_s
        In place of both: every rotor turns at this speed, with the sign of its gear ratio.
    tolerance
        Of the flux linkage, relative to each curve's peak-to-peak; by default 1e-6, with iron 1e-4.
    meter
        What readings are taken with.

    Raises
    ------
    ImpossibleError
        If parts collide, more than one speed is given, or a speed cannot be.

    Examples
    --------
    >>> from fieldsim.machine_file.reader import read
    >>> point = OperatingPoint(read("geometries/lamp_ring.yaml"), "90 rpm")
    >>> point.figures["pickup"].frequency_Hz
    24.0
    >>> [lamp.lights for lamp in point.light.lamps]
    [True]
    """

    meter: Meter = field(default_factory=Meter)

    def __init__(
        self,
        machine: Machine,
        crank_speed: str | None = None,
        *,
        crank_speed_rad_per_s: float | None = None,
        rotor_speed: str | None = None,
        rotor_speed_rad_per_s: float | None = None,
        tolerance: float | None = None,
        meter: Meter | None = None,
        circuit_tolerance: float = TOLERANCE,
        speed: Speed | None = None,
        near: MachineAtSpeed | None = None,
        progress: Progress | None = None,
        books: Books | None = None,
    ) -> None:
        asked = (crank_speed, crank_speed_rad_per_s, rotor_speed, rotor_speed_rad_per_s, speed)
        if sum(each is not None for each in asked) > 1:
            raise ImpossibleError("give one speed, of the crank or of the rotors")
        if speed is None:
            crank = crank_speed if crank_speed_rad_per_s is None else crank_speed_rad_per_s
            rotor = rotor_speed if rotor_speed_rad_per_s is None else rotor_speed_rad_per_s
            speed = speed_asked(crank, rotor)(machine)
        values = {
            "machine": machine,
            "speed": speed,
            "tolerance": tolerance_for(machine) if tolerance is None else tolerance,
            "circuit_tolerance": circuit_tolerance,
            "near": near,
            "progress": progress,
            "books": Books() if books is None else books,
            "meter": Meter() if meter is None else meter,
        }
        for name, value in values.items():
            object.__setattr__(self, name, value)
        self.__post_init__()

    def __repr__(self) -> str:
        """Return the machine's title and the speed."""
        rpm = plain_rpm(self.speed.base_rad_per_s, 4)
        return f"OperatingPoint({self.machine.title!r}, {self.speed.given_as} at {rpm})"

    def _repr_html_(self) -> str:
        """Return what it gives as a table, for notebooks."""
        rows = [
            (f"{coil}, open", f"{number(f.rms_V)} V RMS, {number(f.peak_V)} V peak")
            for coil, f in self.figures.items()
        ]
        if self.machine.load and self.machine.windings:
            rows += [
                (
                    f"{lamp.count} x {lamp.label}",
                    f"{in_unit(lamp.average_current_A, 'mA')} mA on average, "
                    + ("lights" if lamp.lights else "flashes" if lamp.flashes else "dark"),
                )
                for lamp in self.circuit_result.lamps
            ]
        return table_html(repr(self), ("what", "it gives"), rows)

    @cached_property
    def lighting(self) -> LightReport:
        """What lights and what to heed, without the readings of meters, which take as long."""
        from fieldsim.operation.light import lighting

        return lighting(self)

    @cached_property
    def metered(self) -> LightReport:
        """What lights and what the meters show; whether iron saturates, which takes long, not."""
        from fieldsim.operation.light import light

        return light(self, self.lighting, self.meter)

    @cached_property
    def light(self) -> LightReport:
        """What lights, what the meters show, and what to heed."""
        cautions = (*self.metered.cautions, *self.saturation, *self.solid_iron)
        return replace(self.metered, cautions=cautions, iron_loss=self.iron_loss)

    @cached_property
    def effort(self) -> Effort:
        """What the hand feels, and what could come loose."""
        from fieldsim.operation.effort import effort

        return effort(self)
