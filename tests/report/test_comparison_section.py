"""What a report says of several designs: only what is known, and measured by which design."""

import math
import re

import numpy as np
import pytest

from fieldsim.report.chapter import Chapter
from fieldsim.report.markup import Markup
from fieldsim.report.page import comparison_files, report_page
from fieldsim.report.report import FailedDesign, Report
from fieldsim.words.first_screen import Answer, Facts

NAN = math.nan


def chapter(number, facts, title=None, file="a.yaml"):
    answers = (Answer("Does it light?", "No.", "Magnets 10 % stronger give 3 V."),) * 3
    return Chapter(
        number, title or f"Design {number}", file, answers, (("3.06 V", "RMS"),), facts,
        (2.0, facts.rms_V, 1.0), (), Markup(""), {},
    )  # fmt: skip


def page(*facts, failed=(), **more):
    start = len(failed) + 1
    chapters = tuple(chapter(i, f, **more) for i, f in enumerate(facts, start=start))
    return report_page(Report(chapters, tuple(failed), 4 * math.pi)), chapters


def rows(text):
    """Return the cells of the comparison, without the design's name."""
    table = text[text.index("<caption>") : text.index("</table>")]
    body = table[table.index("<tbody") :]
    return [re.findall(r"<td[^>]*>(.*?)</td>", row) for row in body.split("<tr")[1:]]


def test_what_is_unknown_is_a_dash():
    text, chapters = page(Facts(3.0, NAN, 0.0, 0.0), Facts(6.0, NAN, 1.0, 0.2))
    assert rows(text) == [["3.00", "–", "–"], ["6.00 (× 2)", "1.00 (× –)", "0.200 (× –)"]]
    file = comparison_files(Report(chapters, (), 1.0))["comparison.csv"]
    values = {v.name: v.values for v in file.variables}
    assert np.isnan(values["hand_W"][0])
    assert np.isnan(values["hand_peak_Nm"][0])


def test_rounding_is_nothing():
    text, _ = page(Facts(3.0, NAN, -4.5e-17, 0.1), Facts(1e-14, NAN, 1.0, 0.2))
    assert rows(text) == [["3.00", "0", "0.100"], ["0 (× –)", "1.00 (× –)", "0.200 (× 2)"]]
    assert "e−1" not in text


@pytest.mark.parametrize(
    ("second", "shown"), [(2999.0, "× 1000"), (3001.0, "× –"), (0.0031, "× 0.00103"),
                          (0.0029, "× –")],
)  # fmt: skip
def test_only_ratios_that_say_something(second, shown):
    text, _ = page(Facts(3.0, NAN, NAN, NAN), Facts(second, NAN, NAN, NAN))
    assert shown in rows(text)[1][0]


def test_all_that_is_wrong_with_a_design_is_told():
    failed = (FailedDesign(1, "bad.yaml", "bad.yaml:1: one\nbad.yaml:2: <two>"),)
    text, _ = page(Facts(3.0, NAN, NAN, NAN), Facts(6.0, NAN, NAN, NAN), failed=failed)
    assert "<p>bad.yaml:1: one</p><p>bad.yaml:2: &lt;two&gt;</p>" in re.sub(r">\s+<", "><", text)
    assert failed[0].lines == ("bad.yaml:1: one", "bad.yaml:2: <two>")
    assert FailedDesign(1, "a.yaml", "wrong").lines == ("a.yaml: wrong",)


def test_if_the_first_failed_another_is_the_measure():
    failed = (FailedDesign(1, "bad.yaml", "wrong"),)
    text, _ = page(Facts(3.0, NAN, NAN, NAN), Facts(6.0, NAN, NAN, NAN), failed=failed)
    assert "Design 1 could not be computed, so the others are measured by design 2." in text
    assert "Against design 2 (× means times design 2)" in text
    assert "over design 2, Design 2" in text
    assert "first" not in text[text.index('id="gains"') : text.index("<article")].replace("d2-", "")


def test_equal_titles_are_told_apart_by_their_files():
    facts = Facts(3.0, NAN, NAN, NAN)
    chapters = (chapter(1, facts, "Same", "x/a.yaml"), chapter(2, facts, "Same", "x/b.yaml"))
    text = report_page(Report(chapters, (), 1.0))
    for name in ("1. Same (a.yaml)", "2. Same (b.yaml)"):
        assert text.count(name) == 3  # first screen, chapter, table
    assert "2. b.yaml" in text  # the bars' words


def test_no_line_ends_between_number_and_unit():
    text, _ = page(Facts(3.0, NAN, NAN, NAN))
    assert "3.06\N{NO-BREAK SPACE}V" in text
    assert "Magnets 10\N{NO-BREAK SPACE}% stronger give 3\N{NO-BREAK SPACE}V." in text
