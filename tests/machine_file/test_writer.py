"""What is written reads as an equal machine, stays as it is, and is fit to be read and edited."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
import yaml
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from machine_files import described_machines
from machines import GEOMETRIES, shipped

from fieldsim.cli import main
from fieldsim.errors import FileTroubleError
from fieldsim.machine.clearance.clearances import check_collisions
from fieldsim.machine.clearance.collision_error import CollisionError
from fieldsim.machine.kinds import Direction
from fieldsim.machine.part import walk_values
from fieldsim.machine_file.reader import read
from fieldsim.machine_file.writer import machine_text, write

SHIPPED = sorted(path.stem for path in GEOMETRIES.glob("*.yaml"))


def copied(machine, folder: Path):
    path = folder / "copy.yaml"
    write(machine, path)
    return read(path)


@pytest.mark.parametrize("name", SHIPPED)
def test_a_shipped_machine_comes_back_equal(name, tmp_path):
    machine = shipped(name)
    again = copied(machine, tmp_path)
    assert again == machine
    assert list(walk_values(again)) == list(walk_values(machine))
    assert machine_text(again) == machine_text(machine)


@settings(
    max_examples=25,
    deadline=None,
    derandomize=True,
    suppress_health_check=list(HealthCheck),
    phases=[Phase.generate],  # whole machines take minutes to be made smaller
)
@given(machine=described_machines())
def test_any_machine_comes_back_equal_to_the_last_digit(machine, tmp_path_factory):
    path = tmp_path_factory.mktemp("writer") / "machine.yaml"
    write(machine, path)
    again = read(path)
    for (where, _, found), (_, _, value) in zip(
        walk_values(again), walk_values(machine), strict=True
    ):
        assert (found, type(found)) == (value, type(value)), where
    assert again == machine
    assert machine_text(again) == path.read_text(encoding="utf-8")


def numbers_in(text: str) -> list[str]:
    return re.findall(r"(?<![\w.])-?\d+(?:\.\d+)?(?:e-?\d+)?(?![\w.])", text)


@pytest.mark.parametrize("name", SHIPPED)
def test_no_number_is_longer_than_in_the_shipped_file(name):
    source = (GEOMETRIES / f"{name}.yaml").read_text(encoding="utf-8")
    source = "\n".join(line.partition("#")[0] for line in source.split("\n"))
    written = machine_text(shipped(name))
    assert set(numbers_in(written)) <= set(numbers_in(source))
    assert len(written.split("\n")) < 1.3 * len(source.split("\n"))


def test_the_text_is_one_that_a_person_would_write():
    text = machine_text(shipped("lamp_ring"))
    for line in (
        "title: Two facing rotors light a ring of lamps",
        "  bar: {size: [20 mm, 10 mm, 5 mm], remanence: 1.2 T}",
        "    shaft: {through: [0 mm, 0 mm, 0 mm], along: [0, 0, 1]}",
        "    gear_ratio: 8",
        "      - {magnet: bar, radius: 26 mm, height: 9.5 mm, north: +shaft, count: 4}",
        "    side: [1, 0, 0]",
        "    wire: {gauge: AWG 32, packing: square layers, fill: section}",
        "  capacitor: {value: 470 uF, esr: 0.2 ohm, rated: 25 V, polarised: true}",
    ):
        assert line in text.split("\n")
    assert "temperature" not in text  # what is left to its default is left out
    assert "file" not in text


@pytest.mark.parametrize(
    "title",
    ["12", "true", "~", "a: b", "# 1", "1e5", "'", "[1]", "2001-01-01", "日本", "- x", "=7"],
)
def test_titles_that_yaml_could_take_for_something_else(title, tmp_path):
    machine = shipped("one_rotor").changed({"title": title})
    assert copied(machine, tmp_path).title == title


@pytest.mark.parametrize("name", ["y", "no", "on", "null-", "e5", "inf", "True", "null", "nan"])
def test_names_that_yaml_could_take_for_something_else(name, tmp_path):
    source = (GEOMETRIES / "one_rotor.yaml").read_text(encoding="utf-8")
    path = tmp_path / "source.yaml"
    path.write_text(source.replace("  pickup:", f'  "{name}":'), encoding="utf-8")
    machine = read(path)
    assert machine.coils[0].name == name
    assert copied(machine, tmp_path) == machine


@pytest.mark.parametrize("name", SHIPPED)
def test_a_copy_answers_with_the_same_figures(name, tmp_path, capsys):
    path = tmp_path / f"{name}.yaml"
    write(shipped(name), path)
    answers = []
    for file in (GEOMETRIES / f"{name}.yaml", path):
        assert main(["emf", str(file), "--json", "--tolerance", "1e-3"]) == 0
        answers.append(json.loads(capsys.readouterr().out))
    assert answers[0] == answers[1]


def test_parts_that_collide_can_be_written(tmp_path):
    machine = shipped("one_rotor").changed({"rotors.upper.magnets[0].height": "0 mm"})
    again = copied(machine, tmp_path)
    assert again == machine
    with pytest.raises(CollisionError):
        check_collisions(again)


@settings(max_examples=100, deadline=None, derandomize=True)
@given(st.tuples(*[st.floats(-1, 1)] * 3).filter(lambda v: max(map(abs, v)) > 1e-3))
def test_any_direction_comes_back_exactly(numbers):
    kind = Direction()
    direction = kind.read(numbers, in_file=False)
    assert kind.read(kind.written(direction), in_file=True) == direction


@pytest.mark.parametrize(
    "numbers",
    [(0, 0, 1), (1, 1, 0), (1, -2, 3), (0.5, 0.8660254, 0), (0.3, 0.1, 1), (1, 0.57735, 0)],
)
def test_directions_are_written_in_few_digits(numbers):
    kind = Direction()
    text = yaml.safe_dump(kind.written(kind.read(numbers, in_file=False)), default_flow_style=True)
    assert len(text) <= len(str(list(numbers))) + 4


@pytest.mark.parametrize("place", ["missing/machine.yaml", "", "file/machine.yaml"])
def test_a_place_that_cannot_be_written_is_one_line(place, tmp_path):
    (tmp_path / "file").write_text("kept", encoding="utf-8")
    with pytest.raises(FileTroubleError) as caught:
        write(shipped("one_rotor"), tmp_path / place)
    assert "\n" not in str(caught.value)
    assert str(tmp_path) in str(caught.value)
    assert [p.name for p in tmp_path.iterdir()] == ["file"]
    assert (tmp_path / "file").read_text(encoding="utf-8") == "kept"


def test_a_write_that_fails_half_way_leaves_the_old_file(tmp_path, monkeypatch):
    path = tmp_path / "machine.yaml"
    path.write_text("old", encoding="utf-8")

    def half(self, text, **_named):
        with self.open("w", encoding="utf-8") as stream:
            stream.write(text[:100])
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "write_text", half)
    with pytest.raises(FileTroubleError, match="No space left"):
        write(shipped("one_rotor"), path)
    monkeypatch.undo()
    assert path.read_text(encoding="utf-8") == "old"
    assert [p.name for p in tmp_path.iterdir()] == ["machine.yaml"]
