"""Numbers and units as people read them: the one place where a number becomes text.

What is rounding beside a stated scale is shown as 0. All texts are plain; `typeset` gives them the
minus signs and unbroken spaces of a page.
"""

from __future__ import annotations

import math
import re

import numpy as np

__all__ = [
    "NOTHING",
    "ROUNDING",
    "SOLVED",
    "bound",
    "change",
    "gain_words",
    "in_unit",
    "number",
    "plain_number",
    "plain_rpm",
    "quantity",
    "rough",
    "rpm_of",
    "share",
    "typeset",
    "unit_for",
]

ROUNDING = 1e-9
"""Share of a quantity's own scale below which floating-point rounding is all there is."""

SOLVED = 1e-4
"""The same for what a circuit gives: it is solved to some 1e-4 of its averages."""

NOTHING = {"V": 1e-9, "A": 1e-12, "W": 1e-9, "N m": 1e-9, "Wb": 1e-12}
"""Of a hand-cranked machine: what lies below is left by rounding where all else cancels."""

_PREFIXES = {"M": 1e6, "k": 1e3, "": 1.0, "m": 1e-3, "µ": 1e-6, "n": 1e-9, "p": 1e-12}
# What no display of a bench would show, in plain units.
_LEAST = {"V": 5e-5, "A": 5e-7, "W": 5e-7, "ohm": 5e-4, "K": 5e-4, "m": 5e-7, "g": 5e-4, "F": 5e-13}
_UNITS = {prefix + unit: (size, unit) for unit in _LEAST for prefix, size in _PREFIXES.items()}
_BEFORE_UNIT = re.compile(
    r"(?<=\d) (?=%|(?:[kmµn]?(?:V|A|W|N|Wb|Hz|ohm)|mm|m|rpm|T|turns?)\b)|(?<=N) (?=m\b)"
)
_TIMES = re.compile(r"(?<=\d )x(?= \w|$)|(?<![\w)] )\bx(?= \d)|(?<=over )x(?= \d)")
_MINUS = re.compile(r"(?<![\w.)-])-(?=\d)")

_TENFOLD = 10.0


def number(value: float, digits: int = 3, least: float = 0.0) -> str:
    """Return a number to some digits, without an exponent where it reads well; for columns.

    Parameters
    ----------
    value
        The number; not a number gives a dash.
    digits
        How many count; zeros at the end are kept.
    least
        What is smaller in size is 0: rounding beside what it goes with, say `ROUNDING` of it.

    Examples
    --------
    >>> number(0.0123456), number(1234.5678, 4), number(2.0), number(0.0), number(math.nan)
    ('0.0123', '1235', '2.00', '0', '-')
    >>> number(-7.45e-14, least=ROUNDING * 0.3), number(8.44e-08)
    ('0', '8.44e-08')
    """
    value = float(value)
    if math.isnan(value):
        return "-"
    if abs(value) < least or value == 0:
        return "0"
    if math.isinf(value):
        return f"{value:g}"
    exponent = math.floor(math.log10(abs(value)))
    if exponent < -4 or exponent > 6:
        return f"{value:.{digits - 1}e}"
    return f"{value:.{max(digits - 1 - exponent, 0)}f}"


def plain_number(value: float, digits: int = 3) -> str:
    """Return a number rounded to some digits, never with an exponent; for sentences.

    Examples
    --------
    >>> plain_number(3000.4), plain_number(0.01234), plain_number(12.0), plain_number(-0.0)
    ('3000', '0.0123', '12', '0')
    """
    value = float(value) or 0.0
    return np.format_float_positional(
        value, precision=digits, unique=False, fractional=False, trim="-"
    )


def in_unit(value: float, unit: str, digits: int = 3, least: float | None = None) -> str:
    """Return a number in a unit with its prefix, without the unit's name; for columns.

    Parameters
    ----------
    value
        In the plain unit.
    unit
        Of the text, for instance ``"mA"``.
    digits
        How many count.
    least
        In the plain unit, what is smaller is 0; by default what no display on a bench would show.

    Examples
    --------
    >>> in_unit(0.0123, "mA"), in_unit(1e-9, "mA"), in_unit(1.5e6, "Mohm")
    ('12.3', '0', '1.50')
    """
    size, plain = _UNITS[unit]
    return number(value / size, digits, (_LEAST[plain] if least is None else least) / size)


