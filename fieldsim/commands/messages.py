"""What commands print: results on standard output, one line for each complaint on the other."""

from __future__ import annotations

import codecs
import io
import shutil
import sys
import unicodedata

__all__ = ["complain", "one_line", "print_text", "screen_width", "spell_plainly"]

_LONGEST_LINE = 600

# For terminals that lack the letter: the nearest that every one has.
_PLAIN = {"─": "-", "–": "-", "—": "-", "−": "-", "×": "x", "°": "deg", "µ": "u", "Ω": "ohm",
          "…": "...", "“": '"', "”": '"', "‘": "'", "’": "'"}  # fmt: skip


def print_text(text: str) -> None:
    """Print to standard output, if there is any."""
    if sys.stdout is not None:
        sys.stdout.write(text + "\n")


def screen_width() -> int:
    """Return the columns of the terminal, or of an ordinary one where the output goes elsewhere."""
    from fieldsim.words.layout import PLAIN_WIDTH

    return shutil.get_terminal_size((PLAIN_WIDTH, 24)).columns


def spell_plainly() -> None:
    """Let both outputs write the nearest letter where their encoding lacks one."""
    codecs.register_error("fieldsim.nearest", _nearest)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="fieldsim.nearest")


def _nearest(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    return "".join(map(_plain, error.object[error.start : error.end])), error.end


def _plain(letter: str) -> str:
    """Return the nearest plain letter.

    Examples
    --------
    >>> [_plain(letter) for letter in "é─°磁"]
    ['e', '-', 'deg', '?']
    """
    if letter in _PLAIN:
        return _PLAIN[letter]
    bare = unicodedata.normalize("NFKD", letter)[0]
    return bare if bare.isascii() and bare.isprintable() else "?"


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
