"""What there is to begin with, as text."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from fieldsim.machine_file.starting import StartingKind
from fieldsim.words.layout import PLAIN_WIDTH, laid_out

__all__ = ["kinds_text"]


def kinds_text(
    kinds: Mapping[str, StartingKind],
    wishes: Mapping[str, StartingKind],
    width: int = PLAIN_WIDTH,
) -> str:
    """Return the kinds of files to begin with and the shipped wishes, one a line."""
    made = [kind for kind in kinds.values() if kind.file is None]
    shipped = [kind for kind in kinds.values() if kind.file is not None]
    return laid_out(
        [
            "with comments that say what to measure; --gears and --lamps add these:",
            *_lines(made),
            "",
            "machines of their own, copied as they are:",
            *_lines(shipped),
            "",
            "wishes, for fieldsim search:",
            *_lines(wishes.values()),
        ],
        width,
    )


def _lines(kinds: Iterable[StartingKind]) -> list[str]:
    return [f"  {kind.name:<19}{kind.about}" for kind in kinds]
