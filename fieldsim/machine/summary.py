"""A machine in a notebook: its parameters as a table."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from fieldsim.machine.machine import Machine
from fieldsim.machine.parameters import parameters

__all__ = ["machine_html", "table_html"]


def machine_html(machine: Machine) -> str:
    """Return a machine's title and parameters as HTML."""
    rows = [(p.path, p.text, p.words) for p in parameters(machine)]
    return table_html(machine.title, ("path", "value", "what it is"), rows)


def table_html(title: str, header: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Return a table as HTML, every text escaped.

    Examples
    --------
    >>> table_html("<b>", ("a",), [("1 & 2",)])
    '<table><caption>&lt;b&gt;</caption><tr><th>a</th></tr><tr><td>1 &amp; 2</td></tr></table>'
    """

    def line(tag: str, cells: Sequence[str]) -> str:
        return "<tr>" + "".join(f"<{tag}>{escape(cell)}</{tag}>" for cell in cells) + "</tr>"

    body = "".join(line("td", row) for row in rows)
    return f"<table><caption>{escape(title)}</caption>{line('th', header)}{body}</table>"
