"""The field picture: values against closed forms, axes, colours and outlines."""

import numpy as np
import pytest
from machines import Standing, ball, coil, mounted, rotor, shipped

from fieldsim.charts.figure_style import figure_svg, new_figure
from fieldsim.drawing.field_picture import (
    crank_at_coil_rad,
    draw_field,
    field_on_plane,
)
from fieldsim.drawing.views import view_from
from fieldsim.machine.magnets import North

SHIPPED = ["one_rotor", "two_facing_rotors", "bar_inside_coil", "three_rotors"]


FACING = coil(centre=(50, 0, 0), axis=(1, 0, 0), side=(0, 1, 0), opening=(10, 10), build=2)


def ball_machine(gear_ratio=1, *, coils=(FACING,)):
    turning = rotor(mounted(ball(10), radius=20, height=0, north=North.OUT), ratio=gear_ratio)
    return Standing("", (turning,), coils)  # no file may have a ratio of zero, or no coil


def test_ball_is_a_dipole_outside_and_uniform_inside():
    """Exact: B = 2/3 Br inside; on the axis outside 2/3 Br (R/r)^3."""
    plane = view_from((0, 0, 1))
    x = np.array([0.02, 0.021, 0.03, 0.045])
    field = field_on_plane(ball_machine(), plane, x, np.array([0.0]))[0]
    expected = 0.8 * np.array([1, 1, 0.125, 0.008])
    assert np.allclose(field[:, 0], expected, rtol=1e-9)  # rounding only: both are closed forms
    assert np.allclose(field[:, 1:], 0, atol=1e-15)


def test_crank_turns_the_field_with_the_gear():
    plane = view_from((0, 0, 1))
    at = field_on_plane(ball_machine(-3), plane, np.array([0.0]), np.array([-0.045]), np.pi / 6)
    # Minus three times 30 degrees: the ball stands at -y and its north points to -y.
    assert np.allclose(at[0, 0], [0, -0.8 * 0.008, 0], atol=1e-12)


def field_figure(geometry, crank_angle_rad=0.0):
    figure = new_figure(160.0, 120.0)
    draw_field(figure.add_subplot(), geometry, crank_angle_rad=crank_angle_rad)
    return figure


def test_coil_carries_no_current():
    plane = view_from((0, 0, 1))
    grid = np.linspace(-0.06, 0.06, 7)
    one, two = (
        field_on_plane(g, plane, grid, grid) for g in (ball_machine(), ball_machine(coils=()))
    )
    assert np.array_equal(one, two)


@pytest.mark.parametrize("name", SHIPPED)
def test_picture_of_each_shipped_machine(name):
    figure = field_figure(shipped(name))
    axes = figure.axes[0]
    assert axes.get_xlabel().endswith("(mm)")
    assert axes.get_ylabel().endswith("(mm)")
    strip = axes.child_axes[0]
    assert strip.get_ylabel() == "flux density (mT)"
    picture = axes.get_images()[0]
    assert picture.norm.vmax / picture.norm.vmin == pytest.approx(10**2.5)
    hatched = [p for p in axes.patches if p.get_hatch()]
    assert len(hatched) >= 2  # both sides of the winding
    assert axes.get_aspect() == 1.0
    if name != "one_rotor":  # there the arm stands across the plane at the start
        assert {"N", "S"} <= {t.get_text() for t in axes.texts}


def test_no_lines_are_drawn_of_rounding():
    """By symmetry the field of the arm that stands across the plane goes straight through it."""
    geometry = shipped("one_rotor")
    lines = [
        sum(len(c.get_segments()) for c in field_figure(geometry, angle).axes[0].collections)
        for angle in (0.0, np.pi / 18)
    ]
    assert lines[0] == 0
    assert lines[1] > 20


def test_given_plane_and_axes_are_used():
    axes = new_figure().add_subplot()
    geometry = shipped("one_rotor")
    assert draw_field(axes, geometry, view_from((0, 0, 1)), 0.1) is axes
    assert (axes.get_xlabel(), axes.get_ylabel()) == ("x (mm)", "y (mm)")
    assert "5.73°" in axes.get_title(loc="left")


@pytest.mark.parametrize(
    ("name", "degrees"),
    [
        ("one_rotor", 10.0),  # 9 turns a crank turn, magnets across the coil's plane at the start
        ("two_facing_rotors", 0.0),
        ("bar_inside_coil", 0.0),
    ],
)
def test_crank_brings_a_magnet_to_the_coil(name, degrees):
    geometry = shipped(name)
    assert np.degrees(crank_at_coil_rad(geometry)) == pytest.approx(degrees, abs=1e-9)


@pytest.mark.parametrize("ratio", [1, -1, 3, -0.25, 0])
def test_no_other_turn_brings_it_nearer(ratio):
    geometry = ball_machine(ratio, coils=(coil(centre=(30, 40, 0), opening=(10, 10), build=2),))

    def distance(turn):
        angle = ratio * turn
        return np.hypot(0.02 * np.cos(angle) - 0.03, 0.02 * np.sin(angle) - 0.04)

    found = crank_at_coil_rad(geometry)
    assert 0 <= found < 2 * np.pi / max(abs(ratio), 0.2)
    assert distance(found) <= distance(np.linspace(0, 8 * np.pi, 2000)).min() + 1e-9


def test_machine_without_magnets_draws_no_field():
    bare = Standing("", (rotor(),), (FACING,))
    axes = field_figure(bare).axes[0]
    assert not axes.get_images()
    assert crank_at_coil_rad(bare) == 0.0


def test_same_picture_gives_the_same_bytes():
    geometry = ball_machine()
    assert figure_svg(field_figure(geometry)) == figure_svg(field_figure(geometry))
