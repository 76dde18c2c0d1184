"""Processes that answer drafts: one a processor, each visitor always at the same one."""

from __future__ import annotations

import asyncio
import contextlib
import multiprocessing
import signal
from collections.abc import Callable
from dataclasses import dataclass, field
from multiprocessing.connection import Connection
from typing import Any

from fieldsim.errors import FieldsimError

__all__ = ["Busy", "Superseded", "TookTooLong", "Workers"]

Job = tuple[str, tuple[Any, ...]]
"""Name of a method of what does the work, and its arguments."""

_MOST_MEMORY = 3 * 2**30  # bytes of a process
_ENDS = "the program is being ended"
_STARTS = multiprocessing.get_context("spawn")  # threads of the server must not be copied


class Superseded(FieldsimError):  # noqa: N818  (what happened is no fault)
    """A newer question of the same visitor has taken the place of this one."""


class Busy(FieldsimError):  # noqa: N818
    """Too many visitors wait."""


class TookTooLong(FieldsimError):  # noqa: N818
    """The answer did not come in the time allowed."""


@dataclass
class _Waiting:
    """A visitor's question that no process has begun."""

    job: Job
    answer: asyncio.Future[Any]


@dataclass
class _Worker:
    """A process, and the questions that wait for it by visitor, oldest first."""

    waiting: dict[str, _Waiting] = field(default_factory=dict)
    came: asyncio.Event = field(default_factory=asyncio.Event)
    process: Any = None
    pipe: Connection | None = None


class Workers:
    """A few processes that answer, and how visitors wait for them.

    Of one visitor only the newest question waits, and visitors take turns.

    Parameters
    ----------
    make
        Makes what does the work, in each process.
    count
        How many processes.
    longest_s
        Time that an answer may take; then its process is ended and another begun.
    most_waiting
        Visitors that may wait in all.
    """

    def __init__(
        self,
        make: Callable[[], object],
        count: int,
        *,
        longest_s: float = 30.0,
        most_waiting: int = 200,
    ) -> None:
        self._make = make
        self._workers = [_Worker() for _ in range(count)]
        self._longest_s = longest_s
        self._most_waiting = most_waiting
        self._loops: list[asyncio.Task[None]] = []
        self._ended = False

    async def start(self) -> None:
        """Begin the processes."""
        for worker in self._workers:
            _begin(worker, self._make)
            self._loops.append(asyncio.create_task(self._serve(worker)))

    def end(self) -> None:
        """End the processes at once; whoever waits is told."""
        self._ended = True
        for worker in self._workers:
            if worker.process is not None:
                worker.process.kill()
            for waiting in worker.waiting.values():
                _settle(waiting.answer, Busy(_ENDS))

    async def stop(self) -> None:
        """End the processes, and wait for that."""
        self.end()
        for loop in self._loops:
            loop.cancel()
        await asyncio.gather(*self._loops, return_exceptions=True)
        for worker in self._workers:
            _end(worker)

    async def ask(self, visitor: str, job: Job) -> Any:
        """Return what a job gives.

        Raises
        ------
        Superseded
            If the same visitor has asked again before this was begun.
        Busy
            If too many wait.
        TookTooLong
            If it takes longer than allowed.
        FieldsimError
            That the job itself raises.
        """
        if sum(len(worker.waiting) for worker in self._workers) >= self._most_waiting:
            raise Busy("too many people are asking at once; try again in a moment")
        worker = self._workers[hash(visitor) % len(self._workers)]
        answer: asyncio.Future[Any] = asyncio.get_running_loop().create_future()
        old = worker.waiting.get(visitor)
        worker.waiting[visitor] = _Waiting(job, answer)
        if old is not None and not old.answer.done():
            old.answer.set_exception(Superseded("a newer question has been asked"))
        worker.came.set()
        return await answer

    async def _serve(self, worker: _Worker) -> None:
        while True:
            await worker.came.wait()
            if not worker.waiting:
                worker.came.clear()
                continue
            visitor = next(iter(worker.waiting))
            waiting = worker.waiting.pop(visitor)
            if waiting.answer.done():  # whoever asked has gone
                continue
            try:
                result = await asyncio.to_thread(self._asked, worker, waiting.job)
            except FieldsimError as error:
                _settle(waiting.answer, error)
            else:
                _settle(waiting.answer, result)

    def _asked(self, worker: _Worker, job: Job) -> Any:
        """Return a job's result from the worker's process; begin another where that one fails."""
        pipe, longest_s = worker.pipe, self._longest_s
        assert pipe is not None  # noqa: S101  (begun before anything is asked)
        try:
            pipe.send(job)
            if pipe.poll(longest_s):
                return pipe.recv()
        except (EOFError, OSError) as error:
            if self._ended:
                raise Busy(_ENDS) from error
            _end(worker)
            _begin(worker, self._make)
            raise TookTooLong("the computing process ended; please try again") from error
        _end(worker)
        _begin(worker, self._make)
        raise TookTooLong(
            f"this takes longer than {longest_s:g} s; the machine is too large to be moved by "
            "sliders, so try `fieldsim report`"
        )


def _settle(answer: asyncio.Future[Any], result: Any) -> None:
    if answer.done():
        return
    if isinstance(result, FieldsimError):
        answer.set_exception(result)
    else:
        answer.set_result(result)


def _begin(worker: _Worker, make: Callable[[], object]) -> None:
    ours, theirs = _STARTS.Pipe()
    worker.pipe = ours
    worker.process = _STARTS.Process(target=_work, args=(theirs, make))
    worker.process.start()
    theirs.close()


def _end(worker: _Worker) -> None:
    if worker.pipe is not None:
        worker.pipe.close()
    if worker.process is not None:
        worker.process.kill()
        worker.process.join()


def _work(pipe: Connection, make: Callable[[], object]) -> None:
    """Answer what comes through the pipe until it closes."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the server ends this process
    _bound_memory()
    tasks = make()
    with contextlib.suppress(EOFError, OSError):
        while True:
            name, arguments = pipe.recv()
            task: Callable[..., Any] = getattr(tasks, name)
            pipe.send(_tried(task, arguments))


def _bound_memory() -> None:
    """Let no machine take all the memory; where the system cannot do that, all goes on."""
    try:
        import resource
    except ImportError:  # Windows
        return
    with contextlib.suppress(OSError, ValueError):
        resource.setrlimit(resource.RLIMIT_DATA, (_MOST_MEMORY, _MOST_MEMORY))


def _tried(task: Callable[..., Any], arguments: tuple[Any, ...]) -> Any:
    try:
        return task(*arguments)
    except FieldsimError as error:
        return FieldsimError(error.in_one_line)
    except MemoryError:
        return FieldsimError("the machine has too little memory for this request")
