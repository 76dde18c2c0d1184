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

from fieldsim.errors import FileTroubleError, GeometryError, Place, together
from fieldsim.files import read_bytes
from fieldsim.machine.paths import Path_, dotted

__all__ = [
    "DECIMAL",
    "PLAIN_RESOLVERS",
    "UNREAD",
    "Document",
    "load_document",
    "parsed_document",
    "plain_value",
]


_LARGEST_BYTES = 100_000  # read in some seconds at worst
_TOO_LARGE = "the file is larger than 100 kB; a geometry file is a few kB of text"
_DEEPEST = 20
_NEEDS = "magnets, rotors and coils"
_PLAIN_TAGS = ("str", "int", "float", "bool", "null")
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
    troubles
        What could not be read, its values being `UNREAD`.
    """

    file: str
    content: Any
    lines: Mapping[Path_, int]
    troubles: tuple[GeometryError, ...] = ()

    def is_unread(self, path: Path_) -> bool:
        """Return whether the value at ``path``, or one that it stands in, could not be read."""
        value = self.content
        for step in path:
            if value is UNREAD:
                return True
            known = isinstance(value, dict) and step in value
            known = known or (isinstance(value, list) and step in range(len(value)))
            if not known:
                return False
            value = value[step]
        return value is UNREAD

    def place(self, path: Path_) -> Place:
        """Return the place of the deepest part of ``path`` that the file has."""
        known = path
        while known and known not in self.lines:
            known = known[:-1]
        return Place(self.file, self.lines.get(known, 1), dotted(path))

    def error(self, path: Path_, problem: str) -> GeometryError:
        """Return the error to raise for the value at ``path``."""
        return GeometryError(self.place(path), problem)


UNREAD = object()
"""Stands where a value could not be read, which no key allows."""

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
        raise GeometryError(Place(name, 1, ""), _TOO_LARGE)
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise GeometryError(
            Place(name, line, ""), "this is not UTF-8 text; a geometry file is YAML text"
        ) from error


def load_document(path: Path, name: str, needs: str = _NEEDS) -> Document:
    """Read a YAML file whose top level is a mapping.

    Parameters
    ----------
    path
        The file.
    name
        What to call it in messages.
    needs
        The keys that such a file cannot do without.

    Raises
    ------
    FileTroubleError
        If it cannot be opened.
    GeometryError
        If it is not plain YAML with a mapping at the top.
    """
    return parsed_document(_read_text(path, name), name, needs)


def parsed_document(text: str, name: str, needs: str = _NEEDS) -> Document:
    """Return what a file's text holds.

    Parameters
    ----------
    text
        YAML whose top level is a mapping.
    name
        What to call it in messages.
    needs
        The keys that such a file cannot do without.

    Raises
    ------
    GeometryError
        If it is too long, or not plain YAML with a mapping at the top.
    """
    if len(text) > _LARGEST_BYTES:
        raise GeometryError(Place(name, 1, ""), _TOO_LARGE)
    content, lines, troubles = _load(text, name)
    if content is None:
        raise GeometryError(Place(name, 1, ""), f"the file is empty; it needs {needs}")
    if not isinstance(content, dict):
        if troubles:
            raise together(troubles)
        raise GeometryError(Place(name, 1, ""), f"the top level must be keys, among them {needs}")
    return Document(name, content, lines, tuple(troubles))


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
    content, _, troubles = _load(text, name)
    if troubles:
        raise troubles[0]
    return content


def _load(text: str, name: str) -> tuple[Any, dict[Path_, int], list[GeometryError]]:
    """Return the content of a text, the lines of its keys, and what could not be read."""
    loader: _PlainLoader | None = None
    try:
        loader = _PlainLoader(text)
        node = loader.get_single_node()
        reading = _Reading(loader, name, {(): 1}, [])
        content = None if node is None else reading.plain(node, ())
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
    return content, reading.lines, reading.troubles


@dataclass(frozen=True)
class _Reading:
    """A text on its way from nodes to plain values; what cannot be read is noted and passed over.

    Parameters
    ----------
    loader
        What composed the nodes.
    name
        Of the file.
    lines, troubles
        Filled as nodes are read.
    """

    loader: _PlainLoader
    name: str
    lines: dict[Path_, int]
    troubles: list[GeometryError]

    def plain(self, node: yaml.Node, path: Path_) -> Any:
        """Return the plain value of a node."""
        line = node.start_mark.line + 1
        self.lines.setdefault(path, line)
        try:
            if isinstance(node, yaml.MappingNode):
                _refuse_tag(node, "map", place=Place(self.name, line, dotted(path)))
                return self._mapping(node, path)
            if isinstance(node, yaml.SequenceNode):
                _refuse_tag(node, "seq", place=Place(self.name, line, dotted(path)))
                return [self.plain(item, (*path, i)) for i, item in enumerate(node.value)]
            return _scalar(self.loader, node, Place(self.name, line, dotted(path)))
        except GeometryError as error:
            self.troubles.append(error)
            return UNREAD

    def _mapping(self, node: yaml.MappingNode, path: Path_) -> dict[str, Any]:
        found: dict[str, Any] = {}
        for key_node, value_node in node.value:
            line = key_node.start_mark.line + 1
            try:
                key = _key(key_node, Place(self.name, line, dotted(path)))
                if key in found:
                    first = self.lines[(*path, key)]
                    place = Place(self.name, line, dotted((*path, key)))
                    raise GeometryError(place, f"given twice; first on line {first}")
            except GeometryError as error:
                self.troubles.append(error)
                found.setdefault(str(key_node.value), UNREAD)
                continue
            self.lines[(*path, key)] = line
            found[key] = self.plain(value_node, (*path, key))
        return found


def _refuse_tag(node: yaml.Node, *allowed: str, place: Place) -> None:
    """Refuse a node that is none of the plain kinds allowed."""
    if node.tag not in {f"tag:yaml.org,2002:{name}" for name in allowed}:
        raise GeometryError(place, _tag_problem(node.tag))


def _key(node: yaml.Node, place: Place) -> str:
    """Return the word that a node is as a key."""
    if node.tag == "tag:yaml.org,2002:merge":
        raise GeometryError(place, _tag_problem(node.tag))
    if not isinstance(node, yaml.ScalarNode) or node.tag != "tag:yaml.org,2002:str":
        shown = str(node.value)[:40] if isinstance(node, yaml.ScalarNode) else "a list or mapping"
        raise GeometryError(place, f"{shown} cannot be a key; keys are plain words")
    _check_characters(node.value, place)
    return str(node.value)


def _scalar(loader: _PlainLoader, node: yaml.Node, place: Place) -> Any:
    """Return text, a number, a boolean or None; a number must be one that nobody can misread.

    YAML 1.1 takes 0100 for sixty-four and 1:30 for ninety, but 1e3 for text.
    """
    text = str(node.value)
    if node.tag == "tag:yaml.org,2002:timestamp":
        return text
    _refuse_tag(node, *_PLAIN_TAGS, place=place)
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


def _tag_problem(tag: str) -> str:
    short = tag.replace("tag:yaml.org,2002:", "!!")[:60]
    if short == "!!merge":
        return "merge keys (<<) are not allowed; write the values out"
    return f"the YAML tag {short} is not allowed; use plain text, numbers, lists and keys"
