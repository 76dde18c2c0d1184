"""Every word, number and picture of reports, as approved by eye."""

from __future__ import annotations

import re

import pytest
from approved import assert_approved
from machines import GEOMETRIES
from pages import pictures_of, words_of
from svg_words import described

from fieldsim.cli import main

MOVED = 3  # last digits, so 0.3 points: other versions of the fonts place letters a hair elsewhere
DESIGNS = {"one": ["one_rotor"], "two": ["lamp_ring", "geared_pair"]}


@pytest.fixture(scope="module", params=DESIGNS)
def report(request, tmp_path_factory):
    folder = tmp_path_factory.mktemp("report") / "out"
    files = [str(GEOMETRIES / f"{name}.yaml") for name in DESIGNS[request.param]]
    assert main(["report", *files, "--crank-speed", "90 rpm", "--out", str(folder)]) == 0
    return request.param, folder


def test_words(report):
    name, folder = report
    assert_approved(f"report/{name}.txt", words_of(folder / "index.html"))


def test_structure_and_looks(report):
    name, folder = report
    page = (folder / "index.html").read_text(encoding="utf-8")
    looks = re.search(r"<style>(.*?)</style>", page, flags=re.DOTALL)[1]
    bare = re.sub(r"<svg .*?</svg>|<style>.*?</style>", "", page, flags=re.DOTALL)
    bare = re.sub(r'(base64,|aria-label=")[^"]*', r"\1", bare)
    tags = re.findall(r"<[a-z!][^>]*>", bare)
    assert_approved(f"report/{name}_tags.txt", "\n".join(tags))
    assert_approved("report/looks.txt", looks)


def test_pictures(report):
    name, folder = report
    shown = [described(svg) for svg in pictures_of(folder / "index.html")]
    assert_approved(f"report/{name}_pictures.txt", "\n\n".join(shown), MOVED)


def test_tables_to_go_on_with(report):
    name, folder = report
    lines = []
    for path in sorted(folder.glob("*.csv")):
        head, first, *_ = path.read_text(encoding="utf-8").splitlines()
        lines += [path.name, head, ",".join(map(_short, first.split(",")))]
    assert_approved(f"report/{name}_tables.txt", "\n".join(lines), 2)


def _short(cell):
    try:
        value = float(cell)
    except ValueError:
        return cell
    return f"{0.0 if abs(value) < 1e-4 else value:.3e}"  # small ones are errors or rounding
