"""Room about axes, seen on the drawn figure: no number, label or legend leaves the page."""

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg

from fieldsim.charts.figure_room import legend_above, make_room, only_note, plain_numbers
from fieldsim.charts.figure_style import figure_style, new_figure, style_axes


@pytest.fixture
def axes():
    figure = new_figure(118.0, 78.0)
    figure.set_layout_engine("none")
    return style_axes(figure.add_axes((0.1, 0.155, 0.87, 0.745)), "time (s)", "EMF (V)")


def drawn(axes):
    """Return the page and the boxes of all that stands about the axes."""
    with figure_style():
        FigureCanvasAgg(axes.figure).draw()
    texts = [axes.yaxis.label, axes.xaxis.label, *axes.get_yticklabels()]
    boxes = [t.get_window_extent() for t in texts if t.get_text()]
    if axes.get_legend() is not None:
        boxes.append(axes.get_legend().get_window_extent())
    return axes.figure.bbox, boxes


@pytest.mark.parametrize("largest", [1.0, 9.99, 250.0, 123456.0])
def test_wide_numbers_are_not_cut(axes, largest):
    axes.plot([0, 1], [-largest, largest])
    plain_numbers(axes)
    make_room(axes)
    page, boxes = drawn(axes)
    assert min(b.x0 for b in boxes) > page.x0
    assert axes.yaxis.get_offset_text().get_text() == ""


def test_narrow_numbers_move_nothing(axes):
    axes.plot([0, 1], [0, 9])
    before = axes.get_position().bounds
    make_room(axes)
    assert axes.get_position().bounds == pytest.approx(before, abs=1e-12)


@pytest.mark.parametrize("letters", [2, 12, 40])
@pytest.mark.parametrize("count", [2, 6])
def test_a_legend_fits_and_the_axes_stay_as_tall(axes, count, letters):
    curves = axes.plot([0, 1], np.arange(2 * count).reshape(2, count))
    tall = axes.get_window_extent().height
    lines = legend_above(axes, curves, [f"{i}" * letters for i in range(count)], left_out=2)
    make_room(axes)
    page, boxes = drawn(axes)
    assert max(b.y1 for b in boxes) < page.y1
    assert max(b.x1 for b in boxes) < page.x1
    assert axes.get_window_extent().height == pytest.approx(tall)
    assert axes.get_legend().get_title().get_text() == "2 more are in the table"
    assert lines <= count + 1
    if letters == 2:
        assert lines <= 3


@pytest.mark.parametrize(
    ("names", "lines"),
    [
        (["short", "also short", "x"], 1),
        (["at 120 rpm", "turned slowly", "average"], 1),
        (["a rather long name of a curve, one", "a rather long name of a curve, two"], 2),
        (["x", "a name that takes well over half of it all, and more", "y"], 2),
    ],
)
def test_names_of_unequal_length_share_lines(axes, names, lines):
    """Columns are as wide as what stands in them, not all as wide as the longest name."""
    curves = axes.plot([0, 1], np.arange(2 * len(names)).reshape(2, -1))
    assert legend_above(axes, curves, names) == lines
    make_room(axes)
    page, boxes = drawn(axes)
    assert max(b.x1 for b in boxes) < page.x1
    assert [t.get_text() for t in axes.get_legend().get_texts()] == names


def test_a_legend_of_all_says_nothing_of_a_table(axes):
    legend_above(axes, axes.plot([0, 1]), ["one"])
    assert axes.get_legend().get_title().get_text() == ""


def test_a_note_instead_of_numbers(axes):
    only_note(axes, "no voltage")
    assert [t.get_text() for t in axes.texts] == ["no voltage"]
    assert list(axes.get_yticks()) == []
