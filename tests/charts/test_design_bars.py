"""Lying bars of designs: the first at the top, every number at its bar, names in full."""

from __future__ import annotations

import numpy as np
import pytest

from fieldsim.charts.design_bars import draw_designs
from fieldsim.charts.figure_style import figure_svg, new_figure

NAMES = ["1. One rotor beside a rectangular coil", "2. $x_{1$"]
VOLTAGES = {"peak": [4.2, 11.0], "RMS": [2.3, 6.1], "rectified mean": [1.8, 4.8]}


@pytest.fixture
def axes():
    figure = new_figure(88.0, 60.0)
    figure.set_layout_engine("none")
    return figure.add_axes((0.02, 0.2, 0.96, 0.65))


def test_bars_are_the_voltages(axes):
    draw_designs(axes, NAMES, VOLTAGES)
    for bars, values in zip(axes.containers, VOLTAGES.values(), strict=True):
        assert np.allclose([bar.get_width() for bar in bars], values)
    tops = [bar.get_y() for bar in axes.containers[0]]
    assert tops[0] < tops[1]
    low, high = axes.get_ylim()
    assert low > high  # so the first stands at the top
    assert axes.get_xlabel() == "EMF (V)"
    assert [t.get_text() for t in axes.get_legend().get_texts()] == list(VOLTAGES)


def test_every_bar_has_its_number_and_every_design_its_name(axes):
    draw_designs(axes, NAMES, VOLTAGES)
    words = [t.get_text() for t in axes.texts]
    assert {"4.2", "11", "2.3", "6.1", "1.8", "4.8", *NAMES} == set(words)
    assert all(t.get_fontsize() >= 8 for t in axes.texts)
    figure_svg(axes.figure)  # a name is no formula


def test_small_voltages_have_a_small_unit(axes):
    draw_designs(axes, ["a"], {"RMS": [0.0123]})
    assert axes.get_xlabel() == "EMF (mV)"
    assert [bar.get_width() for bar in axes.containers[0]] == pytest.approx([12.3])


def test_rounding_is_no_voltage(axes):
    draw_designs(axes, ["a", "b"], {"RMS": [1e-15, 0.0]})
    assert [t.get_text() for t in axes.texts] == ["no voltage"]
    assert not axes.containers


def test_designs_left_out_are_counted(axes):
    draw_designs(axes, NAMES, VOLTAGES, left_out=3)
    assert axes.get_legend().get_title().get_text() == "3 more are in the table"
