"""Arcs that show angle 0 and the way in which rotor angles grow."""

from __future__ import annotations

import math

import numpy as np
import pytest
from machines import coil, machine_of, mounted, rotor, shipped

from fieldsim.charts.figure_style import new_figure
from fieldsim.drawing.angle_arcs import angle_arcs_mm, draw_angle_arcs
from fieldsim.drawing.views import view_from

ABOVE = view_from((0, 0, 1))


def turned_deg(arc, middle=(0.0, 0.0)):
    """Where an arc begins, and by how much it turns, seen by the reader."""
    x, y = (arc - np.array(middle)).T
    angle = np.degrees(np.unwrap(np.arctan2(y, x)))
    return angle[0], angle[-1] - angle[0]


def test_an_arc_grows_right_handed_about_the_shaft_whatever_the_ratio():
    for ratio in (9, -9):
        (arc,) = angle_arcs_mm(machine_of(rotor(mounted(), ratio=ratio), coil()), ABOVE, 5.0)
        begins, turns = turned_deg(arc)
        assert begins == pytest.approx(0.0)  # `zero` is along x
        assert turns == pytest.approx(50.0)
        assert np.allclose(np.hypot(*arc.T), 5.0)


def test_seen_from_below_it_turns_the_other_way():
    (arc,) = angle_arcs_mm(machine_of(rotor(mounted()), coil()), view_from((0, 0, -1)), 5.0)
    assert turned_deg(arc)[1] == pytest.approx(-50.0)


def test_rotors_of_one_line_share_an_arc_unless_they_count_otherwise():
    facing = shipped("two_facing_rotors")
    assert len(angle_arcs_mm(facing, ABOVE, 5.0)) == 1
    flipped = rotor(mounted(), along=(0, 0, -1), name="under")
    arcs = angle_arcs_mm(machine_of(rotor(mounted()), flipped, coil()), ABOVE, 5.0)
    assert [round(float(np.hypot(*arc[0])), 9) for arc in arcs] == [5.0, 7.5]
    assert [math.copysign(1, turned_deg(arc)[1]) for arc in arcs] == [1.0, -1.0]


def test_a_shaft_seen_from_the_side_has_none():
    assert angle_arcs_mm(shipped("one_rotor"), view_from((0, -1, 0)), 5.0) == []


def test_each_stands_about_its_own_shaft():
    aside = rotor(mounted(), through=(60.0, 10.0, 0.0), name="aside")
    first, second = angle_arcs_mm(machine_of(rotor(mounted()), aside, coil()), ABOVE, 5.0)
    assert turned_deg(first)[1] == pytest.approx(turned_deg(second, (60.0, 10.0))[1])


def test_an_arc_has_a_head_at_its_end():
    axes = new_figure().add_subplot()
    draw_angle_arcs(axes, shipped("one_rotor"), ABOVE, 5.0)
    arc, *barbs = (np.array(line.get_xydata()) for line in axes.get_lines())
    assert len(barbs) == 2
    for barb in barbs:
        assert np.allclose(barb[0], arc[-1])
        back = (barb[1] - barb[0]) @ (arc[-6] - arc[-1])
        assert back > 0.8 * np.hypot(*(barb[1] - barb[0])) * np.hypot(*(arc[-6] - arc[-1]))
