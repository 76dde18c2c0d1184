"""A report's page: the answers, what the designs gain over the first, and their chapters."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np

from fieldsim import __version__
from fieldsim.charts.figure_style import figure_svg
from fieldsim.report.chapter import Chapter
from fieldsim.report.figures import comparison_figure
from fieldsim.report.markup import Markup, element
from fieldsim.report.report import FailedDesign, Report
from fieldsim.report.style import page_style
from fieldsim.report.tables import ReportTable
from fieldsim.report.themed_svg import inline_svg
from fieldsim.tables.dataset import Dataset, columns_of, labelled_dataset
from fieldsim.words.first_screen import Facts
from fieldsim.words.numbers import NOTHING, number, plain_number, plain_rpm, typeset

__all__ = ["comparison_files", "report_page"]

_MOST_TIMES = 1000.0


def report_page(report: Report) -> str:
    """Return the page; the same report always gives the same text."""
    rpm = plain_rpm(report.crank_rad_per_s, 4)
    several = len(report.chapters) + len(report.failed) > 1
    names = _names(report)
    title = (
        f"{len(report.chapters) + len(report.failed)} designs compared" if several
        else report.chapters[0].title
    )  # fmt: skip
    head = element(
        "head",
        element("meta", charset="utf-8"),
        element("meta", name="viewport", content="width=device-width, initial-scale=1"),
        element("meta", name="generator", content=f"fieldsim {__version__}"),
        element("title", f"{title} at {rpm}"),
        element("style", Markup(page_style())),
    )
    header = element(
        "header",
        element(
            "p",
            f"Hand-cranked generator, crank at {rpm}. Computed by fieldsim {__version__}.",
            class_="kicker",
        ),
        element("h1", title),
    )
    screens = [
        (c.number, _first_screen(c, names[c.number] if several else "In short"))
        for c in report.chapters
    ]
    screens += [(design.number, _failed_card(design)) for design in report.failed]
    comparison = [_gains(report)] if len(report.chapters) > 1 else []
    chapters = [_chapter(c, names[c.number]) for c in report.chapters]
    main = element("main", *(card for _, card in sorted(screens)), *comparison, *chapters)
    foot = element("footer", "SI units in all files.")
    body = element("body", header, main, foot)
    return f"<!DOCTYPE html>\n{element('html', head, body, lang='en')}\n"


def comparison_files(report: Report) -> dict[str, Dataset]:
    """Return the files of the comparison by name; none for a single design."""
    return _gains_table(report).files() if len(report.chapters) > 1 else {}


def _names(report: Report) -> dict[int, str]:
    """Return number and title of each design, with the file's name where titles are alike."""
    titles = [c.title for c in report.chapters]
    return {
        c.number: f"{c.number}. {c.title}"
        + (f" ({Path(c.file).name})" if titles.count(c.title) > 1 else "")
        for c in report.chapters
    }


def _first_screen(chapter: Chapter, heading: str) -> Markup:
    found = [
        element(
            "div",
            element("dt", answer.question),
            element("dd", typeset(answer.answer), class_="short"),
            element("dd", typeset(answer.reason)),
        )
        for answer in chapter.answers
    ]
    numbers = [
        element("li", element("strong", typeset(value)), typeset(words))
        for value, words in chapter.numbers
    ]
    name = f"d{chapter.number}-first"
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
        *(element("p", line) for line in design.problem.splitlines()),
        class_="card failed",
        aria_labelledby=name,
    )


def _chapter(chapter: Chapter, heading: str) -> Markup:
    links = [
        element("li", element("a", heading, href=f"#{name}")) for name, heading in chapter.contents
    ]
    name = f"d{chapter.number}"
    return element(
        "article",
        element("h2", heading, id=name),
        element("nav", element("ul", *links), aria_label=f"Sections of design {chapter.number}"),
        chapter.body,
        class_="chapter",
        aria_labelledby=name,
    )


