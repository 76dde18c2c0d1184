"""A report: one page that answers first and then shows everything, with its tables beside it."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from concurrent.futures import BrokenExecutor
from contextlib import nullcontext
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from fieldsim.errors import FieldsimError
from fieldsim.report.beside import beside, processors, workers

if TYPE_CHECKING:
    from fieldsim.report.chapter import Chapter
    from fieldsim.studies.design_study import Changes
    from fieldsim.tables.dataset import Dataset

__all__ = ["PAGE_NAME", "FailedDesign", "NoDesignError", "Report", "make_report", "save_report"]

PAGE_NAME = "index.html"
Progress = Callable[[int, int], None]

_PER_DESIGN = 100  # steps of the progress


@dataclass(frozen=True)
class FailedDesign:
    """A design that could not be computed, and why."""

    number: int
    file: str
    problem: str

    @property
    def lines(self) -> tuple[str, ...]:
        """What is wrong, one thing a line, with the file's name in front."""
        first, *others = self.problem.splitlines()
        return (first if first.startswith(self.file) else f"{self.file}: {first}", *others)


class NoDesignError(FieldsimError):
    """None of a report's designs can be computed.

    Parameters
    ----------
    failed
        All of them.
    """

    def __init__(self, failed: tuple[FailedDesign, ...]) -> None:
        self.failed = failed
        super().__init__(*(line for design in failed for line in design.lines))


@dataclass(frozen=True)
class Report:
    """The chapters of the designs that could be computed, and the others.

    Parameters
    ----------
    chapters, failed
        Numbered from 1 in the order the files were given.
    crank_rad_per_s
        Speed of the crank.
    """

    chapters: tuple[Chapter, ...]
    failed: tuple[FailedDesign, ...]
    crank_rad_per_s: float


def make_report(
    paths: Sequence[str], crank_rad_per_s: float, *, progress: Progress | None = None
) -> Report:
    """Compute and write up designs, several at a time where there are processors for it.

    Parameters
    ----------
    paths
        Geometry files, the one that others are compared with first.
    crank_rad_per_s
        Speed of the crank.
    progress
        Called with (steps done, steps in all).

    Raises
    ------
    NoDesignError
        If none of the designs can be computed.
    """
    numbered = list(enumerate(paths, start=1))
    results = _attempts(numbered, crank_rad_per_s, progress)
    chapters: list[Chapter] = []
    failed: list[FailedDesign] = []
    for (number, path), result in zip(numbered, results, strict=True):
        if isinstance(result, FieldsimError):
            failed.append(FailedDesign(number, path, str(result)))
        else:
            chapters.append(result)
    if not chapters:
        raise NoDesignError(tuple(failed))
    return Report(tuple(chapters), tuple(failed), crank_rad_per_s)


def save_report(report: Report, folder: str | os.PathLike[str]) -> Path:
    """Write a report into a folder and return the path of its page.

    Parameters
    ----------
    report
        From `make_report`.
    folder
        As for `fieldsim.report.folder.folder_for`.

    Raises
    ------
    FileTroubleError
        If the folder cannot be written.
    """
    from fieldsim.report.folder import save_folder
    from fieldsim.report.page import comparison_files, report_page

    files: dict[str, bytes | Dataset] = {**comparison_files(report)}
    for chapter in report.chapters:
        files |= chapter.files
    files[PAGE_NAME] = report_page(report).encode("utf-8")
    save_folder(folder, files)
    return Path(folder) / PAGE_NAME


def _attempt(
    path: str,
    number: int,
    crank_rad_per_s: float,
    spare: bool,
    progress: Callable[[float], None] | None = None,
) -> Chapter | FieldsimError:
    """Return a design's chapter, or what is wrong with it."""
    # About half of all work is what changes do: it goes where a processor is idle.
    elsewhere = beside(_changes, path, crank_rad_per_s) if spare else nullcontext()
    with elsewhere as changes:
        # Here, so that other processes begin before this one has loaded all that a chapter needs.
        return _chapter(path, number, crank_rad_per_s, progress, changes)


def _changes(path: str, crank_rad_per_s: float) -> Changes:
    from fieldsim.studies.design_study import changes_of_file

    return changes_of_file(path, crank_rad_per_s)


def _chapter(
    path: str,
    number: int,
    crank_rad_per_s: float,
    progress: Callable[[float], None] | None,
    changes: Callable[[], Changes] | None,
) -> Chapter | FieldsimError:
    from fieldsim.machine_file.collision_message import full_lines
    from fieldsim.report.chapter import chapter_of_file

    try:
        return chapter_of_file(path, number, crank_rad_per_s, progress, changes=changes)
    except FieldsimError as error:
        # A plain copy: errors with arguments of their own do not travel between processes.
        return FieldsimError(*full_lines(error))


def _attempts(
    numbered: Sequence[tuple[int, str]], crank_rad_per_s: float, progress: Progress | None
) -> list[Chapter | FieldsimError]:
    """Attempt every design: the first here, others beside it where there are processors for it."""
    shares = dict.fromkeys((number for number, _ in numbered), 0.0)

    def say(number: int) -> Callable[[float], None]:
        def told(share: float) -> None:
            shares[number] = share
            if progress is not None:
                progress(round(_PER_DESIGN * sum(shares.values())), _PER_DESIGN * len(shares))

        return told

    def here(number: int, path: str) -> Chapter | FieldsimError:
        result = _attempt(path, number, crank_rad_per_s, spare, say(number))
        say(number)(1.0)  # a design that failed is done, too
        return result

    others = min(len(numbered), processors()) - 1
    spare = processors() >= 2 * len(numbered)
    if others < 1:
        return [here(number, path) for number, path in numbered]
    with workers(others) as pool:
        futures = {
            number: pool.submit(_attempt, path, number, crank_rad_per_s, spare)
            for number, path in numbered[1:]
        }
        found = {1: here(*numbered[0])}
        for number, path in reversed(numbered[1:]):
            if futures[number].cancel():  # nobody has begun it
                found[number] = here(number, path)
        for number, future in futures.items():
            if number not in found:
                try:
                    found[number] = future.result()
                except BrokenExecutor:  # its process was lost
                    found[number] = here(number, dict(numbered)[number])
                say(number)(1.0)
    return [found[number] for number, _ in numbered]
