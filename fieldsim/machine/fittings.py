"""What a file says beyond the magnetic machine: wire, connections, load, gears, crank, glue."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TYPE_CHECKING

from fieldsim.machine.gears import GearTrain
from fieldsim.machine.mechanics import Adhesive, CrankArm, Friction

if TYPE_CHECKING:
    from fieldsim.machine.connections import Connections
    from fieldsim.machine.load.circuit_parts import Load
    from fieldsim.wire.winding import Winding

__all__ = ["ROOM_TEMPERATURE_K", "Fittings"]

ROOM_TEMPERATURE_K = 293.15


@dataclass(frozen=True)
class Fittings:
    """The electrical and mechanical parts of a machine.

    Parameters
    ----------
    windings
        The worked-out winding of every coil whose file gives its ``wire``, by coil name.
    connections
        How coils are joined.
    load, across
        What is connected, and to which coil or connection; None and empty where the file has none.
    train
        Gears from the crank to every rotor.
    crank, adhesive
        As described, or None.
    friction
        All zero where the file has none.
    temperature_K
        Of the wire.
    """

    connections: Connections
    train: GearTrain
    windings: Mapping[str, Winding] = field(default_factory=lambda: MappingProxyType({}))
    load: Load | None = None
    across: str = ""
    crank: CrankArm | None = None
    friction: Friction = field(default_factory=Friction)
    adhesive: Adhesive | None = None
    temperature_K: float = ROOM_TEMPERATURE_K
