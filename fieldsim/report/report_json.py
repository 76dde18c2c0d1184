"""A report's first screen as a plain object for JSON: SI units, the unit in each key's name."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from fieldsim.report.chapter import Chapter
    from fieldsim.report.report import Report

__all__ = ["report_json"]

Json = dict[str, Any]


def report_json(report: Report, page: Path) -> Json:
    """Return where the page is, each design's answers and numbers, and what failed.

    Parameters
    ----------
    report
        Its designs by their numbers.
    page
        As `fieldsim.report.report.save_report` returns it.
    """
    return {
        "page": str(page),
        "crank_speed_rad_per_s": report.crank_rad_per_s,
        "designs": [_design(chapter) for chapter in report.chapters],
        "failed": [
            {"number": design.number, "file": design.file, "problem": design.problem}
            for design in report.failed
        ],
    }


def _design(chapter: Chapter) -> Json:
    facts = chapter.facts
    peak_V, rms_V, mean_V = chapter.voltages
    return {
        "number": chapter.number,
        "title": chapter.title,
        "file": chapter.file,
        "answers": [
            {"question": a.question, "answer": a.short, "reason": a.why} for a in chapter.answers
        ],
        "open_peak_V": _known(peak_V),
        "open_rms_V": _known(rms_V),
        "open_rectified_mean_V": _known(mean_V),
        "lamp_current_average_A": _known(facts.lamp_A),
        "hand_power_W": _known(facts.hand_W),
        "crank_peak_torque_Nm": _known(facts.hand_peak_Nm),
    }


def _known(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None
