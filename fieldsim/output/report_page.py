"""A report's page: the answers, what the designs gain over the first, and their chapters."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np

from fieldsim import __version__
from fieldsim.output.dataset import Dataset
from fieldsim.output.figure_style import figure_svg
from fieldsim.output.markup import Markup, element
from fieldsim.output.report import FailedDesign, Report
from fieldsim.output.report_chapter import Chapter
from fieldsim.output.report_figures import comparison_figure
from fieldsim.output.report_style import page_style
from fieldsim.output.report_tables import ReportTable, labelled_dataset, three
from fieldsim.output.themed_svg import inline_svg

__all__ = ["comparison_files", "report_page"]


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
    screens = [(c.number, _first_screen(c, several)) for c in report.chapters]
    screens += [(design.number, _failed_card(design)) for design in report.failed]
    comparison = [_gains(report)] if len(report.chapters) > 1 else []
    chapters = [_chapter(c) for c in report.chapters]
    main = element("main", *(card for _, card in sorted(screens)), *comparison, *chapters)
    foot = element("footer", f"Computed by fieldsim {__version__}. SI units in all files.")
    body = element("body", header, main, foot)
    return f"<!DOCTYPE html>\n{element('html', head, body, lang='en')}\n"


def comparison_files(report: Report) -> dict[str, Dataset]:
    """Return the files of the comparison by name; none for a single design."""
    return _gains_table(report).files() if len(report.chapters) > 1 else {}


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
    label = "Peak, RMS and rectified mean EMF by design, where the load is or of the strongest coil"
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
    columns = {n: c for n, c in columns.items() if np.nan_to_num(values[n]).any()}
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
