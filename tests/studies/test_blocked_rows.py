"""Rows of a study that cannot be: each says why, all at once."""

from __future__ import annotations

from dataclasses import replace

import pytest
from machines import shipped

from fieldsim.errors import MOST_TOLD, ImpossibleError
from fieldsim.machine.iron import IronPiece, Rod
from fieldsim.machine.shaft import Shaft
from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.studies.blocked_rows import all_or_why
from fieldsim.studies.gap import gap_study
from fieldsim.studies.vary import vary


def refused(number):
    if number > 1:
        raise ImpossibleError(f"{number} cannot be", "and more of it")
    return -number


def told(call, *given) -> tuple[str, ...]:
    with pytest.raises(ImpossibleError) as caught:
        call(*given)
    return caught.value.lines


def test_all_that_can_be_are_made_in_order():
    assert all_or_why(refused, [1, 0, -3]) == [-1, 0, 3]


def test_every_row_that_cannot_be_is_told_once():
    assert told(all_or_why, refused, [3, 1, 2, 3]) == ("3 cannot be", "2 cannot be")


@pytest.mark.parametrize(("count", "more"), [(MOST_TOLD, ()), (MOST_TOLD + 3, ("... and 3 more",))])
def test_of_many_the_first_are_told(count, more):
    lines = told(all_or_why, refused, range(2, 2 + count))
    assert lines == (*(f"{i} cannot be" for i in range(2, 2 + MOST_TOLD)), *more)


def test_rows_of_a_study_name_their_own_pairs():
    """Lowered a little a magnet runs into the coil, lowered further into the other rotor."""
    point = OperatingPoint(shipped("two_facing_rotors"), "60 rpm", tolerance=1e-2)
    path = "rotors.upper.magnets[0].height"
    heights = ["5 mm", "11.5 mm", "-11.5 mm"]
    first, second = told(vary, point, {path: heights})
    assert first.startswith(f'with {path} = 5 mm: rotor "upper" runs into coil "pickup": they')
    assert second.startswith(f'with {path} = -11.5 mm: rotor "upper" runs into rotor "lower": they')


def test_gaps_that_cannot_be_are_told_together():
    """A fixed piece of iron and another rotor stand where the first one would have to go."""
    one = shipped("one_rotor")
    wall = replace(
        one.rotors[0],
        name="wall",
        shaft=Shaft((0, 0, "20 mm"), (0, 0, 1)),
        gear_ratio=-9,
        magnets=(replace(one.rotors[0].magnets[0], height=0.0),),
    )
    post = IronPiece("post", Rod("4 mm", "4 mm"), ("22 mm", 0, "40 mm"), (1, 0, 0))
    blocked = replace(one, rotors=(*one.rotors, wall), iron=(post,))
    point = OperatingPoint(blocked, "60 rpm", tolerance=1e-2)
    first, second = told(gap_study, point, [10e-3, 2e-3, 31e-3], ["upper"])
    assert first.startswith('at a gap of 10 mm, rotor "upper" runs into rotor "wall": they')
    assert second.startswith('at a gap of 31 mm, rotor "upper" runs into iron "post": they')
