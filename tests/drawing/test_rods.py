"""Shafts: one line in space can be several shafts, which are drawn apart."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from machines import block, coil, machine_of, mounted, rotor

from fieldsim.drawing.rods import shafts_and_arms
from fieldsim.drawing.solids import Material, coil_solids, rotor_solids
from fieldsim.drawing.turning_arrows import turning_arrows
from fieldsim.drawing.views import view_from

BAR = block(20, 10, 5)


def stacked(*heights_and_ratios, along=(0, 0, 1)):
    """Return rotors on one line, each with bars at a height [mm], beside a coil."""
    rotors = [
        rotor(mounted(BAR, height=height), name=f"r{i}", ratio=Fraction(ratio), along=along)
        for i, (height, ratio) in enumerate(heights_and_ratios)
    ]
    return machine_of(*rotors, coil(centre=(0, 60, 0)))


def shafts_mm(machine):
    """Return the lower and upper end of each piece of shaft along z, from below."""
    magnets = rotor_solids(machine, 0.0)
    windings = [side for each in machine.placed_coils for side in coil_solids(each)]
    rods = shafts_and_arms(machine, magnets, windings, 0.0)
    ends = [
        sorted((1e3 * rod.start[2], 1e3 * rod.end[2]))
        for rod in rods
        if rod.material is Material.SHAFT
    ]
    return sorted(ends)


def test_rotors_that_turn_opposite_ways_have_a_shaft_each():
    lower, upper = shafts_mm(stacked((12, 9), (-12, -9)))
    assert lower[1] < 0 < upper[0]
    assert lower[1] == pytest.approx(-upper[0])  # half-way between them
    assert upper[0] > 1.0  # what is left free can be seen
    # Each stands out at its own end, beyond the bar of 5 mm.
    assert upper[1] > 14.5 + 5
    assert lower[0] == pytest.approx(-upper[1])


@pytest.mark.parametrize(
    "rotors",
    [
        ((12, 9), (-12, 9)),  # they turn alike
        ((12, 9), (10, -9)),  # the bars stand within each other's heights
        ((12, 9),),
    ],
)
def test_otherwise_the_line_is_one_shaft(rotors):
    ((low, high),) = shafts_mm(stacked(*rotors))
    heights = [height for height, _ in rotors]
    assert low < min(heights) - 2.5
    assert high > max(heights) + 2.5


def test_of_three_two_share_a_shaft_if_they_turn_alike_and_are_neighbours():
    assert len(shafts_mm(stacked((30, 4), (0, -4), (-30, 4)))) == 3
    assert len(shafts_mm(stacked((30, 4), (0, 4), (-30, -4)))) == 2


def test_a_shaft_through_a_winding_stands_out_of_it():
    turning = rotor(mounted(BAR, height=0, radius=0), ratio=3)
    around = coil(centre=(0, 0, 0), axis=(0, 1, 0), side=(1, 0, 0), opening=(30, 40))
    pieces = shafts_mm(machine_of(turning, around))
    assert pieces[0][0] < -20 - 4 - 2  # half the opening and the build
    assert pieces[-1][1] > 20 + 4 + 2


def test_a_shaft_that_points_the_other_way_turns_the_other_way():
    """Positive ratios about opposed directions are opposed turns of one line."""
    up = rotor(mounted(BAR, height=12), name="up", ratio=9)
    down = rotor(mounted(BAR, height=12), name="down", ratio=9, along=(0, 0, -1))
    assert len(shafts_mm(machine_of(up, down, coil(centre=(0, 60, 0))))) == 2
    down = rotor(mounted(BAR, height=12), name="down", ratio=-9, along=(0, 0, -1))
    assert len(shafts_mm(machine_of(up, down, coil(centre=(0, 60, 0))))) == 1


@pytest.mark.parametrize(
    ("towards", "hindmost"),
    [
        ((0, 0, 1), [False, True]),
        ((0, 0, -1), [True, False]),
        ((1, 0, 0), [False, False]),
    ],
)
def test_which_rotor_stands_behind(towards, hindmost):
    machine = stacked((12, 9), (-12, -9))
    arrows = turning_arrows(machine, rotor_solids(machine, 0.0), [], view_from(towards))
    assert [arrow.hindmost for arrow in arrows] == hindmost


def test_a_rotor_on_another_line_hides_none():
    here = rotor(mounted(BAR, height=12), name="here")
    there = rotor(mounted(BAR, height=-12), name="there", through=(200, 0, 0))
    machine = machine_of(here, there, coil(centre=(0, 60, 0)))
    arrows = turning_arrows(machine, rotor_solids(machine, 0.0), [], view_from((0, 0, 1)))
    assert not any(arrow.hindmost for arrow in arrows)
    assert np.isfinite(arrows[0].path_mm).all()
