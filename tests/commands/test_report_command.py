"""The report command: what it writes, what it refuses, and its exit codes."""

import os
import re
from pathlib import Path

import pytest
from click.testing import CliRunner

from fieldsim.cli import main
from fieldsim.commands.report import report

GEOMETRIES = Path(__file__).parents[2] / "geometries"
ONE = str(GEOMETRIES / "one_rotor.yaml")


@pytest.fixture
def no_work(monkeypatch):
    """Let the test fail if a report is begun."""

    def begun(*_, **__):
        raise AssertionError("work for nothing")

    monkeypatch.setattr("fieldsim.output.report.make_report", begun)


@pytest.fixture
def refused(capsys):
    def call(*arguments):
        assert main(["report", *map(str, arguments)]) == 2
        out, err = capsys.readouterr()
        assert out == ""
        assert err.startswith("fieldsim: ")
        assert len(err.splitlines()) == 1
        return err

    return call


def test_one_report(tmp_path, capsys):
    out = tmp_path / "report"
    assert main(["report", ONE, "--crank-speed", "90 rpm", "--out", str(out)]) == 0
    shown = capsys.readouterr()
    assert shown.out == f"The report is {out / 'index.html'}\n"
    assert shown.err == ""
    page = (out / "index.html").read_text(encoding="utf-8")
    assert "One rotor beside a rectangular coil at 90 rpm" in page
    # of an earlier report: the same place again
    before = sorted(path.name for path in out.iterdir())
    assert main(["report", ONE, "--out", str(out)]) == 0
    assert "at 120 rpm" in (out / "index.html").read_text(encoding="utf-8")
    assert sorted(path.name for path in out.iterdir()) == before


def test_places_are_refused_before_the_work(tmp_path, refused, no_work):
    (tmp_path / "file").write_text("kept")
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "other.txt").write_text("kept")
    assert "this is a file" in refused(ONE, "--out", tmp_path / "file")
    assert "holds other things" in refused(ONE, "--out", tmp_path / "full")
    assert "there is no folder" in refused(ONE, "--out", tmp_path / "none" / "report")
    assert sorted(p.name for p in tmp_path.rglob("*")) == ["file", "full", "other.txt"]


def test_protected_place(tmp_path, refused, no_work, monkeypatch):
    monkeypatch.setattr(os, "access", lambda *_: False)  # a superuser may write anywhere
    assert "write-protected" in refused(ONE, "--out", tmp_path / "report")


@pytest.mark.parametrize(
    "arguments",
    [
        [],
        [ONE],
        ["--out", "x"],
        [ONE, "--out", "x", "--crank-speed", "90"],
        [ONE, "--out", "x", "--crank-speed", "0 rpm"],
        [ONE, "--out", "x", "--crank-speed", "nan rpm"],
    ],
)
def test_wrong_arguments(arguments, refused, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    refused(*arguments)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("title", "problem"),
    [("x" * 10_000, "at most 200"), ("'\\u202Eabc'", "printable|unprintable")],
)
def test_titles_that_nobody_can_read(title, problem, tmp_path, refused):
    text = (GEOMETRIES / "one_rotor.yaml").read_text(encoding="utf-8")
    bad = tmp_path / "bad.yaml"
    quoted = title.replace("'", '"')
    bad.write_text(re.sub(r"^title: .*$", lambda _: f"title: {quoted}", text, flags=re.M))
    assert re.search(problem, refused(bad, "--out", tmp_path / "report"))
    assert not (tmp_path / "report").exists()


def test_one_of_two_that_fails_is_said_and_exits_with_1(tmp_path, monkeypatch):
    monkeypatch.setattr("os.cpu_count", lambda: 1)
    tight = tmp_path / "tight.yaml"
    text = (GEOMETRIES / "one_rotor.yaml").read_text(encoding="utf-8")
    tight.write_text(text.replace("height: 11.5 mm", "height: 8 mm"), encoding="utf-8")
    out = tmp_path / "report"
    result = CliRunner().invoke(report, [ONE, str(tight), "--out", str(out)])
    assert result.exit_code == 1
    assert result.stdout.startswith("The report is ")
    (line,) = result.stderr.splitlines()
    assert line.startswith("fieldsim: not computed: ")
    assert "runs into" in line
    assert line.count("tight.yaml") == 1
    page = (out / "index.html").read_text(encoding="utf-8")
    assert "tight.yaml could not be computed" in page
    assert main(["report", str(tight), "--out", str(tmp_path / "other")]) == 2
    assert not (tmp_path / "other").exists()
