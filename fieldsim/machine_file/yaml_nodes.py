"""YAML text to plain values together with the line of every key: plain data only, nothing clever.

Tags, aliases, merge keys, duplicate keys, several documents and deep nesting are refused, so that
a geometry file can neither run anything nor grow in memory.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NoReturn

import yaml

from fieldsim.errors import FileTroubleError, GeometryError, Place
from fieldsim.files import read_bytes
from fieldsim.machine.paths import Path_, dotted

__all__ = ["DECIMAL", "PLAIN_RESOLVERS", "Document", "load_document", "plain_value"]


_LARGEST_BYTES = 100_000  # read in some seconds at worst
_DEEPEST = 20
_PLAIN_TAGS = {f"tag:yaml.org,2002:{name}" for name in ("str", "int", "float", "bool", "null")}
DECIMAL = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?", re.ASCII)
# What the library says, and what to do about it.
_YAML_HINTS = {
    "mapping values are not allowed": "; put text that holds a colon in quotes, and check the "
    "indent of this line and the one above",
    "expected <block end>": "; check the indent, and that every key ends in a colon",
    "expected '<document start>'": "; check the indent: the first keys start at the left",
    "could not find expected ':'": "; check the indent, and that every key ends in a colon",
    "expected ',' or": "; check that brackets are closed and entries separated by commas",
    "cannot start any token": "; put text that begins with a special character in quotes",
    "found unexpected end of stream": "; a quote is never closed",
}
_ODD_BUT_CLEAR = re.compile(r"[+-]?\.(inf|Inf|INF)|\.(nan|NaN|NAN)")


@dataclass(frozen=True)
class Document:
    """The plain content of a YAML file.

    Parameters
    ----------
    file
        Name as given.
    content
        Dictionaries, lists, strings, numbers, booleans and None.
    lines
        Line (from 1) of every key and list item, by path.
    """

    file: str
    content: Any
    lines: Mapping[Path_, int]

    def place(self, path: Path_) -> Place:
        """Return the place of the deepest part of ``path`` that the file has."""
        known = path
        while known and known not in self.lines:
            known = known[:-1]
        return Place(self.file, self.lines.get(known, 1), dotted(path))

    def error(self, path: Path_, problem: str) -> GeometryError:
        """Return the error to raise for the value at ``path``."""
        return GeometryError(self.place(path), problem)


PLAIN_RESOLVERS = {
    first: [r for r in resolvers if first in "tTfF" or r[0] != "tag:yaml.org,2002:bool"]
    for first, resolvers in yaml.SafeLoader.yaml_implicit_resolvers.items()
}
"""What plain words mean: of those for true and false only these two count, as in YAML 1.2."""


class _PlainLoader(yaml.SafeLoader):
    """Composes nodes, but refuses aliases and deep nesting before they are expanded."""

    yaml_implicit_resolvers = PLAIN_RESOLVERS
    depth = 0

    def compose_node(self, parent: yaml.Node | None, index: int) -> yaml.Node | None:
        event: Any = self.peek_event()  # type: ignore[no-untyped-call]
        if isinstance(event, yaml.AliasEvent):
            self._refuse("aliases (*name) are not allowed; write the value out", event)
        if getattr(event, "anchor", None) is not None:
            self._refuse("anchors (&name) are not allowed; write the value out", event)
        if self.depth >= _DEEPEST:
            self._refuse(f"nested deeper than {_DEEPEST} levels", event)
        self.depth += 1
        try:
            return super().compose_node(parent, index)
        finally:
            self.depth -= 1

    @staticmethod
    def _refuse(problem: str, event: Any) -> NoReturn:
        raise yaml.composer.ComposerError(None, None, problem, event.start_mark)


def _read_text(path: Path, name: str) -> str:
    if not name:
        raise FileTroubleError("the name of the geometry file is empty")
    try:
        raw = read_bytes(path, _LARGEST_BYTES + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise FileTroubleError(f"{name}: cannot be read: {reason}") from error
    if len(raw) > _LARGEST_BYTES:
        raise GeometryError(
            Place(name, 1, ""),
            "the file is larger than 100 kB; a geometry file is a few kB of text",
        )
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise GeometryError(
            Place(name, line, ""), "this is not UTF-8 text; a geometry file is YAML text"
        ) from error


def load_document(path: Path, name: str) -> Document:
    """Read a YAML file whose top level is a mapping.

    Parameters
    ----------
    path
        The file.
    name
        What to call it in messages.

    Raises
    ------
    FileTroubleError
        If it cannot be opened.
    GeometryError
        If it is not plain YAML with a mapping at the top.
    """
    content, lines = _load(_read_text(path, name), name)
    if content is None:
        raise GeometryError(
            Place(name, 1, ""), "the file is empty; it needs magnets, rotors and coils"
        )
    if not isinstance(content, dict):
        raise GeometryError(
            Place(name, 1, ""), "the top level must be keys: title, magnets, rotors, coils"
        )
    return Document(name, content, lines)


def plain_value(text: str, name: str) -> Any:
    """Return what a short YAML text holds, such as ``[left, -right]``.

    Parameters
    ----------
    text
        As it stands behind a key of a file.
    name
        What to call it in messages.

    Raises
    ------
    GeometryError
        If it is not plain YAML.

    Examples
    --------
    >>> plain_value("[left, -right]", "members")
    ['left', '-right']
    """
    return _load(text, name)[0]


def _load(text: str, name: str) -> tuple[Any, dict[Path_, int]]:
    """Return the content of a text, and the lines of its keys."""
    loader: _PlainLoader | None = None
    try:
        loader = _PlainLoader(text)
        node = loader.get_single_node()
        lines: dict[Path_, int] = {(): 1}
        content = None if node is None else _plain(loader, node, (), lines, name)
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        line = mark.line + 1 if mark else 1
        raise GeometryError(Place(name, line, ""), _yaml_problem(error, line)) from error
    except yaml.reader.ReaderError as error:
        position = error.position if isinstance(error.position, int) else 0
        line = text[:position].count("\n") + 1
        raise GeometryError(
            Place(name, line, ""), "not valid YAML: a control character that text cannot hold"
        ) from error
    except (ValueError, OverflowError) as error:  # an escape for a character that does not exist
        line = loader.get_mark().line + 1 if loader is not None else 1
        problem = "not valid YAML: there is no such character"
        raise GeometryError(Place(name, line, ""), problem) from error
    finally:
        if loader is not None:
            loader.dispose()
    return content, lines


def _plain(
    loader: _PlainLoader, node: yaml.Node, path: Path_, lines: dict[Path_, int], name: str
) -> Any:
    line = node.start_mark.line + 1
    lines.setdefault(path, line)
    if isinstance(node, yaml.MappingNode):
        if node.tag != "tag:yaml.org,2002:map":
            raise GeometryError(Place(name, line, dotted(path)), _tag_problem(node.tag))
        return _mapping(loader, node, path, lines, name)
    if isinstance(node, yaml.SequenceNode):
        if node.tag != "tag:yaml.org,2002:seq":
            raise GeometryError(Place(name, line, dotted(path)), _tag_problem(node.tag))
        return [_plain(loader, item, (*path, i), lines, name) for i, item in enumerate(node.value)]
    if node.tag == "tag:yaml.org,2002:timestamp":
        return str(node.value)
    if node.tag not in _PLAIN_TAGS:
        raise GeometryError(Place(name, line, dotted(path)), _tag_problem(node.tag))
    return _scalar(loader, node, Place(name, line, dotted(path)))


def _scalar(loader: _PlainLoader, node: yaml.Node, place: Place) -> Any:
    """Return text, a number, a boolean or None; a number must be one that nobody can misread.

    YAML 1.1 takes 0100 for sixty-four and 1:30 for ninety, but 1e3 for text.
    """
    text = str(node.value)
    if node.tag == "tag:yaml.org,2002:str":
        _check_characters(text, place)
        if getattr(node, "style", None) is None and DECIMAL.fullmatch(text):
            return float(text)
    elif node.tag in ("tag:yaml.org,2002:int", "tag:yaml.org,2002:float"):
        decimal = DECIMAL.fullmatch(text)
        octal = re.match(r"[+-]?0\d", text) and node.tag.endswith("int")
        if octal or not (decimal or _ODD_BUT_CLEAR.fullmatch(text)):
            raise GeometryError(
                place, f'"{text[:40]}" is not a plain number; write it in decimal, like 1800 or 2.5'
            )
    try:
        return loader.construct_object(node)
    except (ValueError, OverflowError, yaml.YAMLError) as error:
        problem = f'"{text[:40]}..." is not a number that can be read'
        raise GeometryError(place, problem) from error


def _check_characters(text: str, place: Place) -> None:
    for character in text:
        if character not in "\n\t" and unicodedata.category(character).startswith("C"):
            raise GeometryError(
                place,
                f"holds the unprintable character U+{ord(character):04X}; retype the line by hand",
            )


def _yaml_problem(error: yaml.MarkedYAMLError, line: int) -> str:
    problem = error.problem or "cannot be read"
    if "another document" in problem:
        return "a second document starts here (---); a geometry file holds one"
    start = error.context_mark
    if start is not None and error.context and start.line + 1 != line:
        problem += f" {error.context} that began on line {start.line + 1}"
    if "'\\t'" in problem:
        problem += "; indent with spaces, not with tabs"
    hint = next((hint for words, hint in _YAML_HINTS.items() if words in problem), "")
    return f"not valid YAML: {problem}{hint}"


def _mapping(
    loader: _PlainLoader, node: yaml.MappingNode, path: Path_, lines: dict[Path_, int], name: str
) -> dict[str, Any]:
    result: dict[str, Any] = {}
    for key_node, value_node in node.value:
        line = key_node.start_mark.line + 1
        key = key_node.value
        if key_node.tag == "tag:yaml.org,2002:merge":
            raise GeometryError(Place(name, line, dotted(path)), _tag_problem(key_node.tag))
        if not isinstance(key_node, yaml.ScalarNode) or key_node.tag != "tag:yaml.org,2002:str":
            shown = str(key)[:40] if isinstance(key_node, yaml.ScalarNode) else "a list or mapping"
            raise GeometryError(
                Place(name, line, dotted(path)), f"{shown} cannot be a key; keys are plain words"
            )
        _check_characters(key, Place(name, line, dotted(path)))
        if key in result:
            first = lines[(*path, key)]
            raise GeometryError(
                Place(name, line, dotted((*path, key))), f"given twice; first on line {first}"
            )
        lines[(*path, key)] = line
        result[key] = _plain(loader, value_node, (*path, key), lines, name)
    return result


def _tag_problem(tag: str) -> str:
    short = tag.replace("tag:yaml.org,2002:", "!!")[:60]
    if short == "!!merge":
        return "merge keys (<<) are not allowed; write the values out"
    return f"the YAML tag {short} is not allowed; use plain text, numbers, lists and keys"
