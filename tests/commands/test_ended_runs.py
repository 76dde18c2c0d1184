"""Runs that are ended while a file is on its way, and disks that take no more of it."""

from __future__ import annotations

import contextlib
import os
import signal
import subprocess
import sys

import pytest

from fieldsim.files import is_passing
from fieldsim.report.folder import LIST_NAME, folder_for, save_folder

resource = pytest.importorskip("resource")  # signals and limits as POSIX has them

# Stands still at the last step, when all is written and nothing has its own name yet.
STANDING_STILL = """
import sys, time
from pathlib import Path
from fieldsim.cli import main

def stand_still(self, target):
    print("on its way", flush=True)
    time.sleep(600)

Path.replace = Path.rename = stand_still
sys.exit(main(sys.argv[1:]))
"""


@contextlib.contextmanager
def standing_still(*arguments):
    """Yield a run of the command line that has a file on its way."""
    with subprocess.Popen(
        [sys.executable, "-c", STANDING_STILL, *map(str, arguments)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as process:
        try:
            for line in process.stdout:  # notes may come first
                if line == "on its way\n":
                    break
            yield process
        finally:
            process.kill()


def passing(folder):
    return [path for path in folder.iterdir() if is_passing(path)]


def written(kind, geometries, folder):
    """Return the arguments of a command that writes into a folder."""
    file = geometries / "one_rotor.yaml"
    return {
        "start": ("new", "single", "--out", folder / "m.yaml"),
        "table": ("flux", file, "--out", folder / "t.csv"),
        "array": ("flux", file, "--out", folder / "t.h5"),
        "picture": ("draw", file, "--out", folder / "p.png"),
        "drawing": ("draw", file, "--out", folder / "p.svg"),
        "sheet": ("draw", file, "--out", folder / "p.pdf"),
        "report": ("report", file, "--out", folder / "report"),
    }[kind]


@pytest.mark.parametrize(
    ("kind", "number"),
    [
        ("table", signal.SIGTERM),
        ("table", signal.SIGHUP),
        ("picture", signal.SIGTERM),
        ("report", signal.SIGTERM),
    ],
)
def test_a_run_that_is_told_to_end_leaves_nothing(kind, number, geometries, tmp_path):
    with standing_still(*written(kind, geometries, tmp_path)) as process:
        assert len(passing(tmp_path)) == 1
        process.send_signal(number)
        assert "Traceback" not in process.communicate()[1]
    assert process.returncode == -number
    assert list(tmp_path.iterdir()) == []


def test_the_next_run_sweeps_what_a_killed_one_left(run, geometries, tmp_path):
    arguments = written("table", geometries, tmp_path)
    with standing_still(*arguments) as process:
        process.kill()
    assert len(passing(tmp_path)) == 1
    assert run(*arguments).code == 0
    assert list(tmp_path.iterdir()) == [tmp_path / "t.csv"]


def test_what_a_killed_run_left_is_not_in_the_way_of_a_report(geometries, tmp_path):
    with standing_still(*written("table", geometries, tmp_path)) as process:
        process.kill()
    assert len(passing(tmp_path)) == 1
    assert folder_for(tmp_path) == tmp_path.resolve()
    save_folder(tmp_path, {"index.html": b"page"})
    assert sorted(path.name for path in tmp_path.iterdir()) == ["index.html", LIST_NAME]


def test_a_file_on_its_way_from_a_living_run_is_kept(run, geometries, tmp_path):
    with standing_still(*written("table", geometries, tmp_path)):
        (kept,) = passing(tmp_path)
        assert run(*written("array", geometries, tmp_path)).code == 0
        assert sorted(tmp_path.iterdir()) == sorted([kept, tmp_path / "t.h5"])
        save_folder(tmp_path / "report", {"index.html": b"page"})
        assert kept.stat().st_size > 0


@pytest.fixture(params=[100, 1500])
def full_disk(request):
    """Let no file grow beyond some bytes, as on a disk that is nearly full."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    before = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (request.param, hard))
    yield
    resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    signal.signal(signal.SIGXFSZ, before)


@pytest.mark.usefixtures("full_disk")
@pytest.mark.parametrize("kind", ["start", "table", "array", "picture", "drawing", "sheet"])
def test_a_full_disk_is_told_by_the_name_that_was_asked_for(kind, refused, geometries, tmp_path):
    arguments = written(kind, geometries, tmp_path)
    line = refused(*arguments)
    assert line == f"{arguments[-1]}: cannot be written: {os.strerror(27)}"
    assert list(tmp_path.iterdir()) == []


@pytest.mark.usefixtures("full_disk")
def test_a_file_of_before_outlives_a_full_disk(refused, geometries, tmp_path):
    arguments = written("sheet", geometries, tmp_path)
    arguments[-1].write_text("old")
    assert "cannot be written" in refused(*arguments)
    assert arguments[-1].read_text() == "old"
    assert list(tmp_path.iterdir()) == [arguments[-1]]


@pytest.mark.usefixtures("full_disk")
def test_a_report_that_a_full_disk_refuses_does_not_appear(run, geometries, tmp_path):
    arguments = written("report", geometries, tmp_path)
    outcome = run(*arguments)
    assert outcome.code == 2
    assert outcome.err.splitlines()[-1] == (
        f"fieldsim: {arguments[-1]}: cannot be written: {os.strerror(27)}"
    )
    assert list(tmp_path.iterdir()) == []
