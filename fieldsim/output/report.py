"""A report: one page that answers first and then shows everything, with its tables beside it."""

from __future__ import annotations

import math
import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from fieldsim import __version__
from fieldsim.errors import FieldsimError
from fieldsim.output.dataset import Dataset
from fieldsim.output.figure_style import figure_svg
from fieldsim.output.markup import Markup, element
from fieldsim.output.report_chapter import Chapter, chapter_of_file
from fieldsim.output.report_figures import comparison_figure
from fieldsim.output.report_folder import folder_for, save_folder
from fieldsim.output.report_style import page_style
from fieldsim.output.report_tables import ReportTable, labelled_dataset, three
from fieldsim.output.themed_svg import inline_svg

__all__ = ["PAGE_NAME", "FailedDesign", "Report", "make_report", "report_page", "save_report"]

PAGE_NAME = "index.html"
Progress = Callable[[int, int], None]

_PER_DESIGN = 100  # steps of the progress


@dataclass(frozen=True)
class FailedDesign:
    """A design that could not be computed, and why."""

    number: int
    file: str
    problem: str


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
    FieldsimError
        If none of the designs can be computed: the first one's trouble.
    """
    numbered = list(enumerate(paths, start=1))
    workers = min(len(paths), os.cpu_count() or 1)
    if workers > 1:
        results = _in_parallel(numbered, crank_rad_per_s, workers, progress)
    else:
        results = [
            _attempt(path, number, crank_rad_per_s, _part_of(progress, number - 1, len(paths)))
            for number, path in numbered
        ]
    chapters = tuple(r for r in results if isinstance(r, Chapter))
    failures = [(n, p, r) for (n, p), r in zip(numbered, results, strict=True)
                if isinstance(r, FieldsimError)]  # fmt: skip
    if not chapters:
        raise failures[0][2]
    failed = tuple(FailedDesign(n, path, str(error)) for n, path, error in failures)
    return Report(chapters, failed, crank_rad_per_s)


def save_report(report: Report, folder: str | os.PathLike[str]) -> Path:
    """Write a report into a folder and return the path of its page.

    Parameters
    ----------
    report
        From `make_report`.
    folder
        As for `fieldsim.output.report_folder.folder_for`.

    Raises
    ------
    FileTroubleError
        If the folder cannot be written.
    """
    files: dict[str, bytes | Dataset] = {}
    for chapter in report.chapters:
        files |= chapter.files
    if len(report.chapters) > 1:
        files |= _gains_table(report).files()
    files[PAGE_NAME] = report_page(report).encode("utf-8")
    save_folder(folder_for(folder), files)
    return Path(folder) / PAGE_NAME


def report_page(report: Report) -> str:
    """Return the page; the same report always gives the same text."""
    rpm = report.crank_rad_per_s * 30 / math.pi
    several = len(report.chapters) + len(report.failed) > 1
    title = (
        f"{len(report.chapters) + len(report.failed)} designs compared" if several
        else report.chapters[0].title
    )  # fmt: skip
    head = element(
        "head",
        element("meta", charset="utf-8"),
        element("meta", name="viewport", content="width=device-width, initial-scale=1"),
        element("meta", name="generator", content=f"fieldsim {__version__}"),
        element("title", f"{title} at {rpm:.4g} rpm"),
        element("style", Markup(page_style())),
    )
    header = element(
        "header",
        element("p", f"Hand-cranked generator, crank at {rpm:.4g} rpm", class_="kicker"),
        element("h1", title),
    )
    screens = [_first_screen(c, several) for c in report.chapters]
    screens += [_failed_card(design) for design in report.failed]
    comparison = [_gains(report)] if len(report.chapters) > 1 else []
    chapters = [_chapter(c) for c in report.chapters]
    main = element("main", *screens, *comparison, *chapters)
    foot = element("footer", f"Computed by fieldsim {__version__}. SI units in all files.")
    body = element("body", header, main, foot)
    return f"<!DOCTYPE html>\n{element('html', head, body, lang='en')}\n"


def _attempt(
    path: str, number: int, crank_rad_per_s: float, progress: Callable[[float], None] | None = None
) -> Chapter | FieldsimError:
    """Return a design's chapter, or what is wrong with it."""
    try:
        return chapter_of_file(path, number, crank_rad_per_s, progress)
    except FieldsimError as error:
        # A plain copy: errors with arguments of their own do not travel between processes.
        return FieldsimError(str(error))