def _gains(report: Report) -> Markup:
    chapters, first = report.chapters, _first(report)
    titles = [c.title for c in chapters]
    # Under bars there is no room for a title and a file's name.
    names = [
        f"{c.number}. {c.title if titles.count(c.title) == 1 else Path(c.file).name}"
        for c in chapters
    ]
    peak, rms, mean = ([_rounded(c.voltages[i]) for c in chapters] for i in range(3))
    label = (
        "Peak, RMS and rectified mean EMF by design, where the load is or of the strongest coil, "
        f"crank at {plain_rpm(report.crank_rad_per_s, 4)}"
    )
    words = "; ".join(f"{n}: {number(v)} V RMS" for n, v in zip(names, rms, strict=True))
    svg = figure_svg(comparison_figure(names, peak, rms, mean), "gains-")
    picture = element(
        "figure", inline_svg(svg, f"{label}. {words}."), element("figcaption", f"{label}.")
    )
    failed = sorted(d.number for d in report.failed if d.number < chapters[0].number)
    why = None
    if failed:
        which = ", ".join(map(str, failed))
        why = element(
            "p",
            f"Design{'' if len(failed) == 1 else 's'} {which} could not be computed, so the others "
            f"are measured by {first}.",
        )
    heading = f"What each design gains over {first}, {chapters[0].title}"
    return element(
        "section",
        element("h2", heading, id="gains"),
        why,
        element("div", picture, _gains_table(report).markup(), class_="grid"),
        aria_labelledby="gains",
    )


def _first(report: Report) -> str:
    """Return the words for the design that others are measured by."""
    number = report.chapters[0].number
    return "the first" if number == 1 else f"design {number}"


def _gains_table(report: Report) -> ReportTable:
    facts = [_without_rounding(c.facts) for c in report.chapters]
    header = {
        "rms_V": ("open RMS, V", 1.0),
        "lamp_A": ("all lamps, mA", 1e3),
        "hand_W": ("hand, W", 1.0),
        "hand_peak_Nm": ("crank at most, N m", 1.0),
    }
    names_in_files = ["rms_V", "lamp_A=lamp_current_average_A", "hand_W=hand_power_W"]
    values = columns_of(facts, [*names_in_files, "hand_peak_Nm=crank_peak_torque_Nm"])
    values = {name: of for name, of in values.items() if np.nan_to_num(of).any()}
    names = _names(report)
    rows = [
        [
            names[chapter.number],
            *(_with_ratio(of[i], of[0], header[n][1], i == 0) for n, of in values.items()),
        ]
        for i, chapter in enumerate(report.chapters)
    ]
    labels = tuple(name.replace(".", "", 1) for name in names.values())
    first = _first(report)
    against = f"{first} design" if first == "the first" else first
    return ReportTable(
        "comparison",
        f"Against {against} (× means times {first})",
        ["design", *(header[name][0] for name in values)],
        rows,
        labelled_dataset("design", labels, values, "comparison"),
    )


def _without_rounding(facts: Facts) -> Facts:
    """Return facts in which nothing is exactly nothing, and a crank that nothing brakes unknown."""
    unknown = (
        math.isnan(facts.crank_peak_torque_Nm) or abs(facts.crank_peak_torque_Nm) < NOTHING["N m"]
    )
    kept = {
        name: _rounded(value)
        for name, value in vars(facts).items()
        if not (unknown and name.startswith(("hand_", "crank_")))
    }
    return Facts(**{name: kept.get(name, math.nan) for name in vars(facts)})


def _rounded(value: float) -> float:
    return 0.0 if abs(value) < NOTHING["V"] else value


def _with_ratio(value: float, first: float, scale: float, is_first: bool) -> str:
    """Return a number and how many times the first one it is, where that says something."""
    if math.isnan(value):
        return "-"
    shown = number(value * scale)
    if is_first or value == first:
        return shown
    ratio = value / first if first > 0 else math.nan  # NaN where the first is unknown, too
    says = 1 / _MOST_TIMES <= ratio <= _MOST_TIMES
    return f"{shown} (× {plain_number(ratio) if says else '–'})"
