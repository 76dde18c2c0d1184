"""Curves of solved circuits, as they are drawn."""

from __future__ import annotations

import numpy as np
import pytest

from fieldsim.charts.circuit_curves import draw_curves, draw_gauge_power, draw_load_curve
from fieldsim.charts.figure_style import figure_svg, new_figure


@pytest.fixture
def axes():
    return new_figure().add_subplot()


def names(axes):
    return [text.get_text() for text in axes.get_legend().get_texts()]


def test_curves_in_the_unit_that_reads_well(axes):
    time = np.linspace(0, 0.04, 50)
    draw_curves(axes, time, {"coil $a_b": 0.02 * np.sin(200 * time)}, "current", "A", "Title")
    assert axes.get_ylabel() == "current (mA)"
    assert axes.get_xlabel() == "time (ms)"
    assert names(axes) == ["coil $a_b"]
    line = axes.get_lines()[0]
    assert line.get_ydata().max() == pytest.approx(20, rel=1e-3)  # the sine's top between samples
    assert line.get_xdata()[-1] == pytest.approx(40)
    assert "<svg" in figure_svg(axes.figure)


def test_no_curves_and_no_current(axes):
    draw_curves(axes, [0.0, 1.0], {"coil": [0.0, 0.0]}, "current", "A")
    assert axes.get_ylabel() == "current (A)"
    draw_curves(new_figure().add_subplot(), [], {}, "current", "A")


def test_load_curve_marks_its_top_and_the_own_load(axes):
    ohm = np.geomspace(10, 1000, 9)
    power = ohm / (ohm + 100) ** 2
    draw_load_curve(axes, ohm, power, (100.0, 1 / 400), (300.0, 300 / 400**2), 100.0)
    assert axes.get_xscale() == "log"
    assert axes.get_ylabel() == "useful power (mW)"
    assert names(axes) == [
        "a resistor",
        "most power: 100 ohm",
        "the load of the file, like 300 ohm",
        "the coils' own 100 ohm",
    ]
    marks = [line for line in axes.get_lines() if len(line.get_xdata()) == 1]
    assert [(m.get_xdata()[0], m.get_ydata()[0]) for m in marks] == [
        (100.0, pytest.approx(2.5)),
        (300.0, pytest.approx(1.875)),
    ]
    curve = axes.get_lines()[0]
    top = curve.get_ydata().max()
    assert top <= 2.5 * (1 + 1e-9)  # no bulge above the points
    assert top == pytest.approx(2.5, rel=1e-4)  # 300 points along the axis miss the top by 2e-5


def test_load_curve_of_a_load_that_takes_nothing(axes):
    draw_load_curve(axes, np.array([1.0, 10.0]), np.zeros(2), (10.0, 0.0), (None, 0.0), 5.0, "dark")
    assert len(names(axes)) == 3
    assert "<svg" in figure_svg(axes.figure)


def test_gauges_mark_the_best(axes):
    gauges = ["AWG 30", "AWG 32", "AWG 34"]
    power, over = [1.0, 3.0, 2.0], [False, True, False]
    draw_gauge_power(axes, gauges, power, [9, 15, 25], [1, 2, 5], best=2, over=over)
    assert "best: AWG 34" in names(axes)
    assert "too much for load or wire" in names(axes)
    (crosses,) = (line for line in axes.lines if line.get_marker() == "x")
    assert (crosses.get_xdata().tolist(), crosses.get_ydata().tolist()) == ([1], [3.0])
    assert [tick.get_text() for tick in axes.get_xticklabels()] == ["30", "32", "34"]
    assert axes.get_xlabel() == "AWG gauge of the wire that fills the section"


@pytest.mark.parametrize(
    ("gauges", "label", "ticks", "turned"),
    [
        (["SWG 30", "SWG 32"], "SWG gauge of the ", ["30", "32"], 0),
        (["0.25 mm", "0.2 mm"], "copper (mm) of the ", ["0.25", "0.2"], 0),
        (["0.2 mm", "AWG 32"], "", ["0.2 mm", "AWG 32"], 0),
        ([f"{d} mm" for d in range(1111, 1131)], "copper (mm) of the ", None, 90),
    ],
)
def test_gauges_are_named_by_what_they_share(axes, gauges, label, ticks, turned):
    many = [1.0] * len(gauges)
    draw_gauge_power(axes, gauges, many, many, many)
    assert axes.get_xlabel() == f"{label}wire that fills the section"
    shown = axes.get_xticklabels()
    assert ticks is None or [tick.get_text() for tick in shown] == ticks
    assert {tick.get_rotation() for tick in shown} == {turned}


def test_gauges_without_power(axes):
    draw_gauge_power(axes, ["AWG 30"], [0.0], [9], [1.0])
    assert names(axes) == ["useful power", "turns", "resistance"]
    assert "<svg" in figure_svg(axes.figure)
