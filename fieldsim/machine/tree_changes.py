"""Setting one value in a machine's tree of keys, along the way that its parts allow."""

from __future__ import annotations

from difflib import get_close_matches
from typing import Any

from fieldsim.machine.kinds import Choice
from fieldsim.machine.machine import Machine
from fieldsim.machine.part import Key, Part, PartError, keys_of
from fieldsim.machine.paths import Path_, dotted

__all__ = ["key_at", "set_in_tree"]


def set_in_tree(tree: dict[str, Any], path: Path_, value: Any) -> None:
    """Put a value into the tree of a machine (see `fieldsim.machine.part.tree_of`), in place.

    Parameters
    ----------
    tree
        Of the machine.
    path
        Of a value, of one entry of a list, or of a part that may be left out.
    value
        Anything that the place takes; None or ``"none"`` removes it.

    Raises
    ------
    PartError
        If there is no such place, or what is there cannot be left out.
    """
    _set(Machine, tree, path, 0, value)


def key_at(tree: dict[str, Any], path: Path_) -> Key:
    """Return the key at a path, whether the tree has a value there or not.

    Raises
    ------
    PartError
        If a file could have none there.
    """
    cls: type[Part] = Machine
    node, at = tree, 0
    while True:
        key = _key(cls, node, path, at)
        if key.holds is None or at == len(path) - 1:
            return key
        below = node.get(key.name, {})
        if key.form in ("named", "list"):
            at += 1
            _check_member(below, path, at)
            below = below[path[at]]
            if at == len(path) - 1:
                return key
        cls, node, at = key.holds, below, at + 1


def _set(cls: type[Part], node: dict[str, Any], path: Path_, at: int, value: Any) -> None:
    """Put the value below a part's node, ``at`` being the place of its key in the path."""
    key, name = _key(cls, node, path, at), str(path[at])
    last = at == len(path) - 1
    if not _removes(value, key):
        _clear_rivals(cls, node, dotted(path[at:]))
    if key.form == "inline" and last and key.inline is not None:
        kept = keys_of(key.inline.kinds[value]) if value in key.inline.kinds else {}
        for other in _inline_keys(key):
            if other not in kept:
                node.pop(other, None)
        node[name] = value
    elif last:
        _put(node, key, name, path, value)
    elif key.form == "part" and key.holds is not None:
        below = node.setdefault(name, {})
        _set(key.holds, below, path, at + 1, value)
    elif key.form in ("named", "list") and key.holds is not None:
        _set_in_many(key, node.get(name, {}), path, at + 1, value)
    else:
        _set_in_value(node, name, path, at + 1, value)


def _key(cls: type[Part], node: dict[str, Any], path: Path_, at: int) -> Key:
    """Return the key at a place of the path, those of inline parts included."""
    found = dict(keys_of(cls))
    found.pop(cls.identity, None)
    for key in list(found.values()):
        if key.inline is not None:
            word = node.get(key.name, key.inline.default)
            found |= keys_of(key.inline.kinds.get(word, key.inline.kinds[key.inline.default]))
    name = path[at]
    if name not in found:
        close = get_close_matches(str(name), found, n=1, cutoff=0.5)
        hint = f'did you mean "{dotted((*path[:at], close[0]))}"?' if close else ""
        raise PartError(path, f"no such path; {hint or 'there are: ' + ', '.join(found)}")
    return found[str(name)]


def _inline_keys(key: Key) -> set[str]:
    kinds = key.inline.kinds.values() if key.inline is not None else ()
    return {name for kind in kinds for name in keys_of(kind)}


def _removes(value: Any, key: Key) -> bool:
    if value == "none":
        return not (isinstance(key.kind, Choice) and "none" in key.kind.options)
    return value is None


def _put(node: dict[str, Any], key: Key, name: str, path: Path_, value: Any) -> None:
    if not _removes(value, key):
        node[name] = value
    elif key.needed:
        raise PartError(path, "is needed and cannot be left out")
    else:
        node.pop(name, None)


def _set_in_many(key: Key, many: Any, path: Path_, at: int, value: Any) -> None:
    """Put the value below one of several parts, by name or by place."""
    _check_member(many, path, at)
    if at == len(path) - 1:
        raise PartError(path, "is a whole part; name one of its keys")
    if key.holds is not None:
        _set(key.holds, many[path[at]], path, at + 1, value)


def _check_member(many: Any, path: Path_, at: int) -> None:
    """Refuse a name or a place that none of several parts has."""
    step = path[at]
    if isinstance(many, dict):
        if step not in many:
            what = str(path[at - 1]).removesuffix("s")
            raise PartError(path, f'no {what} is called "{step}"; there are: {", ".join(many)}')
    elif not isinstance(step, int) or step >= len(many):
        count = "1 entry" if len(many) == 1 else f"{len(many)} entries"
        raise PartError(path, f"{dotted(path[:at])} has {count}, counted from [0]")


def _set_in_value(node: dict[str, Any], name: str, path: Path_, at: int, value: Any) -> None:
    """Put the value into an entry of a list, or under a key, of a value that has such."""
    step = path[at]
    if at != len(path) - 1:
        raise PartError(path, f"no such path below {dotted(path[:at])}")
    if isinstance(step, str):
        before = node.get(name)
        node[name] = {**(before if isinstance(before, dict) else {}), step: value}
        return
    entries = list(node.get(name, ()))
    if step >= len(entries) or isinstance(node.get(name), str):
        count = "1 entry" if len(entries) == 1 else f"{len(entries)} entries"
        raise PartError(path, f"{dotted(path[:at])} has {count}, counted from [0]")
    entries[step] = value
    node[name] = entries


def _clear_rivals(cls: type[Part], node: dict[str, Any], relative: str) -> None:
    """Remove what decides the same as the value that is about to be set."""
    for group in cls.rivals:
        if not any(relative == each or relative.startswith(f"{each}[") for each in group):
            continue
        for each in group:
            if relative == each or relative.startswith(f"{each}["):
                continue
            *above, name = each.split(".")
            below = node
            for step in above:
                below = below.get(step, {})
            below.pop(name, None)
