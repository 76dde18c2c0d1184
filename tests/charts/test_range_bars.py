"""Bars of machines built like one: where they begin and end, and what stands beside them."""

from __future__ import annotations

import numpy as np
import pytest

from fieldsim.charts.figure_style import figure_svg, new_figure
from fieldsim.charts.range_bars import RangeBar, draw_ranges, explain_ranges
from fieldsim.studies.ranges import Range

MACHINES = np.array([0.5e-3, 0.9e-3, 1.1e-3, 1.6e-3])
LAMP = RangeBar(
    "red LED", 1e-3, MACHINES, Range(0.7e-3, 1.2e-3, "crank_speed", 0.6), "mostly so", 0.5e-3
)
OTHER = RangeBar("$x_{1$", 0.4e-3, MACHINES / 2, Range(0.3e-3, 0.6e-3, "", 0.0))


@pytest.fixture
def axes():
    return new_figure().add_subplot()


def test_bars_reach_from_end_to_end_with_their_numbers(axes):
    draw_ranges(axes, [LAMP, OTHER], "current", "A")
    bars = [bar for container in axes.containers for bar in container]
    assert np.allclose([bar.get_x() for bar in bars], [0.7, 0.3])
    assert np.allclose([bar.get_width() for bar in bars], [0.5, 0.3])
    assert axes.get_xlabel() == "current (mA)"
    low, high = axes.get_ylim()
    assert bars[0].get_y() < bars[1].get_y()
    assert low > high  # so the first stands at the top
    ends = {t.get_text(): t.get_position()[0] for t in axes.texts}
    for text, place in {"0.700": 0.7, "1.20": 1.2, "0.300": 0.3, "0.600": 0.6}.items():
        assert ends[text] == pytest.approx(place)


def test_every_machine_is_a_mark_and_so_is_the_value(axes):
    draw_ranges(axes, [LAMP], "current", "A")
    each, needed, value = axes.get_lines()
    assert np.allclose(each.get_xdata(), MACHINES * 1e3)
    assert np.allclose(needed.get_xdata(), 0.5)
    assert np.allclose(value.get_xdata(), 1.0)
    low, high = axes.get_xlim()
    assert low == 0.0
    assert high > 1.6


def test_rows_say_what_they_are_and_come_from(axes):
    draw_ranges(axes, [LAMP, OTHER], "current", "A")
    words = [t.get_text() for t in axes.texts]
    assert {"red LED: 1.00 mA, mostly so", "$x_{1$: 0.400 mA"} <= set(words)
    figure_svg(axes.figure)  # a name is no formula


def test_of_a_long_name_the_end_is_left_out_and_never_the_value(axes):
    long = RangeBar("coil " * 40, 1e-3, MACHINES, LAMP.found, "mostly from the crank speed")
    draw_ranges(axes, [long], "current", "A")
    (words,) = (t.get_text() for t in axes.texts if "coil" in t.get_text())
    assert len(words) <= 100
    assert words.endswith("…: 1.00 mA, mostly from the crank speed")


def test_values_below_zero_have_room(axes):
    draw_ranges(axes, [RangeBar("a", -1.0, -MACHINES * 1e3, Range(-1.5, -0.6, "", 0.0))], "x", "V")
    low, high = axes.get_xlim()
    assert low < -1.6
    assert high == 0.0


def test_nothing_is_a_range_too(axes):
    nothing = np.zeros(3)
    draw_ranges(axes, [RangeBar("a", 0.0, nothing, Range(0.0, 0.0, "", 0.0))], "current", "A")
    assert "a: 0 A" in [t.get_text() for t in axes.texts]
    figure_svg(axes.figure)


@pytest.mark.parametrize(
    ("bars", "more"), [([OTHER], []), ([OTHER, LAMP], ["seen from here"])], ids=["coil", "lamp"]
)
def test_the_legend_has_what_is_drawn(axes, bars, more):
    draw_ranges(axes, bars, "current", "A", "Mill")
    explain_ranges(axes, bars)
    names = [t.get_text() for t in axes.get_legend().get_texts()]
    assert names == ["nine of ten machines", "each machine", "as described", *more]
