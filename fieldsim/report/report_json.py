"""A report's first screen as a plain object for JSON: SI units, the unit in each key's name."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from fieldsim.tables.json_form import Json, json_form, picked

if TYPE_CHECKING:
    from fieldsim.report.chapter import Chapter
    from fieldsim.report.report import Report

__all__ = ["report_json"]


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
        "failed": json_form(report.failed),
    }


def _design(chapter: Chapter) -> Json:
    facts = ("lamp_current_average_A", "hand_power_W", "crank_peak_torque_Nm")
    voltages = ("open_peak_V", "open_rms_V", "open_rectified_mean_V")
    return {
        **picked(chapter, "number", "title", "file", "answers"),
        **json_form(dict(zip(voltages, chapter.voltages, strict=True))),
        **picked(chapter.facts, *facts),
    }
