"""The README's commands and its Python example are run, so that they cannot rot."""

import functools
import re
import runpy
import shlex
import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import yaml
from served import served

import fieldsim as fs
from fieldsim.cli import COMMANDS, main
from fieldsim.machine.machine import Machine
from fieldsim.machine_file.reader import read
from fieldsim.machine_file.yaml_nodes import load_document, plain_value

ROOT = Path(__file__).parent.parent
PICTURES = ROOT / "geometries" / "pictures"
DRAW = runpy.run_path(str(PICTURES / "draw_pictures.py"))
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


@pytest.mark.parametrize("line", [line for line in LINES if line.split()[1] != "live"])
def test_command(line, clone, capsys):
    for before in DRAW["lines_before"](README):
        if shlex.split(before)[-1] in line.split() and not line.endswith(before):
            assert main(shlex.split(before)) == 0
    capsys.readouterr()
    assert main(shlex.split(line)[1:]) == 0
    shown = capsys.readouterr()
    assert shown.err == ""
    for word in ("--out", "--plot", "--range-plot"):
        if f"{word} " in line:
            name = shlex.split(line)[shlex.split(line).index(word) + 1]
            size = (clone / name).stat().st_size
            assert size > 100
            kept = PICTURES / name
            if kept.is_file():
                # Letters and lines of a picture differ a little between versions of the library.
                assert np.isclose(size, kept.stat().st_size, rtol=0.2)


def test_page_without_a_file():
    with served(geometry=None) as server:
        status, _, page = server.ask("GET", f"/?key={server.key}")
    assert status == 200
    assert b"rotors:" in page


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


EXAMPLES = [block for block in blocks("yaml") if not block.startswith("title:")]


def machine_of_example(block: str, clone: Path) -> Machine:
    """Return the machine of a file into which the sections of an example are put."""
    head, _, sections = block.partition("\n")
    words = re.findall(r"[\w./]+", head.removeprefix("# with "))
    content = load_document(clone / words[0], words[0]).content
    for path in (w for w in words[1:] if "." in w):
        *above, key = path.split(".")
        del functools.reduce(dict.__getitem__, above, content)[key]
    (clone / "example.yaml").write_text(yaml.safe_dump(put_in(content, plain_value(sections, ""))))
    return read("example.yaml")


def put_in(content, more):
    if not isinstance(content, dict) or not isinstance(more, dict):
        return more
    return content | {key: put_in(content.get(key), value) for key, value in more.items()}


@pytest.mark.parametrize("block", EXAMPLES)
def test_an_example_of_sections_computes(block, clone, capsys):
    assert machine_of_example(block, clone) != read(block.split()[2].rstrip(","))
    assert main(["emf", "example.yaml"]) == 0
    assert main(["light", "example.yaml"]) == 0
    assert capsys.readouterr().err == ""


def example(key: str) -> str:
    (found,) = (block for block in EXAMPLES if f"\n{key}:" in block)
    return found


def test_the_example_of_gears_makes_the_ratios_that_it_says(clone):
    machine = machine_of_example(example("gears"), clone)
    before = read("geometries/two_facing_rotors.yaml")
    assert machine.train.ratios == before.train.ratios == {"upper": 9, "lower": -9}
    assert machine.train.meshes == {"upper": 2, "lower": 3}


def test_the_example_of_spools_winds_what_is_on_them(clone):
    machine = machine_of_example(next(b for b in EXAMPLES if "spools:" in b), clone)
    gauge = machine.coil("left").wire.gauge
    alone = fs.CoilWire(gauge, spools=[fs.Spool(mass=0.02), fs.Spool(length=30)])
    wound = replace(machine.coil("left"), wire=alone)
    assert machine.coil("left").winding.turns == wound.winding.turns
    assert machine.coil("left").winding.wire_length_m > 30


def test_sample_of_the_main_job_is_true(capsys):
    assert main(["emf", str(ROOT / "geometries" / "two_facing_rotors.yaml")]) == 0
    row = next(line for line in README.splitlines() if line.startswith("    pickup "))
    assert (
        row.split()
        == next(
            line for line in capsys.readouterr().out.splitlines() if line.startswith("pickup")
        ).split()
    )


def test_links_and_pictures_are_there():
    targets = re.findall(r"\]\(([^)]+)\)", README)
    for target in targets:
        assert (ROOT / target).is_file(), target
    drawn = DRAW["lines_that_draw"](README)
    shown = {name for name in map(Path, targets) if name.suffix == ".png"}
    assert {PICTURES / name for name in (*drawn, "live.png")} == {ROOT / name for name in shown}


def test_what_it_says_of_files_is_true():
    listed = set(re.findall(r"^\| `(\w+\.yaml)`", README, flags=re.MULTILINE))
    assert listed == {path.name for path in (ROOT / "geometries").glob("*.yaml")}


def test_the_tables_of_keys_are_those_of_the_parts():
    from readme_keys import with_tables

    assert with_tables(README) == README
