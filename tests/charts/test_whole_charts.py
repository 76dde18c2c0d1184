"""Every text, line and mark of the charts that the commands make, as approved by eye."""

from __future__ import annotations

import math

import matplotlib
import pytest
from approved import assert_approved
from shown import PICTURES, file_name, line
from svg_words import described

from fieldsim.charts.figure_style import figure_svg, new_figure
from fieldsim.charts.lever_bars import draw_levers
from fieldsim.cli import main

MOVED = 3  # last digits, so 0.3 points: other versions of the fonts place letters a hair elsewhere
# Settings of a user's own, of which no chart may show anything.
THEIRS = {"text.usetex": True, "font.family": ["serif"], "axes.grid": True, "lines.linestyle": ":"}


@pytest.mark.parametrize("name", PICTURES)
def test_charts(name, tmp_path):
    place = tmp_path / "a.svg"
    arguments = [
        word for word in line(name) if word not in ("--samples", "--angles", "16", "12", "8")
    ]
    with matplotlib.rc_context(THEIRS):
        assert main([*arguments, "--plot", str(place)]) == 0
    text = described(place.read_text(encoding="utf-8"))
    assert_approved(f"charts/{file_name(name, 'txt')}", text, MOVED)


def test_bars_of_what_helps():
    figure = new_figure(120, 70)
    names = ["magnets 1 mm closer", "one gauge thinner", "a step that cannot be made"]
    better, worse = [0.251, -0.004, math.nan], [-0.187, -0.062, 0.013]
    draw_levers(figure.add_subplot(), names, better, worse, "light")
    assert_approved("charts/levers.txt", described(figure_svg(figure)), MOVED)
