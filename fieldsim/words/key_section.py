"""The keys of one section of a file."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["KeySection"]


@dataclass(frozen=True)
class KeySection:
    """The keys of one section.

    Parameters
    ----------
    path
        Of the section, names left out: ``coils.wire``; empty for the top level.
    heading
        How it is told from others.
    rows
        Key, value, default and meaning of each, as Markdown.
    """

    path: str
    heading: str
    rows: tuple[tuple[str, str, str, str], ...]
