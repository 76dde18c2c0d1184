"""Read a machine's file: YAML to checked parts, every error with its place."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

from pydantic import ValidationError

from fieldsim.errors import together
from fieldsim.machine.clearance.clearances import check_collisions
from fieldsim.machine.machine import Machine
from fieldsim.machine.part import made_from, problems_of
from fieldsim.machine_file.file_kinds import refuse_a_wish
from fieldsim.machine_file.yaml_nodes import Document, load_document, parsed_document

__all__ = ["read", "read_sound", "read_text"]


def read(path: str | os.PathLike[str]) -> Machine:
    """Read and check a machine's file.

    Parameters
    ----------
    path
        A YAML file with the keys described in the README.

    Raises
    ------
    FileTroubleError
        If the file cannot be opened, or holds a wish.
    GeometryError
        If values are wrong; each line of the message names file, line and key.

    Notes
    -----
    Parts that run into each other are let pass: such a machine can be drawn and changed.

    Examples
    --------
    >>> read("geometries/one_rotor.yaml").coil("pickup").turns
    1800
    """
    name = os.fspath(path)
    document = load_document(Path(path), name)
    return replace(_machine(document), file=name)


def read_text(text: str, name: str = "machine") -> Machine:
    """Read and check a machine from the text of its file.

    Parameters
    ----------
    text
        YAML with the keys described in the README.
    name
        What to call it in messages; also the title where the text has none.

    Raises
    ------
    FileTroubleError
        If the text is a wish.
    GeometryError
        If a value is wrong; the message names line and key.

    Examples
    --------
    >>> from pathlib import Path
    >>> text = Path("geometries/one_rotor.yaml").read_text(encoding="utf-8")
    >>> read_text(text) == read("geometries/one_rotor.yaml")
    True
    """
    return _machine(parsed_document(text, name))


def read_sound(path: str | os.PathLike[str]) -> Machine:
    """Read a machine's file whose parts leave each other room.

    Raises
    ------
    FileTroubleError, GeometryError
        As `read`.
    ImpossibleError
        If two parts collide.
    """
    machine = read(path)
    check_collisions(machine)
    return machine


def _machine(document: Document) -> Machine:
    """Return the machine, or raise all that is wrong with the file."""
    refuse_a_wish(document)
    stem = Path(document.file).stem  # a file may have any name, a title only letters to be shown
    title = "".join(c if c.isprintable() else "?" for c in stem)
    content = {**document.content}
    content["title"] = content.get("title", "") or title
    try:
        machine = made_from(Machine, content, in_file=True)
    except ValidationError as error:
        found = [
            document.error(each.path, each.text)
            for each in problems_of(Machine, error)
            if not document.is_unread(each.path)
        ]
        raise together([*document.troubles, *found]) from None
    if document.troubles:
        raise together(document.troubles)
    return machine
