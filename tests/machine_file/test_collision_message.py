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
