"""What a value is that may be uncertain, where the file leaves it to something else too."""

from __future__ import annotations

from fieldsim.machine.load.led_colours import USUAL_A
from fieldsim.machine.machine import Machine
from fieldsim.machine.parameters import parameter

__all__ = ["LAMP_VOLTAGE", "uncertain_value"]

LAMP_VOLTAGE = "load.lamps.forward"
"""The path of the lamps' voltage; of a lamp by its colour that at 20 mA."""


def uncertain_value(machine: Machine, path: str) -> tuple[float, str]:
    """Return a value and its SI unit.

    Parameters
    ----------
    machine
        Any.
    path
        Of a number: turns and build of a coil are known whatever decides them.

    Raises
    ------
    ImpossibleError
        If there is no such path.
    ValueError
        If it is no number that could be a little more or less.

    Examples
    --------
    >>> from fieldsim.machine_file.reader import read
    >>> uncertain_value(read("geometries/lamp_ring.yaml"), "coils.pickup.turns")
    (1364.0, '')
    """
    room, *rest = path.split(".")
    known = {coil.name for coil in machine.coils}
    if room == "coils" and rest and rest[0] in known and rest[1:] in (["turns"], ["build"]):
        placed = machine.coil(rest[0]).placed
        return (float(placed.turns), "") if rest[1] == "turns" else (placed.build, "m")
    if path == LAMP_VOLTAGE and machine.load.lamps:
        lamps = machine.load.lamps
        return lamps.forward or lamps.led().voltage_V(USUAL_A), "V"
    item = parameter(machine, path)
    if isinstance(item.value, str) or item.unit == "AWG":
        raise ValueError("is no number that could be a little more or less")
    return float(item.value), item.unit
