"""Whole outputs that somebody has looked at and approved, kept as texts and compared.

Such a text says nothing about truth: single numbers are checked against results and closed forms in
the tests around it. It sees what those cannot list: a word, a unit, a column, a colour or a line
that is suddenly another. When an output is meant to change, delete its file under
``approved_texts``, run the test, which writes it anew and fails once, and look at the difference.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

_ROOT = Path(__file__).parents[1]
_NUMBER = re.compile(r"(?<![\w#.])[-−+]?\d+(?:\.\d+)?(?:e[-+]\d+)?(?![\w.]*\d)")
_LAST_DIGITS = 1.01
"""How far a number may be off, in units of its last digit: other processors round otherwise."""
_NOISE = 1e-4
"""What a screen writes with an exponent and is smaller than this is an error or rounding."""


def assert_approved(
    name: str, text: str, last_digits: float = _LAST_DIGITS, noise: float = _NOISE
) -> None:
    """Compare a text with the approved one: words exactly, numbers to their last digit.

    Parameters
    ----------
    name
        Of the file under ``approved_texts``, with its folder.
    text
        What was put out.
    last_digits
        How many units of its last digit a number may be off.
    noise
        Of numbers with an exponent that are below this only the size counts, not the digits.
    """
    path = Path(__file__).with_name("approved_texts") / name
    text = text.rstrip("\n").replace(f"{_ROOT}/", "") + "\n"  # wherever the files lie
    if not path.exists():
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
        pytest.fail(f"{path.name} is new: look at it, then keep it")
    old, new = path.read_text(encoding="utf-8").splitlines(), text.splitlines()
    for i, (was, now) in enumerate(zip(old, new, strict=False), start=1):
        assert same(was, now, last_digits, noise), f"{name}, line {i}:\n- {was}\n+ {now}"
    assert len(new) == len(old), f"{name}: {len(new)} lines for {len(old)}"


def same(was: str, now: str, last_digits: float = _LAST_DIGITS, noise: float = _NOISE) -> bool:
    """Return whether two lines have the same words and nearly the same numbers.

    Examples
    --------
    >>> same("peak 4.209 V", "peak 4.210 V"), same("peak 4.209 V", "peak 4.21 V")
    (True, False)
    >>> same("good to 3.3e-07", "good to 1.1e-07"), same("4.2 V", "4.2 mV")
    (True, False)
    """
    words = _NUMBER.split(was), _NUMBER.split(now)
    if words[0] != words[1]:
        return False
    pairs = zip(_NUMBER.findall(was), _NUMBER.findall(now), strict=True)
    return all(_near(one, two, last_digits, noise) for one, two in pairs)


def _near(was: str, now: str, last_digits: float, noise: float) -> bool:
    one, two = (float(number.replace("−", "-")) for number in (was, now))
    if "e" in was and abs(one) < noise:
        return abs(two) <= 10 * abs(one) + 1e-10
    mantissa, _, power = was.partition("e")
    other = now.partition("e")[0]
    decimals = len(mantissa.partition(".")[2])
    if len(other.partition(".")[2]) != decimals:
        return False
    return abs(one - two) <= last_digits * 10.0 ** (int(power or 0) - decimals)
