"""Read a geometry file: YAML to checked sections to a `Geometry`, every error with its place."""

from __future__ import annotations

import math
import os
from fractions import Fraction
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from fieldsim.errors import GeometryError
from fieldsim.geometry.machine import (
    Coil,
    Geometry,
    Magnet,
    MountedMagnet,
    North,
    Rotor,
    make_coil,
    make_rotor,
    make_shaft,
)
from fieldsim.geometry.schema import (
    CoilSection,
    MachineSection,
    MagnetSection,
    MountSection,
    RotorSection,
)
from fieldsim.geometry.yaml_nodes import Document, Path_, load_document

__all__ = ["read_geometry"]


def read_geometry(path: str | os.PathLike[str], *, check_clearances: bool = True) -> Geometry:
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
        from fieldsim.geometry.clearance import check_collisions

        check_collisions(geometry)
    return geometry


def _validated(document: Document) -> MachineSection:
    try:
        return MachineSection.model_validate(document.content)
    except ValidationError as error:
        problems = [_located(document, item) for item in error.errors(include_url=False)]
        first = min(problems, key=lambda p: p.place.line)
        raise first from None


def _located(document: Document, item: Any) -> GeometryError:
    """Turn one validation error into a one-line message at its place in the file."""
    path: Path_ = tuple(p for p in item["loc"] if p != "[key]")
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
) -> list[MountedMagnet]:
    if section.magnet not in kinds:
        known = ", ".join(kinds)
        raise document.error(
            (*path, "magnet"), f'no magnet is called "{section.magnet}"; there are: {known}'
        )
    north = North(section.north)
    return [
        MountedMagnet(
            kinds[section.magnet],
            section.radius,
            section.angle + 2 * math.pi * i / section.count,
            section.height,
            north.reversed if section.poles == "alternating" and i % 2 else north,
        )
        for i in range(section.count)
    ]


def _rotor(name: str, section: RotorSection, kinds: dict[str, Magnet], document: Document) -> Rotor:
    path: Path_ = ("rotors", name)
    magnets = [
        mounted
        for i, mount in enumerate(section.magnets)
        for mounted in _mounted(mount, kinds, document, (*path, "magnets", i))
    ]
    shaft = make_shaft(section.shaft.through, section.shaft.along)
    ratio = section.gear_ratio if section.gear_ratio is not None else Fraction(1)
    try:
        return make_rotor(name, shaft, section.zero, tuple(magnets), ratio, section.start)
    except ValueError:
        raise document.error(
            (*path, "zero"), "is parallel to the shaft; it must stand off from it"
        ) from None


def _coil(name: str, section: CoilSection, document: Document) -> Coil:
    try:
        return make_coil(
            name,
            section.centre,
            section.axis,
            section.side,
            section.opening,
            section.length,
            section.build,
            section.turns,
        )
    except ValueError:
        raise document.error(
            ("coils", name, "side"), "is parallel to the coil's axis; it must stand off from it"
        ) from None


def _geometry(section: MachineSection, document: Document) -> Geometry:
    kinds = {name: _magnet(name, s) for name, s in section.magnets.items()}
    rotors = tuple(_rotor(name, s, kinds, document) for name, s in section.rotors.items())
    coils = tuple(_coil(name, s, document) for name, s in section.coils.items())
    stem = Path(document.file).stem  # a file may have any name, a title only letters to be shown
    title = section.title or "".join(c if c.isprintable() else "?" for c in stem)
    return Geometry(title, tuple(kinds.values()), rotors, coils, document.file)
