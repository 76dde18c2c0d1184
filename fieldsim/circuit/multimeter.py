"""The multimeter that readings are taken with."""

from __future__ import annotations

from dataclasses import dataclass

from fieldsim.errors import ImpossibleError

__all__ = ["INPUT_OHM", "UPDATE_S", "Meter"]

INPUT_OHM = 10e6
"""Input resistance of an ordinary multimeter [ohm]: common practice, no published source."""

UPDATE_S = 0.4
"""Time between two numbers on its display [s]: common practice, no published source."""


@dataclass(frozen=True)
class Meter:
    """A multimeter.

    Parameters
    ----------
    input_ohm
        Its input resistance [ohm].
    update_s
        Time between two numbers of its peak hold [s].

    Raises
    ------
    ImpossibleError
        If there is no such meter.

    Examples
    --------
    >>> Meter(input_ohm=0.0)
    Traceback (most recent call last):
    ...
    fieldsim.errors.ImpossibleError: a meter of 0 ohm; allowed: 1 ohm to 1000 Mohm
    """

    input_ohm: float = INPUT_OHM
    update_s: float = UPDATE_S

    def __post_init__(self) -> None:
        if not 1.0 <= self.input_ohm <= 1e9:
            raise ImpossibleError(f"a meter of {self.input_ohm:g} ohm; allowed: 1 ohm to 1000 Mohm")
        if not 1e-3 <= self.update_s <= 100.0:
            raise ImpossibleError(
                f"a meter that shows a number every {self.update_s:g} s; allowed: 1 ms to 100 s"
            )
