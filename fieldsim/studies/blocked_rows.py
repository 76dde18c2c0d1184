"""The machines of a study's rows, or what stands in the way of each that cannot be."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TypeVar

from fieldsim.errors import MOST_TOLD, ImpossibleError

__all__ = ["all_or_why"]

Asked = TypeVar("Asked")
Made = TypeVar("Made")


def all_or_why(make: Callable[[Asked], Made], rows: Iterable[Asked]) -> list[Made]:
    """Return what is made of every row, or say of all rows that cannot be why they cannot.

    Parameters
    ----------
    make
        From what a row asks for; raises `ImpossibleError` whose first line names the row.
    rows
        What is asked for.

    Raises
    ------
    ImpossibleError
        With a line for each row that cannot be, up to ten, each line once.

    Examples
    --------
    >>> all_or_why(abs, [-1, 2])
    [1, 2]
    """
    made, lines = [], dict[str, None]()
    for row in rows:
        try:
            made.append(make(row))
        except ImpossibleError as error:
            lines[error.lines[0]] = None
    if lines:
        left = len(lines) - MOST_TOLD
        more = [f"... and {left} more"] if left > 0 else []
        raise ImpossibleError(*list(lines)[:MOST_TOLD], *more)
    return made
