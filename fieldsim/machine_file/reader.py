"""Read a geometry file: YAML to checked sections to a `Machine`, every error with its place."""

from __future__ import annotations

import math
import os
from fractions import Fraction
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, TypeVar

from pydantic import BaseModel, ValidationError

from fieldsim.errors import GeometryError, ImpossibleError
from fieldsim.machine.connections import BadConnectionError, Connections
from fieldsim.machine.fittings import ROOM_TEMPERATURE_K, Fittings
from fieldsim.machine.gears import GearTrain, GearTrainError
from fieldsim.machine.machine import Machine
from fieldsim.machine.magnets import Magnet, North
from fieldsim.machine.mechanics import Friction
from fieldsim.machine.placed import PlacedCoil, PlacedMagnet, PlacedRotor, Shaft
from fieldsim.machine_file.connections_schema import connections_from_sections
from fieldsim.machine_file.schema import (
    CoilSection,
    MachineSection,
    MagnetSection,
    MountSection,
    RotorSection,
)
from fieldsim.machine_file.yaml_nodes import Document, Path_, load_document

if TYPE_CHECKING:
    from fieldsim.machine.load.circuit_parts import Load
    from fieldsim.wire.winding import Winding

__all__ = ["read_geometry"]

_S = TypeVar("_S", bound=BaseModel)


def read_geometry(path: str | os.PathLike[str], *, check_clearances: bool = True) -> Machine:
    """Read and check a geometry file.

    Parameters
    ----------
    path
        A YAML file with the keys described in the README.
    check_clearances
        Whether parts that run into each other are an error (the default) or let pass, for instance
        to draw the machine and see where they do.

    Raises
    ------
    FileTroubleError
        If the file cannot be opened.
    GeometryError
        If a value is wrong; the message names file, line and key.
    ImpossibleError
        If two parts collide.
    """
    name = os.fspath(path)
    document = load_document(Path(path), name)
    section = _validated(document)
    geometry = _geometry(section, document)
    if check_clearances:
        from fieldsim.machine.clearance.clearances import check_collisions

        check_collisions(geometry)
    return geometry


def _validated(document: Document) -> MachineSection:
    return _checked(MachineSection, document.content, document, ())


def _checked(kind: type[_S], content: Any, document: Document, path: Path_) -> _S:
    """Return the content as a section, or raise its first problem with its place."""
    try:
        return kind.model_validate(content)
    except ValidationError as error:
        problems = [_located(document, item, path) for item in error.errors(include_url=False)]
        raise min(problems, key=lambda p: p.place.line) from None


def _located(document: Document, item: Any, above: Path_) -> GeometryError:
    """Turn one validation error into a one-line message at its place in the file."""
    path: Path_ = (*above, *(p for p in item["loc"] if p != "[key]"))
    kind, message, context = item["type"], item["msg"], item.get("ctx", {})
    if context.get("key") is not None:
        return document.error((*path, context["key"]), message)
    if kind == "missing":
        return document.error(path, "this key is missing")
    if kind in ("greater_than_equal", "less_than_equal"):
        bound = context.get("ge", context.get("le"))
        word = "at least" if kind == "greater_than_equal" else "at most"
        return document.error(path, f"{item['input']} is out of range; it must be {word} {bound}")
    if kind in ("dict_type", "model_type"):
        return document.error(path, "must be keys with values")
    if kind == "list_type":
        return document.error(path, "must be a list")
    return document.error(path, message)


def _magnet(name: str, section: MagnetSection) -> Magnet:
    return Magnet(name, section.to_shape(), section.remanence)


def _mounted(
    section: MountSection, kinds: dict[str, Magnet], document: Document, path: Path_
) -> list[PlacedMagnet]:
    if section.magnet not in kinds:
        known = ", ".join(kinds)
        raise document.error(
            (*path, "magnet"), f'no magnet is called "{section.magnet}"; there are: {known}'
        )
    north = North(section.north)
    return [
        PlacedMagnet(
            kinds[section.magnet],
            section.radius,
            section.angle + 2 * math.pi * i / section.count,
            section.height,
            north.reversed if section.poles == "alternating" and i % 2 else north,
        )
        for i in range(section.count)
    ]


