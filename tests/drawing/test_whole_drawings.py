"""Every text, line and area of the drawings, as approved by eye."""

from __future__ import annotations

import pytest
from approved import assert_approved
from machines import GEOMETRIES, shipped
from svg_words import described

from fieldsim.charts.figure_style import figure_svg, new_figure
from fieldsim.cli import main
from fieldsim.drawing.field_picture import draw_field
from fieldsim.drawing.machine_drawing import draw_machine

MOVED = 3  # last digits, so 0.3 points: other versions of the fonts place letters a hair elsewhere


@pytest.mark.parametrize(
    "name",
    ["one_rotor", "two_facing_rotors", "bar_inside_coil", "three_rotors", "lamp_ring", "two_coils"],
)
def test_drawings(name):
    svg = figure_svg(draw_machine(shipped(name)))
    assert_approved(f"drawing/{name}.txt", described(svg), MOVED)


@pytest.mark.parametrize("name", ["two_facing_rotors", "bar_inside_coil"])
def test_field_pictures(name):
    figure = new_figure()
    draw_field(figure.add_subplot(), shipped(name))
    svg = figure_svg(figure)
    assert_approved(f"drawing/{name}_field.txt", described(svg), MOVED)


def test_the_command_draws_the_same_at_an_angle(tmp_path):
    place = tmp_path / "a.svg"
    assert main(["draw", str(GEOMETRIES / "geared_pair.yaml"), "--out", str(place),
                 "--crank-angle", "5 deg"]) == 0  # fmt: skip
    assert_approved("drawing/geared_pair_5_deg.txt", described(place.read_text("utf-8")), MOVED)
