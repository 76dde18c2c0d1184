"""Files that commands write: refused before the work, whole or not at all, replacing old ones."""

from __future__ import annotations

import importlib
import os
import subprocess
import sys

import pytest

from fieldsim.cli import main

FLUX_MODULE = importlib.import_module("fieldsim.waveform.flux_table")
TABLES = {"flux": [], "emf": [], "compare": [], "gap": ["--values", "1 mm"]}


@pytest.fixture
def one(geometries):
    return geometries / "one_rotor.yaml"


def places(tmp_path):
    (tmp_path / "folder.csv").mkdir()
    (tmp_path / "folder.png").mkdir()
    (tmp_path / "file.txt").write_text("kept")
    return sorted(p.name for p in tmp_path.iterdir())


BAD_TABLES = {
    "none/a.csv": "there is no folder",
    "file.txt/a.csv": "there is no folder",
    "folder.csv": "this is a folder, not a file",
    "a.txt": "a table's name must end in .csv or .h5, not '.txt'",
    "a.xlsx": "must end in .csv or .h5, not '.xlsx'",
    "a": "must end in .csv or .h5, not nothing",
    ".csv": "must end in .csv or .h5, not nothing",
    "a.png": "must end in .csv or .h5, not '.png'",
    "x" * 300 + ".csv": "File name too long",
    "a\0.csv": "null byte",
}


@pytest.mark.parametrize("name", BAD_TABLES)
@pytest.mark.parametrize("command", TABLES)
def test_tables_that_cannot_be(command, name, refused, one, tmp_path, monkeypatch):
    before = places(tmp_path)
    monkeypatch.setattr(FLUX_MODULE, "flux_table", None)  # no work for nothing
    message = refused(command, one, *TABLES[command], "--out", f"{tmp_path}/{name}")
    assert BAD_TABLES[name] in message
    assert sorted(p.name for p in tmp_path.iterdir()) == before
    assert (tmp_path / "file.txt").read_text() == "kept"


BAD_PICTURES = {
    "none/a.png": "there is no folder",
    "folder.png": "this is a folder, not a file",
    "a.csv": "a picture's name must end in .png, .svg or .pdf, not '.csv'",
    "a.jpg": "must end in .png, .svg or .pdf, not '.jpg'",
    "a.png.": "must end in .png, .svg or .pdf",
}


@pytest.mark.parametrize("name", BAD_PICTURES)
@pytest.mark.parametrize("command", [*TABLES, "draw"])
def test_pictures_that_cannot_be(command, name, refused, one, tmp_path):
    before = places(tmp_path)
    option = "--out" if command == "draw" else "--plot"
    message = refused(command, one, *TABLES.get(command, []), option, f"{tmp_path}/{name}")
    assert BAD_PICTURES[name] in message
    assert sorted(p.name for p in tmp_path.iterdir()) == before


def test_a_bad_picture_keeps_the_table_from_being_written(refused, one, tmp_path):
    table = tmp_path / "a.csv"
    refused("flux", one, "--out", table, "--plot", tmp_path / "none" / "a.png")
    assert not table.exists()


def test_device_as_table(refused, one, tmp_path):
    link = tmp_path / "a.csv"
    link.symlink_to("/dev/full")
    assert "this is a device or pipe, not a file" in refused("flux", one, "--out", link)
    assert link.is_symlink()


def test_folder_of_the_kernel(refused, one):
    """Nobody may write there, root included."""
    assert refused("flux", one, "--out", "/proc/a.csv").startswith("/proc/a.csv: ")


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write everywhere")
@pytest.mark.parametrize("what", ["file", "folder"])
def test_write_protected(what, refused, one, tmp_path):
    table = tmp_path / "a.csv"
    table.write_text("kept")
    (table if what == "file" else tmp_path).chmod(0o500)
    message = refused("flux", one, "--out", table)
    (table if what == "file" else tmp_path).chmod(0o700)
    assert "write-protected" in message
    assert table.read_text() == "kept"


@pytest.mark.parametrize("name", ["a.csv", "a.h5", "a.png", "a.svg"])
def test_existing_file_is_replaced(name, run, one, tmp_path):
    place = tmp_path / name
    place.write_text("old")
    option = "--out" if name.endswith((".csv", ".h5")) else "--plot"
    assert run("flux", one, option, place).code == 0
    assert place.stat().st_size > 1000
    assert [p.name for p in tmp_path.iterdir()] == [name]


def test_link_is_followed(run, one, tmp_path):
    real, link = tmp_path / "real.csv", tmp_path / "link.csv"
    real.write_text("old")
    link.symlink_to(real)
    assert run("flux", one, "--out", link).code == 0
    assert link.is_symlink()
    assert real.read_text().startswith("rotor_angle_deg,")


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["emf", "bad.yaml"], "remanence"),
        (["emf", "one", "--tolerance", "1"], "tolerance"),
        (["emf", "one", "--samples", "3"], "samples"),
        (["emf", "one", "--crank-speed", "0 rpm"], "must not be zero"),
        (["compare", "one", "bad.yaml"], "remanence"),
        (["gap", "one", "--values", "1 mm", "--rotor", "no"], "no rotor"),
    ],
)
def test_existing_files_are_untouched_when_the_run_fails(
    arguments, words, refused, one, one_rotor, tmp_path
):
    bad = tmp_path / "bad.yaml"
    bad.write_text(one_rotor.replace("1.2 T", "1.2 mm"))
    named = {"one": one, "bad.yaml": bad}
    for name in ("a.h5", "a.pdf"):
        (tmp_path / name).write_text("kept")
    message = refused(
        *[named.get(a, a) for a in arguments],
        *["--out", tmp_path / "a.h5", "--plot", tmp_path / "a.pdf"],
    )
    assert words in message
    assert (tmp_path / "a.h5").read_text() == (tmp_path / "a.pdf").read_text() == "kept"
    assert len(list(tmp_path.iterdir())) == 3