def _rotor(
    name: str,
    section: RotorSection,
    ratio: Fraction,
    kinds: dict[str, Magnet],
    document: Document,
) -> PlacedRotor:
    path: Path_ = ("rotors", name)
    magnets = [
        mounted
        for i, mount in enumerate(section.magnets)
        for mounted in _mounted(mount, kinds, document, (*path, "magnets", i))
    ]
    shaft = Shaft(section.shaft.through, section.shaft.along)
    try:
        return PlacedRotor(name, shaft, section.zero, tuple(magnets), ratio, section.start)
    except ValueError:
        raise document.error(
            (*path, "zero"), "is parallel to the shaft; it must stand off from it"
        ) from None


def _winding(name: str, section: CoilSection, document: Document) -> Winding | None:
    """Return the winding that a coil's wire makes, or None where the file gives no wire."""
    if section.wire is None:
        return None
    from fieldsim.wire.winding import resolve_winding

    try:
        spec = section.wire.to_spec(section.opening, section.length, section.build, section.turns)
        return resolve_winding(spec)
    except ImpossibleError as error:
        raise document.error(("coils", name, "wire"), str(error)) from None


def _coil(
    name: str, section: CoilSection, winding: Winding | None, document: Document
) -> PlacedCoil:
    build = winding.build_m if winding is not None else section.build
    turns = winding.turns if winding is not None else section.turns
    try:
        return PlacedCoil(
            name,
            section.centre,
            section.axis,
            section.side,
            section.opening,
            section.length,
            float(build or 0.0),
            float(turns or 0.0),
        )
    except ValueError:
        raise document.error(
            ("coils", name, "side"), "is parallel to the coil's axis; it must stand off from it"
        ) from None


def _train(section: MachineSection, document: Document) -> GearTrain:
    """Return the gears from the crank to every rotor."""
    stated = {name: rotor.gear_ratio for name, rotor in section.rotors.items()}
    if section.gears is None:
        return GearTrain.from_ratios({name: r or Fraction(1) for name, r in stated.items()})
    try:
        return section.gears.train(stated)
    except GearTrainError as error:
        raise document.error(error.path, error.problem) from None


def _connections(section: MachineSection, document: Document) -> Connections:
    try:
        return connections_from_sections(section.connections, list(section.coils))
    except BadConnectionError as error:
        raise document.error(("connections", *error.path), str(error)) from None


def _load(
    section: MachineSection, connections: Connections, document: Document
) -> tuple[Load | None, str]:
    """Return the load and what it hangs across."""
    if section.load is None:
        return None, ""
    from fieldsim.machine_file.load_schema import LoadSection

    load = _checked(LoadSection, section.load, document, ("load",))
    known = [*section.coils, *section.connections]
    if load.across not in known:
        raise document.error(
            ("load", "across"),
            f'no coil or connection is called "{load.across}"; there are: {", ".join(known)}',
        )
    if load.across not in connections.outermost:
        raise document.error(
            ("load", "across"),
            f'"{load.across}" is part of a connection; allowed: {", ".join(connections.outermost)}',
        )
    return load.to_load(), load.across


def _geometry(section: MachineSection, document: Document) -> Machine:
    kinds = {name: _magnet(name, s) for name, s in section.magnets.items()}
    train = _train(section, document)
    rotors = tuple(
        _rotor(name, s, train.ratios[name], kinds, document) for name, s in section.rotors.items()
    )
    windings = {name: _winding(name, s, document) for name, s in section.coils.items()}
    coils = tuple(_coil(name, s, windings[name], document) for name, s in section.coils.items())
    connections = _connections(section, document)
    load, across = _load(section, connections, document)
    fittings = Fittings(
        connections,
        train,
        MappingProxyType({name: w for name, w in windings.items() if w is not None}),
        load,
        across,
        section.crank.crank_arm() if section.crank is not None else None,
        section.friction.friction() if section.friction is not None else Friction(),
        section.adhesive.adhesive() if section.adhesive is not None else None,
        section.temperature if section.temperature is not None else ROOM_TEMPERATURE_K,
    )
    stem = Path(document.file).stem  # a file may have any name, a title only letters to be shown
    title = section.title or "".join(c if c.isprintable() else "?" for c in stem)
    return Machine(title, tuple(kinds.values()), rotors, coils, fittings, document.file)
