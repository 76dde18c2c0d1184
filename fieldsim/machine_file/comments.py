"""Comments in a machine's file: what each key means, beside the first line that has it."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Mapping
from typing import Any

from fieldsim.machine.kinds import Flag
from fieldsim.machine.part import Key
from fieldsim.machine.paths import Path_
from fieldsim.machine.tree_changes import key_at
from fieldsim.machine_file.yaml_nodes import parsed_document

__all__ = ["comment", "commented", "key_meanings"]

_COLUMN = 34  # where comments beside values begin
_WIDTH = 80


def key_meanings(tree: dict[str, Any]) -> Iterator[tuple[Path_, str]]:
    """Yield the paths of a machine's tree at which a key comes first, with its meaning.

    Parameters
    ----------
    tree
        From `fieldsim.machine.part.tree_of`.
    """
    seen: set[int] = set()
    for path in _paths(tree):
        key = key_at(tree, path)
        if path[-1] == key.name and id(key) not in seen:
            seen.add(id(key))
            yield path, _meaning(key)


def _meaning(key: Key) -> str:
    """Return what a key means, and the words that it may hold where there are several."""
    values = key.kind.values if key.kind is not None and not isinstance(key.kind, Flag) else ""
    words = f" ({values})" if values.startswith("`") and "," in values else ""
    return f"{key.said.words}{words}".replace("`", "")


def _paths(value: Any, above: Path_ = ()) -> Iterator[Path_]:
    """Yield the paths of all keys and entries that are parts, in order."""
    if isinstance(value, dict):
        for key, item in value.items():
            yield (*above, key)
            yield from _paths(item, (*above, key))
    elif isinstance(value, list) and value and isinstance(value[0], dict):
        for place, item in enumerate(value):
            yield from _paths(item, (*above, place))


def commented(text: str, meanings: Mapping[Path_, str], notes: Mapping[str, str]) -> str:
    """Return a file's text with comments.

    Parameters
    ----------
    text
        YAML without comments.
    meanings
        By path; each stands beside its line, or above it where there is no room.
    notes
        What stands above a section, by its key at the top level.
    """
    lines = text.splitlines()
    first: dict[int, Path_] = {}  # of the paths that begin on a line
    for path, number in parsed_document(text, "").lines.items():
        if path and not isinstance(path[-1], int):
            first.setdefault(number, path)
    found: list[str] = []
    for number, line in enumerate(lines, start=1):
        path = first.get(number, ())
        if len(path) == 1 and path[0] in notes:
            found += ["", *comment(notes[str(path[0])])]
        found += _explained(line, meanings.get(path, "")) if len(path) > 1 else [line]
    return "\n".join(found) + "\n"


def _explained(line: str, meaning: str) -> list[str]:
    """Return a line with its meaning beside it, or above it where there is no room."""
    if not meaning:
        return [line]
    beside = f"{line.ljust(_COLUMN - 2)}  # {meaning}"
    if len(beside) <= _WIDTH:
        return [beside]
    return [*comment(meaning, len(line) - len(line.lstrip())), line]


def comment(text: str, indent: int = 0) -> list[str]:
    """Return text as lines of a comment; its own line ends are kept."""
    start = f"{' ' * indent}# "
    return [
        line
        for piece in text.splitlines()
        for line in textwrap.wrap(piece, _WIDTH, initial_indent=start, subsequent_indent=start)
    ]
