"""The described machine as an immutable object."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

from fieldsim.machine.magnets import Magnet
from fieldsim.machine.placed import PlacedCoil, PlacedRotor

if TYPE_CHECKING:
    from os import PathLike

    from fieldsim.machine.fittings import Fittings

__all__ = ["Machine"]


@dataclass(frozen=True)
class Machine:
    """A whole machine in free space.

    Parameters
    ----------
    title
        Free text.
    magnets, rotors, coils
        The parts, in the order of the file.
    fittings
        Wire, load, gears and so on, where the machine was read from a file.
    file
        Name of the file it was read from, or empty.
    """

    title: str
    magnets: tuple[Magnet, ...]
    rotors: tuple[PlacedRotor, ...]
    coils: tuple[PlacedCoil, ...]
    fittings: Fittings | None = field(default=None, compare=False)
    file: str = field(default="", compare=False)

    @classmethod
    def from_file(cls, path: str | PathLike[str]) -> Machine:
        """Read and check a YAML geometry; see `fieldsim.machine_file.reader.read_geometry`."""
        from fieldsim.machine_file.reader import read_geometry

        return read_geometry(path)

    def rotor(self, name: str) -> PlacedRotor:
        """Return the rotor of that name.

        Raises
        ------
        KeyError
            If there is none.
        """
        return {r.name: r for r in self.rotors}[name]

    def coil(self, name: str) -> PlacedCoil:
        """Return the coil of that name.

        Raises
        ------
        KeyError
            If there is none.
        """
        return {c.name: c for c in self.coils}[name]

    def with_rotors(self, rotors: tuple[PlacedRotor, ...]) -> Machine:
        """Return the machine with other rotors."""
        return replace(self, rotors=rotors)

    def to_magpylib(self, crank_angle_rad: float = 0.0) -> Any:
        """Return the machine as a magpylib collection; see `fieldsim.field.magpylib_machine`."""
        from fieldsim.field.magpylib_machine import magpylib_collection

        return magpylib_collection(self, crank_angle_rad)
