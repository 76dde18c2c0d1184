"""What commands say on standard error: one line for each thing that went wrong."""

from __future__ import annotations

import sys

__all__ = ["complain", "one_line"]

_LONGEST_LINE = 600


def one_line(text: str) -> str:
    r"""Return text as one line that every terminal can show.

    Examples
    --------
    >>> one_line("a\nb\x1b[31m")
    'a?b?[31m'
    """
    return "".join(c if c.isprintable() else "?" for c in text)


def complain(*messages: str) -> None:
    """Write a line for each message, however long or strange the names in it are."""
    for message in messages:
        shown = one_line(" ".join(message.split()))
        if len(shown) > _LONGEST_LINE:
            shown = f"{shown[: _LONGEST_LINE // 2]} ... {shown[-_LONGEST_LINE // 2 :]}"
        if sys.stderr is not None:
            sys.stderr.write(f"fieldsim: {shown}\n")
