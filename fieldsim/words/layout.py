"""Screens for any width: paragraphs folded between words, tables whose headings break there too."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from fieldsim.words.numbers import bound

__all__ = ["PLAIN_WIDTH", "Block", "Table", "laid_out"]

PLAIN_WIDTH = 80
"""Columns of a screen where no terminal says otherwise."""

_LEAST_WIDTH = 40
_WIDEST_TEXT = 120  # longer lines of prose are hard to read
_MOST_HEADING_LINES = 5
_GAPS = (3, 2)  # blanks between columns, and where room is short


@dataclass(frozen=True)
class Table:
    """A table of a screen.

    Parameters
    ----------
    header
        Of the columns.
    rows
        A text for each column.
    left
        So many columns are words and stand at the left; the others are numbers, at the right.
    names
        So many columns name their row, and are repeated where a table is too wide for the screen;
        by default those at the left.
    """

    header: Sequence[str]
    rows: Sequence[Sequence[str]]
    left: int = 1
    names: int | None = None

    @property
    def naming(self) -> int:
        """How many columns name their row."""
        return self.left if self.names is None else self.names

    @property
    def width(self) -> int:
        """Columns that it takes with nothing folded."""
        sizes = [_widest([self.header, *self.rows], i) for i in range(len(self.header))]
        return sum(sizes) + _GAPS[0] * (len(sizes) - 1)


Block = str | Table


def laid_out(blocks: Iterable[Block], width: int = PLAIN_WIDTH) -> str:
    """Return the text of a screen.

    Parameters
    ----------
    blocks
        Lines of words, each as long as it likes, and tables.
    width
        Columns of the screen.

    Examples
    --------
    >>> print(laid_out(["speeds", Table(["rotor", "rpm"], [["upper", "810"]])]))
    speeds
    rotor   rpm
    ───────────
    upper   810
    """
    width = max(width, _LEAST_WIDTH)
    return "\n".join(
        "\n".join(_parts(block, width)) if isinstance(block, Table) else _folded(block, width)
        for block in blocks
    )


def _folded(text: str, width: int) -> str:
    """Return text with long lines folded between words, the rest of each set in a little."""
    width = min(width, _WIDEST_TEXT)
    lines = []
    for line in text.split("\n"):
        if len(line) > width:
            deeper = " " * (len(line) - len(line.lstrip()) + 4)
            line = textwrap.fill(
                bound(line), width, subsequent_indent=deeper, break_on_hyphens=False
            ).replace("\N{NO-BREAK SPACE}", " ")
        lines.append(line)
    return "\n".join(lines)


def _parts(table: Table, width: int) -> list[str]:
    """Return a table in one piece, or in several under each other that repeat the rows' names."""
    ends = _ends(table, width, len(table.header))
    columns = len(table.header) - table.naming
    for most in range(columns // len(ends), columns):  # pieces of much the same size
        even = _ends(table, width, most)
        if len(even) == len(ends):
            ends = even
            break
    starts = [table.naming, *ends[:-1]]
    pieces = [_drawn(table, start, end, width) for start, end in zip(starts, ends, strict=True)]
    return "\n\n".join(pieces).split("\n")


def _ends(table: Table, width: int, most: int) -> list[int]:
    """Return where each piece of a table ends, with no more than so many columns in one."""
    start = table.naming
    ends: list[int] = []
    while start < len(table.header) or not ends:
        end = min(start + max(most, 1), len(table.header))
        while end > start + 1 and _fitted(table, start, end, width) is None:
            end -= 1
        ends.append(end)
        start = end
    return ends


def _columns(table: Table, start: int, end: int) -> list[int]:
    return [*range(table.naming), *range(start, end)]


def _fitted(table: Table, start: int, end: int, width: int) -> tuple[list[int], int] | None:
    """Return the widths of the names and of some columns, and the gap, if they fit a screen."""
    columns = _columns(table, start, end)
    cells = [_widest(table.rows, i) for i in columns]
    for lines in range(1, _MOST_HEADING_LINES + 1):
        for gap in _GAPS:
            headings = [_width_in_lines(table.header[i], lines) for i in columns]
            widths = [max(pair) for pair in zip(cells, headings, strict=True)]
            if sum(widths) + gap * (len(columns) - 1) <= width:
                return widths, gap
    return _squeezed(table, columns, width)


def _squeezed(table: Table, columns: Sequence[int], width: int) -> tuple[list[int], int] | None:
    """Return widths for which columns of words are folded, or None if words had to be cut."""
    gap = _GAPS[-1]
    whole, least = [], []
    for i in columns:
        heading = _longest_word(table.header[i])
        whole.append(max(heading, _widest(table.rows, i)))
        words = max((_longest_word(row[i]) for row in table.rows), default=0)
        least.append(max(heading, words) if i < table.left else whole[-1])
    spare = width - gap * (len(columns) - 1) - sum(least)
    if spare < 0:
        return None
    wanted = [most - some for most, some in zip(whole, least, strict=True)]
    shares = [min(w, spare * w // sum(wanted)) if sum(wanted) else 0 for w in wanted]
    return [some + share for some, share in zip(least, shares, strict=True)], gap


def _drawn(table: Table, start: int, end: int, width: int) -> str:
    """Return some columns of a table as text; words that are wider than the screen are cut."""
    from io import StringIO

    from rich import box
    from rich.console import Console
    from rich.table import Table as Drawn
    from rich.text import Text

    columns = _columns(table, start, end)
    fitted = _fitted(table, start, end, width)
    if fitted is None:
        room = (width - _GAPS[-1] * (len(columns) - 1)) // len(columns)
        fitted = [min(_widest(table.rows, i) or 1, room) for i in columns], _GAPS[-1]
    widths, gap = fitted
    padding = (0, 1) if gap == _GAPS[0] else (0, 1, 0, 0)
    drawn = Drawn(
        box=box.SIMPLE_HEAD, pad_edge=False, padding=padding, header_style="", show_edge=False
    )
    for i, size in zip(columns, widths, strict=True):
        side: Literal["left", "right"] = "left" if i < table.left else "right"
        drawn.add_column(Text(table.header[i]), justify=side, width=size, overflow="fold")
    for row in table.rows:
        drawn.add_row(*(Text(row[i]) for i in columns))  # letter by letter: no markup in a title
    stream = StringIO()
    Console(file=stream, width=width, color_system=None, highlight=False).print(drawn)
    return "\n".join(line.rstrip() for line in stream.getvalue().splitlines())


def _widest(rows: Sequence[Sequence[str]], column: int) -> int:
    from rich.cells import cell_len

    return max((cell_len(row[column]) for row in rows), default=0)


def _longest_word(text: str) -> int:
    from rich.cells import cell_len

    return max(map(cell_len, text.split()), default=0)


def _width_in_lines(text: str, lines: int) -> int:
    """Return the least width in which words take no more than so many lines."""
    from rich.cells import cell_len

    for width in range(_longest_word(text), cell_len(text)):
        if len(textwrap.wrap(text, width, break_long_words=False, break_on_hyphens=False)) <= lines:
            return width
    return cell_len(text)
