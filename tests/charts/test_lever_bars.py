"""The ranked chart: rows from the top, bars of the right length, names as they are."""

import math

import numpy as np
import pytest

from fieldsim.charts.figure_style import figure_svg, new_figure
from fieldsim.charts.lever_bars import draw_levers


@pytest.fixture
def axes():
    return new_figure().add_subplot()


def bars(axes, which):
    return [bar.get_width() for bar in axes.containers[which]]


def test_bars_are_the_gains(axes):
    draw_levers(axes, ["gap", "turns"], [0.2, 0.05], [-0.15, -0.04], "voltage")
    assert np.allclose(bars(axes, 0), [20.0, 5.0])
    assert np.allclose(bars(axes, 1), [-15.0, -4.0])
    assert axes.get_xlabel() == "change of the voltage (%)"
    low, high = axes.get_ylim()
    assert low > high  # the first row is at the top
    left, right = axes.get_xlim()
    assert left == -right
    assert right >= 20.0


def test_missing_steps_have_no_bar_and_no_number(axes):
    draw_levers(axes, ["gap"], [0.2], [math.nan])
    assert bars(axes, 1) == [0.0]
    assert sorted(t.get_text() for t in axes.texts) == ["+20", "gap"]


@pytest.mark.parametrize(
    ("gain", "words"),
    [(0.0126, "+1"), (0.0094, "+0.9"), (-0.0126, "−1"), (0.0, "0"), (1.5, "+150")],
)
def test_a_tenth_of_a_percent_is_told_below_one_percent_only(axes, gain, words):
    draw_levers(axes, ["gap"], [gain], [math.nan])
    assert sorted(t.get_text() for t in axes.texts) == sorted([words, "gap"])


def test_both_on_one_side(axes):
    draw_levers(axes, ["radius"], [-0.001], [-0.02])
    assert "this −0.1, opposite −2" in [t.get_text() for t in axes.texts]
    first, second = (bars[0] for bars in axes.containers)
    assert first.get_y() + first.get_height() <= second.get_y() + 1e-9  # neither hides the other


def test_names_are_shown_letter_by_letter(axes):
    draw_levers(axes, ["$x^2$ <b>"], [0.1], [0.0])
    (name,) = [t for t in axes.texts if t.get_text() == "$x^2$ <b>"]
    assert not name.get_parse_math()
    assert figure_svg(axes.figure)


def test_nothing_to_show(axes):
    draw_levers(axes, [], [], [])
    assert [t.get_text() for t in axes.texts] == ["no step helps"]
    assert axes.get_legend() is None
    assert figure_svg(axes.figure)


def test_lengths_must_agree(axes):
    with pytest.raises(ValueError, match="1 values for 2 names"):
        draw_levers(axes, ["a", "b"], [0.1], [0.1, 0.2])
