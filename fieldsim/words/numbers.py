"""Numbers as they read best in a sentence."""

from __future__ import annotations

import numpy as np

__all__ = ["plain_number", "plain_rpm"]


def plain_number(value: float, digits: int = 3) -> str:
    """Return a number rounded to some digits, never with an exponent.

    Examples
    --------
    >>> plain_number(3000.4), plain_number(0.01234), plain_number(12.0)
    ('3000', '0.0123', '12')
    """
    return np.format_float_positional(
        value, precision=digits, unique=False, fractional=False, trim="-"
    )


def plain_rpm(speed_rad_s: float) -> str:
    """Return a speed of rotation in words.

    Examples
    --------
    >>> plain_rpm(314.1593)
    '3000 rpm'
    """
    return f"{plain_number(speed_rad_s * 30 / np.pi)} rpm"
