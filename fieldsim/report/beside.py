"""Work done in other processes while this one goes on, and never left running."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from typing import Any, TypeVar

__all__ = ["beside", "processors", "workers"]

T = TypeVar("T")


def processors() -> int:
    """Return how many processors there are."""
    return os.cpu_count() or 1


@contextmanager
def workers(count: int) -> Iterator[ProcessPoolExecutor]:
    """Yield a pool of fresh processes, ended at once if the block is left by an exception."""
    from multiprocessing import active_children, get_context

    # Fresh processes: a forked one would share locks of libraries that run threads.
    fresh, before = get_context("spawn"), active_children()
    with ProcessPoolExecutor(count, mp_context=fresh, initializer=_end_with_parent) as pool:
        try:
            yield pool
        except BaseException:  # stopped: the pool would wait for what nobody wants now
            for process in set(active_children()) - set(before):
                process.terminate()
            raise


@contextmanager
def beside(work: Callable[..., T], *arguments: Any) -> Iterator[Callable[[], T]]:
    """Yield a function that waits for work that another process does meanwhile.

    A failure of the work is raised by that function; nobody hears of it where the block is left
    before.
    """
    with workers(1) as pool:
        yield pool.submit(work, *arguments).result


def _end_with_parent() -> None:
    """Let this process end when the one that started it is gone, however that ended."""
    from multiprocessing import parent_process
    from multiprocessing.connection import wait
    from threading import Thread

    parent = parent_process()
    if parent is None:
        return

    def watch() -> None:
        wait([parent.sentinel])
        os._exit(1)  # nobody is left to take the result

    Thread(target=watch, daemon=True).start()