def quantity(value: float, unit: str, digits: int = 3) -> str:
    """Return a quantity with the prefix in which it reads well, and its unit; for sentences.

    Parameters
    ----------
    value
        In the plain unit.
    unit
        The plain unit: V, A, W, ohm, m or g.
    digits
        How many count.

    Examples
    --------
    >>> quantity(0.1234, "W"), quantity(2.0, "W"), quantity(12e3, "ohm"), quantity(1e-9, "W")
    ('123 mW', '2.00 W', '12.0 kohm', '0 W')
    """
    if abs(value) < _LEAST[unit]:
        return f"0 {unit}"
    for prefix, size in _PREFIXES.items():
        if abs(value) >= size or prefix == "m":  # a thousandth is the smallest that benches know
            break
    return f"{in_unit(value, prefix + unit, digits)} {prefix}{unit}"


def unit_for(largest: float, symbol: str) -> tuple[float, str]:
    """Return the size and name of the unit in which numbers up to ``largest`` read well.

    Parameters
    ----------
    largest
        The largest value to show, in the plain unit.
    symbol
        Of the plain unit, for instance ``"V"``.

    Examples
    --------
    >>> unit_for(0.034, "Wb")
    (0.001, 'mWb')
    >>> unit_for(230.0, "V")
    (1.0, 'V')
    """
    size = abs(largest)
    if not math.isfinite(size) or size == 0.0:
        return 1.0, symbol
    small = [(factor, prefix) for prefix, factor in _PREFIXES.items() if factor <= 1.0]
    factor, prefix = next((p for p in small if size >= 0.5 * p[0]), small[-1])
    return factor, prefix + symbol


def share(part: float, digits: int = 3) -> str:
    """Return a share of a whole in per cent; a dash where there is none.

    Examples
    --------
    >>> share(0.59418), share(1e-5), share(2.0), share(math.nan)
    ('59.4 %', '0 %', '200 %', '-')
    """
    if math.isnan(part):
        return "-"
    return f"{plain_number(100 * part if abs(part) >= 5e-5 else 0.0, digits)} %"


def change(gain: float, digits: int = 1) -> str:
    """Return a relative change in per cent with its sign; a dash where there is none.

    From tenfold on it is a factor, and no more than ten thousandfold: then it came from nothing.

    Examples
    --------
    >>> change(0.1234), change(-0.5), change(-1e-6), change(math.nan)
    ('+12.3 %', '-50.0 %', '0.0 %', '-')
    >>> change(34.1), change(1.5e6)
    ('35.1 times', 'over 10000 times')
    """
    if math.isnan(gain):
        return "-"
    if gain >= _TENFOLD - 1:
        return "over 10000 times" if gain >= 1e4 else f"{plain_number(1 + gain)} times"
    shown = f"{100 * gain:+.{digits}f}"
    return f"{shown if float(shown) else shown[1:]} %"


def gain_words(gain: float, what: str) -> str:
    """Return a relative change of something, in words.

    Examples
    --------
    >>> gain_words(0.123, "light"), gain_words(34.1, "voltage")
    ('+12.3 % light', '35.1 times the voltage')
    """
    shown = change(gain)
    return f"{shown} the {what}" if shown.endswith("times") else f"{shown} {what}"


def rough(error: float, digits: int = 1) -> str:
    """Return an estimated error as a power of ten with few digits.

    Examples
    --------
    >>> rough(8.9e-6), rough(3.41e-7, 2)
    ('9e-06', '3.4e-07')
    """
    return f"{error:.{digits - 1}e}"


def rpm_of(speed_rad_per_s: float) -> float:
    """Return a speed of rotation in turns a minute.

    Examples
    --------
    >>> round(rpm_of(4 * math.pi), 9)
    120.0
    """
    return speed_rad_per_s * 30 / math.pi


def plain_rpm(speed_rad_per_s: float, digits: int = 3) -> str:
    """Return a speed of rotation in words.

    Examples
    --------
    >>> plain_rpm(314.1593)
    '3000 rpm'
    """
    return f"{plain_number(rpm_of(speed_rad_per_s), digits)} rpm"


def bound(words: str) -> str:
    r"""Return words with each unit bound to its number, so that no line ends between them.

    Examples
    --------
    >>> bound("5 % of 3 V")
    '5\xa0% of 3\xa0V'
    """
    return _BEFORE_UNIT.sub("\N{NO-BREAK SPACE}", words)


def typeset(words: str) -> str:
    r"""Return words for a page: true signs, dashes, and no line end before a unit.

    Examples
    --------
    >>> typeset("magnets 10 % weaker give -3.06 V"), typeset("-")
    ('magnets 10\xa0% weaker give −3.06\xa0V', '–')
    >>> typeset("6 x white LED"), typeset("20 x 10 x 5 mm"), typeset("x 35.1"), typeset("2.5 x")
    ('6 × white LED', '20 × 10 × 5\xa0mm', '× 35.1', '2.5 ×')
    """
    if words == "-":
        return "–"
    words = _TIMES.sub("\N{MULTIPLICATION SIGN}", words)
    return _MINUS.sub("−", bound(words))
