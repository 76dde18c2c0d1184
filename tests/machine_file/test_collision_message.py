"""The words of a collision: the problem alone, and with its place and a way out."""

from dataclasses import replace
from pathlib import Path

import pytest

from fieldsim.errors import ImpossibleError
from fieldsim.machine.clearance.clearances import check_collisions
from fieldsim.machine.clearance.collision_error import Collision, CollisionError
from fieldsim.machine_file.collision_message import full_lines
from fieldsim.machine_file.reader import read

ONE = Path(__file__).parents[2] / "geometries" / "one_rotor.yaml"
PROBLEM = 'rotor "upper" runs into coil "pickup": they overlap by 0.5 mm'
WAY_OUT = 'raise rotor "upper" by more than 0.5 mm along its shaft'


def lowered(file):
    """Return the plainest machine with its rotor 3.5 mm lower, as if read from a file."""
    low = read(ONE).changed({"rotors.upper.shaft.through[2]": "-3.5 mm"})
    return replace(low, file=str(file))


def caught(machine):
    with pytest.raises(CollisionError) as error:
        check_collisions(machine)
    return error.value


def test_the_text_is_the_problem_alone():
    """It is shown of changed machines, too, where the file's lines and ways out say nothing."""
    assert str(caught(lowered(ONE))) == f"{ONE}: {PROBLEM}"
    assert str(caught(lowered(""))) == PROBLEM


def test_the_full_line_has_line_key_and_way_out():
    lines = ONE.read_text(encoding="utf-8").splitlines()
    line = lines.index("  upper:") + 1
    error = caught(lowered(ONE))
    assert full_lines(error) == (f"{ONE}:{line}: rotors.upper: {PROBLEM}; {WAY_OUT}",)


@pytest.mark.parametrize("content", [None, "a: [", ""])
def test_a_file_that_is_gone_or_was_changed_has_no_lines(content, tmp_path):
    path = tmp_path / "machine.yaml"
    if content is not None:
        path.write_text(content)
    assert full_lines(caught(lowered(path))) == (f"{path}: {PROBLEM}; {WAY_OUT}",)


def test_no_file_at_all():
    assert full_lines(caught(lowered(""))) == (f"{PROBLEM}; {WAY_OUT}",)


def test_other_errors_say_what_they_say():
    assert full_lines(ImpossibleError("too fast")) == ("too fast",)


def test_the_way_out_is_sought_only_when_it_is_told():
    def sought():
        raise AssertionError("work for nothing")

    error = CollisionError(Collision("a runs into b", sought, "", ("coils", "a")))
    assert str(error) == "a runs into b"


def crowded(count):
    """Return a machine whose rotor runs into so many coils."""
    one = read(ONE)
    coils = tuple(replace(one.coils[0], name=f"c{i}") for i in range(count))
    return replace(one, coils=coils, file="")


def test_all_collisions_are_told_at_once_a_line_each():
    lines = full_lines(caught(crowded(3)))
    pairs = [("c0", "c1"), ("c0", "c2"), ("c1", "c2")]
    assert [line.split(": ")[0] for line in lines] == [
        f'coil "{one}" runs into coil "{other}"' for one, other in pairs
    ]
    assert all("; move them apart" in line for line in lines)


@pytest.mark.parametrize(("count", "told"), [(5, 10), (6, 11)])
def test_no_more_than_ten_collisions_are_told(count, told):
    error = caught(crowded(count))  # five coils make ten pairs
    lines = full_lines(error)
    assert len(lines) == len(error.lines) == told
    assert len(error.collisions) == 10
    assert [line for line in lines if line == "... and more"] == ["... and more"] * (told - 10)


def test_rotors_are_told_beside_overlapping_coils():
    machine = read(ONE).changed({"rotors.upper.shaft.through[2]": "-3.5 mm"})
    again = replace(machine.coils[0], name="again")
    said = str(caught(replace(machine, coils=(*machine.coils, again), file="")))
    assert said.count("runs into") == 3
    assert PROBLEM in said.splitlines()
