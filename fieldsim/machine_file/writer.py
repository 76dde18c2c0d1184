"""Write a machine as a file that reads as the same machine and that a person likes to read."""

from __future__ import annotations

import os
from collections.abc import Mapping
from typing import Any

import yaml

from fieldsim.files import written_whole
from fieldsim.machine.machine import Machine
from fieldsim.machine.part import Key, tree_of
from fieldsim.machine.paths import Path_
from fieldsim.machine_file.comments import commented, key_meanings
from fieldsim.machine_file.yaml_nodes import DECIMAL, PLAIN_RESOLVERS

__all__ = ["explained_text", "machine_text", "write"]

_WIDTH = 100
_LONGEST_FLOW = 92  # characters of a section that stands on one line


def write(machine: Machine, path: str | os.PathLike[str]) -> None:
    """Write a machine as a YAML file; reading it gives an equal machine, to the last digit.

    Parameters
    ----------
    machine
        Any, colliding parts included.
    path
        An existing file is replaced, whole or not at all.

    Raises
    ------
    FileTroubleError
        If it cannot be written.

    Examples
    --------
    >>> import tempfile
    >>> from pathlib import Path
    >>> from fieldsim.machine_file.reader import read
    >>> machine = read("geometries/lamp_ring.yaml")
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     write(machine, Path(folder) / "copy.yaml")
    ...     read(Path(folder) / "copy.yaml") == machine
    True
    """
    with written_whole(path) as place:
        place.write_text(machine_text(machine), encoding="utf-8")


def machine_text(machine: Machine) -> str:
    """Return the text of a machine's file."""
    return _yaml_text(tree_of(machine, _written), {})


def explained_text(machine: Machine, notes: Mapping[str, str]) -> str:
    """Return the text of a machine's file with comments: each key's meaning where it comes first.

    Parameters
    ----------
    machine
        Any, colliding parts included.
    notes
        What stands above a section in words, by its key at the top level.
    """
    tree = tree_of(machine, _written)
    meanings = dict(key_meanings(tree))
    return commented(_yaml_text(tree, meanings), meanings, notes)


def _yaml_text(tree: dict[str, Any], meanings: Mapping[Path_, str]) -> str:
    node = _node(tree, (), meanings)
    text: str = yaml.serialize(node, Dumper=_Dumper, allow_unicode=True, width=_WIDTH, indent=2)
    return text


class _Dumper(yaml.SafeDumper):
    """Quotes what the reader would take for something else, and sets lists in."""

    yaml_implicit_resolvers = PLAIN_RESOLVERS

    def increase_indent(self, flow: bool = False, indentless: bool = False) -> None:
        """Set the next level in, lists too."""
        del indentless
        super().increase_indent(flow, False)


def _written(key: Key, value: Any) -> Any:
    return value if key.kind is None or value is None else key.kind.written(value)


def _node(value: Any, path: Path_, meanings: Mapping[Path_, str]) -> yaml.Node:
    """Return the YAML node of a tree: short sections on one line, others a key a line."""
    depth = len(path)
    if isinstance(value, dict):
        pairs = [(_scalar(k), _node(item, (*path, k), meanings)) for k, item in value.items()]
        flow = depth > 1 and _is_plain(value) and _length(value) + 2 * depth <= _LONGEST_FLOW
        told = any(len(p) > depth and p[:depth] == path for p in meanings)  # each beside its key
        flow = flow and (not told or (depth > 2 and len(value) <= 2))
        return yaml.MappingNode("tag:yaml.org,2002:map", pairs, flow_style=flow)
    if isinstance(value, list):
        flow = not any(isinstance(item, dict) for item in value)
        items = [_node(item, (*path, i), meanings) for i, item in enumerate(value)]
        return yaml.SequenceNode("tag:yaml.org,2002:seq", items, flow_style=flow)
    return _scalar(value)


def _scalar(value: Any) -> yaml.Node:
    if isinstance(value, str) and DECIMAL.fullmatch(value):  # 1e5, which is text to the library
        return yaml.ScalarNode("tag:yaml.org,2002:str", value, style="'")
    node: yaml.Node = yaml.representer.SafeRepresenter().represent_data(value)
    return node


def _is_plain(section: dict[str, Any]) -> bool:
    """Return whether a section holds nothing deeper than one list or section of plain values."""
    inner = [value for value in section.values() if isinstance(value, dict)]
    return not any(isinstance(v, dict | list) for each in inner for v in each.values()) and not any(
        isinstance(v, list) and any(isinstance(item, dict) for item in v) for v in section.values()
    )


def _length(value: Any) -> int:
    if isinstance(value, dict):
        return sum(len(str(key)) + 2 + _length(item) + 2 for key, item in value.items())
    if isinstance(value, list):
        return sum(_length(item) + 2 for item in value)
    return len(str(value))
