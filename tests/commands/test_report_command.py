"""The report command: what it writes, what it refuses, and its exit codes."""

import contextlib
import json
import math
import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from click.testing import CliRunner

from fieldsim.cli import main
from fieldsim.commands.report import report
from fieldsim.report.report import PAGE_NAME, Report

GEOMETRIES = Path(__file__).parents[2] / "geometries"
ONE = str(GEOMETRIES / "one_rotor.yaml")


@pytest.fixture
def no_work(monkeypatch):
    """Let the test fail if a report is begun."""

    def begun(*_, **__):
        raise AssertionError("work for nothing")

    monkeypatch.setattr("fieldsim.report.report.make_report", begun)


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


@pytest.fixture
def tight(tmp_path):
    """Return a file whose rotor runs into the winding."""
    path = tmp_path / "tight.yaml"
    text = (GEOMETRIES / "one_rotor.yaml").read_text(encoding="utf-8")
    path.write_text(text.replace("height: 11.5 mm", "height: 8 mm"), encoding="utf-8")
    return path


@pytest.mark.parametrize("options", [[], ["--json"]])
def test_one_of_two_that_fails_is_said_and_exits_with_1(options, tight, tmp_path, monkeypatch):
    monkeypatch.setattr("os.cpu_count", lambda: 1)
    out = tmp_path / "report"
    result = CliRunner().invoke(report, [ONE, str(tight), "--out", str(out), *options])
    assert result.exit_code == 1
    (line,) = result.stderr.splitlines()
    assert line.startswith(f"fieldsim: not computed: {tight}:10: rotors.upper: ")
    assert "runs into" in line
    assert line.count("tight.yaml") == 1
    page = (out / "index.html").read_text(encoding="utf-8")
    assert "tight.yaml could not be computed" in page
    if not options:
        assert result.stdout == f"The report is {out / 'index.html'}\n"
        return
    found = json.loads(result.stdout, parse_constant=pytest.fail)
    assert found["page"] == str(out / "index.html")
    assert found["crank_speed_rad_per_s"] == pytest.approx(4 * math.pi)
    assert [(d["number"], d["file"]) for d in found["designs"]] == [(1, ONE)]
    (failed,) = found["failed"]
    assert failed == {
        "number": 2,
        "file": str(tight),
        "problem": line.removeprefix("fieldsim: not computed: "),
    }


@pytest.mark.parametrize("options", [[], ["--json"]])
def test_when_all_fail_each_trouble_is_a_line(options, tight, tmp_path, capsys):
    out = tmp_path / "report"
    twice = tmp_path / "twice.yaml"
    twice.write_text(tight.read_text().replace("1.2 T", "1.2").replace("turns: 1800", "turns: 0"))
    assert main(["report", str(tight), str(twice), "none.yaml", "--out", str(out), *options]) == 2
    shown = capsys.readouterr()
    assert shown.out == ""
    first, second, third, fourth = shown.err.splitlines()
    assert first.startswith(f"fieldsim: {tight}:10: rotors.upper: ")
    assert second.startswith(f"fieldsim: {twice}:8: magnets.bar.remanence: ")
    assert third.startswith(f"fieldsim: {twice}:25: coils.pickup.turns: ")
    assert fourth == "fieldsim: none.yaml: cannot be read: No such file or directory"
    assert not out.exists()


def test_a_folder_whose_name_has_control_characters(tmp_path, capsys, monkeypatch):
    monkeypatch.setattr("fieldsim.report.report.make_report", lambda *_, **__: Report((), (), 1.0))
    monkeypatch.setattr("fieldsim.report.report.save_report", lambda _, out: Path(out) / PAGE_NAME)
    out = f"{tmp_path}/two\nlines\x1b[31m"
    assert main(["report", ONE, "--out", out]) == 0
    assert capsys.readouterr().out == f"The report is {tmp_path}/two?lines?[31m/index.html\n"
    assert main(["report", ONE, "--out", out, "--json"]) == 0
    (line,) = capsys.readouterr().out.splitlines()
    assert json.loads(line)["page"] == f"{out}/index.html"


# Two designs on two processors, whatever this machine has; says when one is at work beside it.
BESIDE = """
import os, sys
from concurrent.futures import ProcessPoolExecutor
os.cpu_count = lambda: 2
submit = ProcessPoolExecutor.submit
def told(pool, *work):
    future = submit(pool, *work)
    print(*pool._processes, flush=True)
    return future
ProcessPoolExecutor.submit = told
from fieldsim.cli import run
run()
"""


@pytest.mark.usefixtures("stoppable")
@pytest.mark.parametrize("seconds", [0.0, 0.1, 1.5])
@pytest.mark.parametrize(
    ("ending", "to_all", "code", "words"),
    [
        (signal.SIGTERM, False, -signal.SIGTERM, ""),
        (signal.SIGKILL, False, -signal.SIGKILL, ""),
        (signal.SIGINT, False, 130, "fieldsim: stopped"),
        (signal.SIGINT, True, 130, "fieldsim: stopped"),  # as a terminal does with Ctrl-C
    ],
)
def test_nothing_is_left_running_when_a_report_is_ended(
    ending, to_all, code, words, seconds, tmp_path
):
    endless = tmp_path / "endless.yaml"  # open to write and never written, so its reader waits
    os.mkfifo(endless)
    writer = os.open(endless, os.O_RDWR)
    begun = subprocess.Popen(
        [sys.executable, "-c", BESIDE, "report", ONE, endless, "--out", tmp_path / "report"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    try:
        assert begun.stdout.readline().strip().isdigit()
        time.sleep(seconds)  # the process beside it is only beginning, or in the middle of its work
        (os.killpg if to_all else os.kill)(begun.pid, ending)
        # Both pipes end only when every process that holds them has ended.
        out, err = begun.communicate(timeout=30)
        assert begun.returncode == code
        assert out == ""
        if words:
            assert words in err.splitlines()
            assert "Traceback" not in err
        assert list(tmp_path.iterdir()) == [endless]
    finally:
        with contextlib.suppress(ProcessLookupError):
            os.killpg(begun.pid, signal.SIGKILL)
        begun.wait()
        os.close(writer)