def _in_parallel(
    numbered: Sequence[tuple[int, str]],
    crank_rad_per_s: float,
    workers: int,
    progress: Progress | None,
) -> list[Chapter | FieldsimError]:
    from concurrent.futures import ProcessPoolExecutor, as_completed
    from multiprocessing import get_context

    # Fresh processes: a forked one would share locks of libraries that run threads.
    with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
        futures = [pool.submit(_attempt, p, n, crank_rad_per_s) for n, p in numbered]
        for done, _ in enumerate(as_completed(futures), start=1):
            if progress is not None:
                progress(done * _PER_DESIGN, len(futures) * _PER_DESIGN)
        return [future.result() for future in futures]


def _part_of(
    progress: Progress | None, before: int, designs: int
) -> Callable[[float], None] | None:
    """Return a callback of one design's share that reports the whole report's steps."""
    if progress is None:
        return None
    return lambda share: progress(round(_PER_DESIGN * (before + share)), _PER_DESIGN * designs)


def _first_screen(chapter: Chapter, several: bool) -> Markup:
    found = [
        element(
            "div",
            element("dt", answer.question),
            element("dd", answer.short, class_="short"),
            element("dd", answer.why),
        )
        for answer in chapter.answers
    ]
    numbers = [element("li", element("strong", value), words) for value, words in chapter.numbers]
    name = f"d{chapter.number}-first"
    heading = f"{chapter.number}. {chapter.title}" if several else "In short"
    return element(
        "section",
        element("h2", heading, id=name),
        element("dl", *found, class_="answers"),
        element("ul", *numbers, class_="numbers"),
        class_="card",
        aria_labelledby=name,
    )


def _failed_card(design: FailedDesign) -> Markup:
    name = f"d{design.number}-failed"
    return element(
        "section",
        element("h2", f"{design.number}. {Path(design.file).name} could not be computed", id=name),
        element("p", design.problem),
        class_="card failed",
        aria_labelledby=name,
    )


def _chapter(chapter: Chapter) -> Markup:
    links = [
        element("li", element("a", heading, href=f"#{name}")) for name, heading in chapter.contents
    ]
    name = f"d{chapter.number}"
    return element(
        "article",
        element("h2", f"{chapter.number}. {chapter.title}", id=name),
        element("nav", element("ul", *links), aria_label=f"Sections of design {chapter.number}"),
        chapter.body,
        class_="chapter",
        aria_labelledby=name,
    )


def _gains(report: Report) -> Markup:
    table = _gains_table(report)
    chapters = report.chapters
    names = [f"{c.number}. {c.title}" for c in chapters]
    peak, rms, mean = (
        [c.voltages[i] for c in chapters] for i in range(3)
    )  # fmt: skip
    label = "Peak, RMS and rectified mean EMF of the coil that gives most, by design"
    words = "; ".join(f"{n}: {three(v)} V RMS" for n, v in zip(names, rms, strict=True))
    svg = figure_svg(comparison_figure(names, peak, rms, mean), "gains-")
    picture = element(
        "figure",
        inline_svg(svg, f"{label}. {words}.", themed=True),
        element("figcaption", f"{label}."),
        class_="curve",
    )
    pair = element(
        "div", element("div", picture), element("div", table.markup()), class_="pair"
    )  # fmt: skip
    heading = f"What each design gains over the first, {chapters[0].title}"
    return element(
        "section", element("h2", heading, id="gains"), pair, aria_labelledby="gains"
    )  # fmt: skip


def _gains_table(report: Report) -> ReportTable:
    facts = [c.facts for c in report.chapters]
    columns = {
        "rms_V": ("V", "open RMS, V", 1.0),
        "lamp_A": ("A", "all lamps, mA", 1e3),
        "hand_W": ("W", "hand, W", 1.0),
        "hand_peak_Nm": ("N m", "crank at most, N m", 1.0),
    }
    values = {name: np.array([getattr(f, name) for f in facts]) for name in columns}
    columns = {n: c for n, c in columns.items() if not np.isnan(values[n]).all()}
    rows = [
        [
            f"{chapter.number}. {chapter.title}",
            *(_with_ratio(values[n][i] * c[2], values[n][0] * c[2]) for n, c in columns.items()),
        ]
        for i, chapter in enumerate(report.chapters)
    ]
    labels = tuple(f"{c.number} {c.title}" for c in report.chapters)
    data = {name: (unit, values[name]) for name, (unit, _, _) in columns.items()}
    return ReportTable(
        "comparison",
        "Against the first design (× means times the first)",
        ["design", *(words for _, words, _ in columns.values())],
        rows,
        labelled_dataset("design", labels, data, "comparison"),
    )


def _with_ratio(value: float, first: float) -> str:
    if math.isnan(value):
        return "–"
    shown = three(value)
    return f"{shown} (× {value / first:.3g})" if first > 0 and value != first else shown

