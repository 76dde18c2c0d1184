"""Work done in other processes while this one goes on, and never left running."""

from __future__ import annotations

import gc
import os
import signal
import sys
from collections.abc import Callable, Iterator
from concurrent.futures import BrokenExecutor, Future, ProcessPoolExecutor
from contextlib import contextmanager
from types import ModuleType
from typing import Any, TypeVar

__all__ = ["beside", "processors", "workers"]

T = TypeVar("T")


def processors() -> int:
    """Return how many processors there are."""
    return os.cpu_count() or 1


class _Workers(ProcessPoolExecutor):
    """A pool whose processes never hear Ctrl-C: who started them hears it and ends them.

    A process that hears it while Python starts in it would show where it was to the user. Nor do
    they run the user's script again, as fresh processes otherwise do to know its classes.
    """

    def submit(self, work: Callable[..., T], /, *args: Any, **kwargs: Any) -> Future[T]:
        """Submit work; a process that is begun for it inherits what is held back meanwhile."""
        with _ctrl_c_held_back(), _script_set_aside():
            return super().submit(work, *args, **kwargs)


@contextmanager
def _ctrl_c_held_back() -> Iterator[None]:
    if not hasattr(signal, "pthread_sigmask"):  # a system where a terminal stops otherwise
        yield
        return
    from multiprocessing import resource_tracker

    resource_tracker.ensure_running()  # when it starts it would let Ctrl-C through again
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


@contextmanager
def _script_set_aside() -> Iterator[None]:
    """Let a process that is begun meanwhile find no main module to import: it needs none."""
    script = sys.modules["__main__"]
    sys.modules["__main__"] = ModuleType("__main__")
    try:
        yield
    finally:
        sys.modules["__main__"] = script


@contextmanager
def workers(count: int) -> Iterator[ProcessPoolExecutor]:
    """Yield a pool of fresh processes, ended at once if the block is left by an exception."""
    from multiprocessing import active_children, get_context

    # Fresh processes: a forked one would share locks of libraries that run threads.
    fresh, before = get_context("spawn"), active_children()
    with _Workers(
        count, mp_context=fresh, initializer=_begin_like_parent, initargs=(gc.get_threshold(),)
    ) as pool:
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
    before. Work whose process is lost is done again here.
    """
    with workers(1) as pool:
        begun = pool.submit(work, *arguments)

        def found() -> T:
            try:
                return begun.result()
            except BrokenExecutor:
                return work(*arguments)

        yield found


def _begin_like_parent(threshold: tuple[int, int, int]) -> None:
    """Let this process collect garbage as its parent does, and end when that is gone."""
    from multiprocessing import parent_process
    from multiprocessing.connection import wait
    from threading import Thread

    gc.set_threshold(*threshold)
    parent = parent_process()
    if parent is None:
        return

    def watch() -> None:
        wait([parent.sentinel])
        os._exit(1)  # nobody is left to take the result

    Thread(target=watch, daemon=True).start()