LIMITED = """
import resource, sys
from fieldsim.cli import main
resource.setrlimit(resource.RLIMIT_FSIZE, (2000, 2000))  # as if the disk were full after 2 kB
codes = []
for name in sys.argv[2:]:
    option = "--out" if name.endswith((".csv", ".h5")) else "--plot"
    codes.append(main(["flux", sys.argv[1], option, name]))
print(codes)
"""


def test_disk_that_fills_up(one, tmp_path):
    """In a process of its own, for the limit stays; HDF5's library must not end it."""
    places = [tmp_path / name for name in ("a.csv", "a.h5", "a.png", "a.svg")]
    for place in places:
        place.write_text("kept")
    done = subprocess.run(
        [sys.executable, "-c", LIMITED, one, *places], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done
    assert done.stdout.splitlines()[-1] == "[2, 2, 2, 2]", done
    lines = done.stderr.splitlines()
    assert len(lines) == 4, done.stderr
    assert all(line.endswith(": cannot be written: File too large") for line in lines)
    assert sorted(tmp_path.iterdir()) == places
    assert {p.read_text() for p in tmp_path.iterdir()} == {"kept"}


def shell(command: str, *arguments) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        ["bash", "-c", command, "bash", sys.executable, *map(str, arguments)],
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.mark.parametrize(
    ("command", "code", "words"),
    [
        (
            '"$1" -m fieldsim check "$2" > /dev/full',
            2,
            "standard output cannot be written: No space",
        ),
        ('"$1" -m fieldsim check "$2" >&-', 0, ""),
        ('"$1" -m fieldsim check none.yaml 2>&-', 2, ""),
        ('"$1" -m fieldsim check "$2" 2>&- > /dev/null', 0, ""),
        ('set -o pipefail; "$1" -m fieldsim flux "$2" --angles 99999 --json | head -c 9', 0, ""),
        ('set -o pipefail; "$1" -m fieldsim check "$2" | true', 0, ""),
    ],
)
def test_standard_streams_that_fail(command, code, words, one):
    done = shell(command, one)
    assert done.returncode == code, done
    assert words in done.stderr
    assert len(done.stderr.splitlines()) == bool(words)


def test_terminal_without_the_letters(one, tmp_path):
    path = tmp_path / "omega.yaml"
    path.write_text(
        one.read_text(encoding="utf-8").replace("One rotor beside", "Ω beside"), encoding="utf-8"
    )
    for encoding in ("ascii", "cp1252"):
        done = shell(f'PYTHONIOENCODING={encoding} "$1" -m fieldsim emf "$2"', path)
        assert done.returncode == 0
        assert done.stdout.startswith("ohm beside a rectangular coil")
        assert "\\u" not in done.stdout
        assert f"\n{'-' * 40}" in done.stdout
        assert done.stderr == ""


def test_no_progress_when_piped(one):
    done = shell('"$1" -m fieldsim gap "$2" --values "1 mm, 2 mm"', one)
    assert done.returncode == 0
    assert done.stderr == ""
    assert "\x1b" not in done.stdout


HEAVY = ["numpy", "scipy", "matplotlib", "magpylib", "h5py", "pint", "pydantic", "rich", "yaml"]


def test_help_imports_nothing_heavy():
    code = (
        "import sys; from fieldsim.cli import main; main(['--help']); "
        f"print([m for m in {HEAVY} if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"


def test_emf_imports_no_pictures_and_no_other_field_library(one):
    code = (
        "import sys; from fieldsim.cli import main; main(['emf', sys.argv[1]]); "
        "print([m for m in ['matplotlib', 'magpylib', 'h5py'] if m in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, one], capture_output=True, text=True, check=True
    )
    assert done.stdout.splitlines()[-1] == "[]"


def test_interrupt_is_one_line(capsys, monkeypatch, one):
    def interrupted(*_args, **_more):
        raise KeyboardInterrupt

    monkeypatch.setattr(FLUX_MODULE, "flux_table", interrupted)
    assert main(["flux", str(one)]) == 130
    assert capsys.readouterr().err.strip() == "fieldsim: stopped"  # after the line with ^C


def test_too_little_memory_is_one_line(refused, monkeypatch, one):
    def greedy(*_args, **_more):
        raise MemoryError

    monkeypatch.setattr(FLUX_MODULE, "flux_table", greedy)
    assert refused("flux", one) == "the machine has too little memory for this request"


@pytest.mark.parametrize("backend", ["module://matplotlib_inline.backend_inline", "nonsense"])
def test_a_picture_is_the_same_whatever_matplotlib_is_told(one, backend, tmp_path):
    (tmp_path / "matplotlibrc").write_text("text.usetex: True\nhatch.color: red\nfont.size: 20\n")
    usual = {k: v for k, v in os.environ.items() if k != "MPLBACKEND"}
    drawn = []
    for folder, variables in ((one.parent, usual), (tmp_path, usual | {"MPLBACKEND": backend})):
        place = tmp_path / f"{len(drawn)}.svg"
        words = ["draw", str(one), "--out", str(place)]
        command = [sys.executable, "-m", "fieldsim", *words]
        subprocess.run(command, check=True, cwd=folder, env=variables)
        drawn.append(place.read_bytes())
    assert drawn[0] == drawn[1]
