"""Paths of keys, as in ``rotors.upper.magnets[0].radius``."""

from __future__ import annotations

import re

__all__ = ["Path_", "dotted", "parsed_path"]

Path_ = tuple[str | int, ...]

_LONGEST_PART = 60  # of a key in messages
_PATH = re.compile(r"[^.\[\]]+(?:\.[^.\[\]]+|\[\d{1,6}\])*")
_STEP = re.compile(r"([^.\[\]]+)(?!\])|\[(\d{1,6})\]")


def dotted(path: Path_) -> str:
    """Return a path as text.

    Examples
    --------
    >>> dotted(("rotors", "upper", "magnets", 0, "radius"))
    'rotors.upper.magnets[0].radius'
    """
    text = ""
    for part in path:
        if isinstance(part, int):
            text += f"[{part}]"
        else:
            shown = part if len(part) <= _LONGEST_PART else f"{part[:_LONGEST_PART]}..."
            text += f".{shown}" if text else shown
    return text


def parsed_path(text: str) -> Path_:
    """Return a path from its text.

    Raises
    ------
    ValueError
        If it is no path.

    Examples
    --------
    >>> parsed_path("rotors.upper.magnets[0].radius")
    ('rotors', 'upper', 'magnets', 0, 'radius')
    """
    if _PATH.fullmatch(text) is None:
        raise ValueError(f'"{text[:60]}" is not a path; write it like coils.pickup.length')
    return tuple(name or int(place) for name, place in _STEP.findall(text))
