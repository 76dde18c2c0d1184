"""Points that are worked out in the company of others, whose curves are made together."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import islice
from typing import TypeVar

from fieldsim.operation.machine_at_speed import MachineAtSpeed
from fieldsim.waveform.flux_table import learn_curves

__all__ = ["TOGETHER", "in_company"]

Point = TypeVar("Point", bound=MachineAtSpeed)

TOGETHER = 24
"""Points: more win little, and keep who waits for the first waiting."""


def in_company(points: Sequence[Point]) -> Iterator[Point]:
    """Yield points one by one, some of which have had their curves made together before.

    Parameters
    ----------
    points
        Of machines that differ little; those of the same books keep each other company.

    Examples
    --------
    >>> from fieldsim.machine_file.reader import read
    >>> from fieldsim.operation.operating_point import OperatingPoint
    >>> point = OperatingPoint(read("geometries/one_rotor.yaml"), "90 rpm", tolerance=1e-4)
    >>> rows = [point.changed({"clearance": gap}) for gap in (2e-3, 4e-3)]
    >>> near, far = (each.figures["pickup"].rms_V for each in in_company(rows))
    >>> near > far
    True
    """
    waiting = iter(points)
    while some := list(islice(waiting, TOGETHER)):
        for books in {id(each.books): each.books for each in some}.values():
            own = (each for each in some if each.books is books)
            learn_curves(((each.machine, each.tolerance) for each in own), books.curves)
        yield from some
