"""fieldsim: what a small hand-cranked magnet generator gives, computed before it is wound.

    import fieldsim as fs

    machine = fs.read("geometries/lamp_ring.yaml")
    point = fs.OperatingPoint(machine, "90 rpm")
    point.figures["pickup"].rms_V, point.light.lamps, point.effort.crank.average_torque_Nm

The machine, and changing it
    Machine read write parameters Parameter
A machine to begin with
    starting_kinds starting_machine starting_text
Its parts, frozen dataclasses in SI units that check themselves when they are made
    Magnet Cuboid Cylinder Sphere North ArmAxis Shaft Mount Rotor Coil CoilWire Spool SharedSpool
    Connection Load Lamps LoadCapacitor LoadPart Gears GearWheel Crank Friction Adhesive
    Core IronPiece Material Rod Tube Disc Block Ball MagnetGrade magnet_grades
What follows at a speed
    OperatingPoint operating_points OperatingPoints Variants
    Meter FluxTable flux_table load_flux_table save_flux_table inductance_matrix saturated_emf
Questions to one or several points
    compare vary ranges gap_study gauge_study match sensitivity lamp_start search read_wish
Pictures
    draw_machine
What goes wrong, in one line or, for a file, a line for each fault
    FieldsimError ImpossibleError GeometryError

Each is loaded when it is first used; ``help(fs.OperatingPoint)`` and its like say more.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from fieldsim.circuit.multimeter import Meter
    from fieldsim.drawing.machine_drawing import draw_machine
    from fieldsim.errors import FieldsimError, GeometryError, ImpossibleError
    from fieldsim.field.inductance.matrix import inductance_matrix
    from fieldsim.machine.coil_wire import CoilWire, SharedSpool, Spool
    from fieldsim.machine.coils import Coil
    from fieldsim.machine.connections import Connection
    from fieldsim.machine.gearing import Gears, GearWheel
    from fieldsim.machine.iron import Ball, Block, Core, Disc, IronPiece, Rod, Tube
    from fieldsim.machine.load.load import Lamps, Load, LoadCapacitor, LoadPart
    from fieldsim.machine.machine import Machine
    from fieldsim.machine.magnet_grades import MagnetGrade, magnet_grades
    from fieldsim.machine.magnets import ArmAxis, Cuboid, Cylinder, Magnet, North, Sphere
    from fieldsim.machine.materials import Material
    from fieldsim.machine.mechanics import Adhesive, Crank, Friction
    from fieldsim.machine.parameters import Parameter, parameters
    from fieldsim.machine.rotors import Mount, Rotor
    from fieldsim.machine.shaft import Shaft
    from fieldsim.machine_file.reader import read
    from fieldsim.machine_file.starting import starting_kinds, starting_machine, starting_text
    from fieldsim.machine_file.writer import write
    from fieldsim.operation.many_points import OperatingPoints, Variants, operating_points
    from fieldsim.operation.operating_point import OperatingPoint
    from fieldsim.operation.saturated_emf import saturated_emf
    from fieldsim.studies.compare import compare
    from fieldsim.studies.gap import gap_study
    from fieldsim.studies.gauges import gauge_study
    from fieldsim.studies.lamp_start import lamp_start
    from fieldsim.studies.match import match
    from fieldsim.studies.ranges import ranges
    from fieldsim.studies.search import search
    from fieldsim.studies.sensitivity import sensitivity
    from fieldsim.studies.vary import vary
    from fieldsim.studies.wish_file import read_wish
    from fieldsim.tables.flux_file import load_flux_table, save_flux_table
    from fieldsim.waveform.flux_table import FluxTable, flux_table

__version__ = "0.2.0"

_ROOMS = {
    "drawing.machine_drawing": "draw_machine",
    "errors": "FieldsimError GeometryError ImpossibleError",
    "field.inductance.matrix": "inductance_matrix",
    "machine.coil_wire": "CoilWire Spool SharedSpool",
    "machine.coils": "Coil",
    "machine.connections": "Connection",
    "machine.gearing": "GearWheel Gears",
    "machine.iron": "Ball Block Core Disc IronPiece Rod Tube",
    "machine.load.load": "Lamps Load LoadCapacitor LoadPart",
    "machine.machine": "Machine",
    "machine.magnet_grades": "MagnetGrade magnet_grades",
    "machine.magnets": "ArmAxis Cuboid Cylinder Magnet North Sphere",
    "machine.materials": "Material",
    "machine.mechanics": "Adhesive Crank Friction",
    "machine.parameters": "Parameter parameters",
    "machine.rotors": "Mount Rotor",
    "machine.shaft": "Shaft",
    "machine_file.reader": "read",
    "machine_file.starting": "starting_kinds starting_machine starting_text",
    "machine_file.writer": "write",
    "circuit.multimeter": "Meter",
    "operation.many_points": "OperatingPoints Variants operating_points",
    "operation.operating_point": "OperatingPoint",
    "operation.saturated_emf": "saturated_emf",
    "studies.compare": "compare",
    "studies.gap": "gap_study",
    "studies.gauges": "gauge_study",
    "studies.lamp_start": "lamp_start",
    "studies.match": "match",
    "studies.ranges": "ranges",
    "studies.search": "search",
    "studies.sensitivity": "sensitivity",
    "studies.vary": "vary",
    "studies.wish_file": "read_wish",
    "tables.flux_file": "load_flux_table save_flux_table",
    "waveform.flux_table": "FluxTable flux_table",
}
_WHERE = {name: room for room, names in _ROOMS.items() for name in names.split()}

__all__ = [  # noqa: RUF022  (in the order of the docstring)
    "Machine", "read", "write", "parameters", "Parameter",
    "starting_kinds", "starting_machine", "starting_text",
    "Magnet", "Cuboid", "Cylinder", "Sphere", "North", "ArmAxis", "Shaft", "Mount", "Rotor", "Coil",
    "CoilWire", "Spool", "SharedSpool", "Connection", "Load", "Lamps", "LoadCapacitor", "LoadPart",
    "Gears", "GearWheel", "Crank", "Friction", "Adhesive",
    "Core", "IronPiece", "Material", "Rod", "Tube", "Disc", "Block", "Ball",
    "MagnetGrade", "magnet_grades",
    "OperatingPoint", "operating_points", "OperatingPoints", "Variants",
    "Meter", "FluxTable", "flux_table", "load_flux_table", "save_flux_table",
    "inductance_matrix", "saturated_emf",
    "compare", "vary", "ranges", "gap_study", "gauge_study", "match", "sensitivity", "lamp_start",
    "search", "read_wish",
    "draw_machine",
    "FieldsimError", "ImpossibleError", "GeometryError",
]  # fmt: skip


def __getattr__(name: str) -> Any:
    if name not in _WHERE:
        raise AttributeError(f"fieldsim has no {name!r}; there are: {', '.join(__all__)}")
    value = getattr(importlib.import_module(f"fieldsim.{_WHERE[name]}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return [*__all__, "__version__"]
