"""The README's commands and its Python example are run, so that they cannot rot."""

import re
import runpy
import shlex
import shutil
from pathlib import Path

import numpy as np
import pytest

from fieldsim.cli import COMMANDS, main
from fieldsim.machine_file.reader import read

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")


def blocks(language: str) -> list[str]:
    return re.findall(rf"^```{language}\n(.*?)^```$", README, flags=re.DOTALL | re.MULTILINE)


LINES = [
    line for block in blocks("sh") for line in block.splitlines() if line.startswith("fieldsim ")
]


@pytest.fixture
def clone(tmp_path, monkeypatch):
    shutil.copytree(ROOT / "geometries", tmp_path / "geometries")
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.parametrize("line", LINES)
def test_command(line, clone, capsys):
    assert main(shlex.split(line)[1:]) == 0
    shown = capsys.readouterr()
    assert shown.err == ""
    for word in ("--out", "--plot"):
        if word in line:
            name = shlex.split(line)[shlex.split(line).index(word) + 1]
            assert (clone / name).stat().st_size > 100


def test_every_command_is_shown():
    shown = {line.split()[1] for line in LINES}
    assert shown == set(COMMANDS)


def test_python_example(clone, capsys):
    (example,) = blocks("python")
    exec(compile(example, "README.md", "exec"), {})
    assert "(1, " in capsys.readouterr().out


def test_example_file_is_the_shipped_one(clone):
    example = next(b for b in blocks("yaml") if b.startswith("title:"))
    (clone / "example.yaml").write_text(example, encoding="utf-8")
    assert read("example.yaml") == read("geometries/one_rotor.yaml")


def test_sample_of_the_main_job_is_true(capsys):
    assert main(["emf", str(ROOT / "geometries" / "two_facing_rotors.yaml")]) == 0
    row = next(line for line in README.splitlines() if line.startswith("    pickup "))
    assert (
        row.split()
        == next(
            line for line in capsys.readouterr().out.splitlines() if line.startswith("pickup")
        ).split()
    )


def test_links_and_pictures_are_there(tmp_path):
    for target in re.findall(r"\]\(([^)]+)\)", README):
        assert (ROOT / target).is_file(), target
    draw = runpy.run_path(str(ROOT / "geometries" / "pictures" / "draw_pictures.py"))
    for made in draw["make_pictures"](ROOT / "geometries", tmp_path / "pictures"):
        kept = ROOT / "geometries" / "pictures" / made.name
        # The letters and lines of a picture differ a little between versions of the library.
        assert np.isclose(made.stat().st_size, kept.stat().st_size, rtol=0.2)


def test_what_it_says_of_files_is_true():
    listed = set(re.findall(r"^\| `(\w+\.yaml)`", README, flags=re.MULTILINE))
    assert listed == {path.name for path in (ROOT / "geometries").glob("*.yaml")}


def test_the_tables_of_keys_are_those_of_the_parts():
    from readme_keys import with_tables

    assert with_tables(README) == README
