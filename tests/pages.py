"""A report's page, read back as a browser would see it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from html.parser import HTMLParser
from pathlib import Path

_BLOCKS = {"p", "li", "dt", "dd", "h1", "h2", "h3", "tr", "figcaption", "pre", "title", "summary"}
_BLOCKS |= {"caption", "div", "section", "figure", "header", "footer", "nav", "table"}
_SILENT = {"style", "svg", "script"}


@dataclass(frozen=True)
class Table:
    """A table with its caption, the names of its columns and its rows of cells."""

    caption: str
    header: list[str]
    rows: list[list[str]]

    def column(self, name: str) -> dict[str, str]:
        """Return the cells of a column by the first cell of their rows.

        Narrow tables stand turned on their side: then it is a row.
        """
        if name in self.header:
            return {row[0]: row[self.header.index(name)] for row in self.rows}
        (turned,) = (row for row in self.rows if row[0] == name)
        return dict(zip(self.header[1:], turned[1:], strict=True))


class _Reader(HTMLParser):
    def __init__(self, text: str) -> None:
        super().__init__()
        self.lines: list[str] = [""]
        self.tables: list[Table] = []
        self._silent = 0
        self._rows: list[list[str]] = []
        self._caption = ""
        self._inside: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        named = dict(attrs)
        if tag == "svg" and "aria-label" in named:
            self.lines += [f"picture: {named['aria-label']}", ""]
        self._silent += tag in _SILENT
        if tag in _BLOCKS and self.lines[-1]:
            self.lines.append("")
        if tag == "table":
            self._rows, self._caption = [], ""
        elif tag == "tr":
            self._rows.append([])
        elif tag in ("th", "td"):
            self._rows[-1].append("")
            self.lines[-1] += " | " if self.lines[-1] else ""
        if tag in ("th", "td", "caption"):
            self._inside.append(tag)

    def handle_endtag(self, tag):
        self._silent -= tag in _SILENT
        if tag in ("th", "td", "caption"):
            self._inside.pop()
        if tag in _BLOCKS and self.lines[-1]:
            self.lines.append("")
        if tag == "table":
            self.tables.append(Table(self._caption, self._rows[0], self._rows[1:]))

    def handle_data(self, data):
        if self._silent:
            return
        words = re.sub(r"[ \n\t]+", " ", data)
        self.lines[-1] += words
        if self._inside and self._inside[-1] == "caption":
            self._caption += words
        elif self._inside:
            self._rows[-1][-1] += words


def words_of(page: Path) -> str:
    """Return the words of a page, a line a paragraph or row, and what is said of its pictures."""
    lines = _Reader(page.read_text(encoding="utf-8")).lines
    return "\n".join(line.strip() for line in lines if line.strip())


def tables_of(page: Path) -> list[Table]:
    """Return the tables of a page."""
    return _Reader(page.read_text(encoding="utf-8")).tables


def pictures_of(page: Path) -> list[str]:
    """Return the SVG documents inside a page, with the page's colours by their names."""
    text = page.read_text(encoding="utf-8")
    return re.findall(r"<svg .*?</svg>", text, flags=re.DOTALL)


def number(cell: str) -> float:
    """Return the number that a cell begins with; a dash is nothing."""
    found = re.match(r"[−+-]?[\d.]+(?:e[-+−]?\d+)?", cell.strip())
    assert found, cell
    return float(found[0].replace("−", "-"))
