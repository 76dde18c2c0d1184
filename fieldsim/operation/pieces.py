"""Work in pieces of a fixed size, here or by whatever executes work elsewhere."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import CancelledError, Executor, Future
from typing import TypeVar

from fieldsim.errors import FieldsimError

__all__ = ["in_order"]

Piece = TypeVar("Piece")
Done = TypeVar("Done")

_AHEAD = 64  # pieces handed out before the first of them is taken back: more would only fill memory


def in_order(
    work: Callable[[Piece], Done], pieces: Sequence[Piece], executor: Executor | None = None
) -> Iterator[Done]:
    """Yield what work makes of each piece, in their order, whoever does it.

    Parameters
    ----------
    work
        A function of a module, which processes can find.
    pieces
        What it takes; the same whoever and however many do it, and so are the results.
    executor
        Who does it: any of `concurrent.futures` or with its ``submit``; None to do it here.

    Notes
    -----
    What is lost (a process that died, a connection) is handed out once more, and done here if that
    is lost too. When this stops early, by Ctrl-C or an error, what is not begun is called off.

    Examples
    --------
    >>> from concurrent.futures import ThreadPoolExecutor
    >>> with ThreadPoolExecutor(2) as executor:
    ...     list(in_order(abs, [-1, 2, -3], executor))
    [1, 2, 3]
    """
    if executor is None:
        yield from map(work, pieces)
        return
    given: deque[tuple[Piece, Future[Done] | None]] = deque()
    try:
        for piece in pieces:
            given.append((piece, _handed_out(executor, work, piece)))
            if len(given) >= _AHEAD:
                yield _taken_back(executor, work, *given.popleft())
        while given:
            yield _taken_back(executor, work, *given.popleft())
    finally:
        for _, future in given:
            if future is not None:
                future.cancel()


def _handed_out(
    executor: Executor, work: Callable[[Piece], Done], piece: Piece
) -> Future[Done] | None:
    try:
        return executor.submit(work, piece)
    except RuntimeError:  # it has broken, or was ended
        return None


def _taken_back(
    executor: Executor,
    work: Callable[[Piece], Done],
    piece: Piece,
    future: Future[Done] | None,
) -> Done:
    for _ in range(2):
        if future is None:
            break
        try:
            return future.result()
        except FieldsimError:
            raise
        except (Exception, CancelledError):  # noqa: BLE001  (many kinds of executors, many kinds of loss)
            future = _handed_out(executor, work, piece)
    return work(piece)  # what was wrong with the work itself is raised here
