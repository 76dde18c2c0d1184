"""Progress: shown on a terminal while work is done, gone afterwards, and never in a pipe."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

pty = pytest.importorskip("pty")

SHIPPED = Path(__file__).parents[2] / "geometries"
RUNS = {
    "draw": (["--out", "{folder}/m.svg"], ["picture"]),
    "emf": (["--tolerance", "1e-3"], ["flux linkage", "machines built like this", "results"]),
    "emf saturated": (["--tolerance", "1e-3", "--exact", "--saturation"], ["saturation"]),
    "light": (["--tolerance", "1e-3", "--exact"], ["circuit", "results"]),
    "gap": (["--values", "2 mm"], ["gaps", "results"]),
}


def arguments(command, folder):
    options = [word.format(folder=folder) for word in RUNS[command][0]]
    machine = "bolt_beside_magnets.yaml" if "--saturation" in options else "lamp_ring.yaml"
    return [sys.executable, "-m", "fieldsim", command.split()[0], SHIPPED / machine, *options]


def on_terminal(command, folder):
    """What a command writes to a terminal on standard error."""
    mine, its = pty.openpty()
    with subprocess.Popen(
        arguments(command, folder), stdout=subprocess.DEVNULL, stderr=its,
        env={**os.environ, "COLUMNS": "80", "TERM": "xterm"},
    ) as process:  # fmt: skip
        os.close(its)
        found = b""
        while True:
            try:
                some = os.read(mine, 65536)
            except OSError:  # the other end is closed
                break
            if not some:
                break
            found += some
    os.close(mine)
    assert process.returncode == 0
    return found.decode()


@pytest.mark.parametrize("command", RUNS)
def test_work_is_seen_to_go_on_at_a_terminal(command, tmp_path):
    shown = on_terminal(command, tmp_path)
    for what in RUNS[command][1]:
        assert what in shown
    assert shown.endswith(("\x1b[?25h", "\x1b[2K"))  # bars are wiped, and the cursor is back


@pytest.mark.parametrize("command", ["light", "draw"])
def test_nothing_of_it_is_seen_in_a_pipe(command, tmp_path):
    done = subprocess.run(
        arguments(command, tmp_path), capture_output=True, text=True, check=True, timeout=60
    )
    assert done.stderr == ""
    assert "\x1b" not in done.stdout
