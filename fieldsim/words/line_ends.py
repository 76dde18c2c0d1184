"""Words in which no line ends between a number and its unit."""

from __future__ import annotations

import re

__all__ = ["unbroken"]

_BEFORE_UNIT = re.compile(
    r"(?<=\d) (?=%|(?:[kmµn]?(?:V|A|W|N|Wb|Hz|ohm)|mm|m|rpm|T|turns?)\b)|(?<=N) (?=m\b)"
)


def unbroken(words: str) -> str:
    r"""Return the words with no-break spaces between numbers and units.

    Examples
    --------
    >>> unbroken("magnets 10 % stronger give 3.06 V")
    'magnets 10\xa0% stronger give 3.06\xa0V'
    """
    return _BEFORE_UNIT.sub("\N{NO-BREAK SPACE}", words)
