"""A whole report: made twice to the same bytes, complete, and safe with any title."""

import csv
import math
import re
from html.parser import HTMLParser
from pathlib import Path

import h5py
import matplotlib
import pytest

from fieldsim.errors import FieldsimError
from fieldsim.report.folder import LIST_NAME
from fieldsim.report.report import PAGE_NAME, make_report, save_report

GEOMETRIES = Path(__file__).parents[2] / "geometries"
CRANK = 4 * math.pi
# Settings of a user's own, of which no picture may show anything.
THEIRS = {"text.usetex": True, "font.size": 20, "axes.grid": True, "savefig.facecolor": "black"}
TITLE = "<script>alert(1)</script> & <img src=x onerror=alert(2)> \"'$x$"


class Page(HTMLParser):
    """What a page holds."""

    def __init__(self, text):
        super().__init__()
        self.tags, self.words = [], []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data):
        self.words.append(data)

    def all(self, tag):
        return [attributes for name, attributes in self.tags if name == tag]


@pytest.fixture(scope="module")
def odd(tmp_path_factory):
    """Return a file whose title is markup."""
    text = (GEOMETRIES / "one_rotor.yaml").read_text(encoding="utf-8")
    quoted = "'" + TITLE.replace("'", "''") + "'"
    file = tmp_path_factory.mktemp("odd") / "odd.yaml"
    file.write_text(re.sub(r"^title: .*$", lambda _: f"title: {quoted}", text, flags=re.M),
                    encoding="utf-8")  # fmt: skip
    return file


@pytest.fixture(scope="module")
def folders(odd, tmp_path_factory):
    """Return two reports of the same file, made one after the other."""
    place = tmp_path_factory.mktemp("reports")
    found = []
    for name, settings in (("first", {}), ("second", THEIRS)):
        shares = []
        with matplotlib.rc_context(settings):
            report = make_report([str(odd)], CRANK, progress=lambda *done: shares.append(done))  # noqa: B023
        assert shares[-1] == (100, 100)
        assert [done for done, _ in shares] == sorted(done for done, _ in shares)
        assert save_report(report, place / name) == place / name / PAGE_NAME
        found.append(place / name)
    return found


@pytest.fixture(scope="module")
def page(folders):
    return Page((folders[0] / PAGE_NAME).read_text(encoding="utf-8"))


def test_same_bytes_whatever_settings_a_user_has(folders):
    first, second = ({p.name: p.read_bytes() for p in folder.iterdir()} for folder in folders)
    assert sorted(first) == sorted(second)
    assert [name for name in first if first[name] != second[name]] == []


def test_a_title_with_markup_is_text(page):
    assert page.all("script") == page.all("img") == []
    headings = [w for w in page.words if TITLE in w]
    assert len(headings) >= 3  # of the window, of the page, of the chapter


def test_links(page, folders):
    ids = [attributes["id"] for _, attributes in page.tags if attributes.get("id")]
    assert len(ids) == len(set(ids))
    targets = [attributes["href"] for attributes in page.all("a")]
    assert len(targets) > 20
    for target in targets:
        assert target[1:] in ids if target.startswith("#") else (folders[0] / target).is_file()
    linked = {t for t in targets if not t.startswith("#")}
    assert linked | {PAGE_NAME, LIST_NAME} == {p.name for p in folders[0].iterdir()}


def test_references_inside_figures(page):
    ids = {attributes["id"] for _, attributes in page.tags if attributes.get("id")}
    used = [attributes["xlink:href"] for attributes in page.all("use")]
    assert used
    assert {name.removeprefix("#") for name in used} <= ids


def test_no_network(folders):
    text = (folders[0] / PAGE_NAME).read_text(encoding="utf-8")
    text = re.sub(r"data:image/png;base64,[^\"]*", "", text)
    outside = set(re.findall(r"(?:https?:)?//[^\s\"'<>)]+", text))
    # names of SVG and its links, which nothing fetches
    assert outside == {"http://www.w3.org/2000/svg", "http://www.w3.org/1999/xlink"}
    assert not re.search(r"@import|url\((?!#)", text)


def test_all_sections_are_there(page):
    sections = [a["id"] for a in page.all("section") if a.get("id")]
    keys = "machine lamps effort cautions levers gauges gap linkage emf inputs"
    assert sections == [f"d1-{key}" for key in keys.split()]
    words = " ".join(page.words)
    assert "Left out. The file has no load" in words
    assert "pacemakers" in words
    assert "remanence: 1.2 T" in words  # the inputs
    assert "Flux linkage is computed to" in words


def test_figures_have_words_for_who_cannot_see_them(page):
    figures = [a for a in page.all("svg") if "viewbox" in a]
    assert len(figures) >= 8
    for attributes in figures:
        assert attributes["role"] == "img"
        assert len(attributes["aria-label"]) > 20


def test_files_hold_the_numbers_shown(page, folders):
    words = " ".join(page.words)
    with (folders[0] / "design1_emf.csv").open(newline="") as stream:
        (row,) = csv.DictReader(stream)
    assert f"{float(row['rms_V']):.2f}" in words
    with h5py.File(folders[0] / "design1_emf.h5") as file:
        assert file["rms_V"][0] == float(row["rms_V"])
        assert file["rms_V"].attrs["units"] == "V"


def test_one_of_three_fails(tmp_path, odd, monkeypatch):
    monkeypatch.setattr("os.cpu_count", lambda: 1)  # the browser's report is made by several
    bad = tmp_path / "bad.yaml"
    bad.write_text("title: '<b>bad</b>'\n", encoding="utf-8")
    other = GEOMETRIES / "bar_inside_coil.yaml"
    done = []
    report = make_report(
        [str(odd), str(bad), str(other)], CRANK, progress=lambda *of: done.append(of)
    )
    assert [c.number for c in report.chapters] == [1, 3]
    (failed,) = report.failed
    assert (failed.number, failed.file) == (2, str(bad))
    assert "bad.yaml:1:" in failed.problem
    assert done[-1] == (300, 300)
    save_report(report, tmp_path / "out")
    page = Page((tmp_path / "out" / PAGE_NAME).read_text(encoding="utf-8"))
    words = " ".join(page.words)
    assert "2. bad.yaml could not be computed" in words
    assert "What each design gains over the first" in words
    assert (tmp_path / "out" / "comparison.csv").is_file()
    assert (tmp_path / "out" / "design3_emf.csv").is_file()
    assert not list((tmp_path / "out").glob("design2_*"))


def test_if_all_fail_there_is_no_report(tmp_path):
    bad = tmp_path / "bad.yaml"
    bad.write_text("title: " + "x" * 10_000 + "\n", encoding="utf-8")
    with pytest.raises(FieldsimError, match="10000 characters; at most 200"):
        make_report([str(bad)], CRANK)
    with pytest.raises(FieldsimError, match=r"bad\.yaml"):
        make_report([str(bad), str(tmp_path / "none.yaml")], CRANK)
