"""Curves and bars: units, names, and wrong lengths."""

import itertools

import numpy as np
import pytest

from fieldsim.charts.figure_style import figure_svg, new_figure
from fieldsim.charts.waveform_curves import (
    draw_comparison,
    draw_emf,
    draw_gap_study,
    draw_linkage,
)


@pytest.fixture
def axes():
    return new_figure().add_subplot()


def names_in(axes):
    return [t.get_text() for t in axes.get_legend().get_texts()]


def test_linkage_in_degrees_and_milliwebers(axes):
    angle = np.linspace(0, 2 * np.pi, 100, endpoint=False)
    curves = {"pickup, upper": 0.03 * np.cos(angle), "pickup, lower": 0.02 * np.sin(angle)}
    assert draw_linkage(axes, angle, curves) is axes
    assert axes.get_xlabel() == "rotor angle (°)"
    assert axes.get_ylabel() == "flux linkage (mWb)"
    line = axes.get_lines()[0]
    assert np.allclose(line.get_xdata(), np.degrees(angle))
    assert np.allclose(line.get_ydata(), 30 * np.cos(angle))
    assert names_in(axes) == list(curves)
    assert axes.get_xlim() == (0, 360)


def test_curves_differ_in_more_than_colour(axes):
    x = np.linspace(0, 1, 50)
    draw_emf(axes, x, {str(i): x * i for i in range(6)})
    lines = axes.get_lines()[:6]
    looks = {(line.get_linestyle(), str(line._dash_pattern), line.get_marker()) for line in lines}
    assert len(looks) == 6


def test_emf_in_milliseconds_and_volts(axes):
    time = np.linspace(0, 0.05, 200)
    draw_emf(axes, time, {"pickup": 12 * np.sin(time * 100)}, "Title")
    assert (axes.get_xlabel(), axes.get_ylabel()) == ("time (ms)", "EMF (V)")
    assert axes.get_title(loc="left") == "Title"
    assert axes.get_lines()[0].get_xdata()[-1] == pytest.approx(50)
    assert axes.get_legend() is None  # one curve needs no name


def test_slow_machine_counts_seconds(axes):
    draw_emf(axes, [0, 3], {"pickup": [0.002, -0.001]})
    assert (axes.get_xlabel(), axes.get_ylabel()) == ("time (s)", "EMF (mV)")


def test_comparison_bars(axes):
    names = ["One rotor: pickup", "Two rotors: pickup"]
    draw_comparison(axes, names, [12, 24], [7, 14], [5, 11])
    assert axes.get_ylabel() == "EMF (V)"
    heights = [bar.get_height() for bars in axes.containers for bar in bars]
    assert heights == [12, 24, 7, 14, 5, 11]
    assert names_in(axes) == ["peak", "RMS", "rectified mean"]
    assert [t.get_text().replace("\n", " ") for t in axes.get_xticklabels()] == names
    assert len({bars[0].get_hatch() for bars in axes.containers}) == 3
    assert {t.get_text() for t in axes.texts} == {"12", "24", "7", "14", "5", "11"}


@pytest.mark.parametrize("count", [1, 2, 3, 5, 12])
def test_names_of_designs_do_not_overlap(count):
    figure = new_figure(170, 110)
    axes = figure.add_subplot()
    names = [f"Design number {i} with a rather long title: pickup" for i in range(count)]
    values = np.linspace(1, 20, count)
    draw_comparison(axes, names, values, values / 1.4, values / 1.6)
    figure.draw_without_rendering()
    boxes = [t.get_window_extent() for t in axes.get_xticklabels()]
    if count <= 5:
        for a, b in itertools.pairwise(boxes):
            assert a.x1 <= b.x0
    else:  # slanted: their right ends keep a line's distance
        gaps = np.diff([b.x1 for b in boxes])
        assert np.all(gaps > 10)


def test_gap_study_with_fit(axes):
    gap = np.array([4, 1, 2, 8]) * 1e-3
    volts = 20 * np.exp(-gap / 5e-3)
    draw_gap_study(axes, gap, {"pickup": volts}, {"pickup": (20.0, 5e-3)})
    assert (axes.get_xlabel(), axes.get_ylabel()) == ("clearance (mm)", "peak EMF (V)")
    points, curve = axes.get_lines()
    assert np.allclose(points.get_xdata(), [1, 2, 4, 8])  # in order of the gap
    x, y = curve.get_data()
    assert np.allclose(np.interp(points.get_xdata(), x, y), points.get_ydata(), rtol=1e-3)
    assert names_in(axes) == ["pickup: falls to 37 % every 5 mm"]


def test_gap_study_without_fit_joins_the_points(axes):
    draw_gap_study(axes, [1e-3, 2e-3], {"_a": [2.0, 1.0], "$b": [1.0, 0.5]}, what="RMS EMF")
    assert axes.get_ylabel() == "RMS EMF (V)"
    assert names_in(axes) == ["_a", "$b"]
    assert all(line.get_linestyle() != "None" for line in axes.get_lines())


@pytest.mark.parametrize(
    "draw",
    [
        lambda a: draw_linkage(a, [0, 1, 2], {"short": [1, 2]}),
        lambda a: draw_emf(a, [0, 1, 2], {"short": [1, 2]}),
        lambda a: draw_gap_study(a, [0.001], {"short": [1, 2]}),
        lambda a: draw_comparison(a, ["short"], [1, 2], [1], [1]),
    ],
)
def test_wrong_lengths_are_named(axes, draw):
    with pytest.raises(ValueError, match=r"(short|peak): 2 values"):
        draw(axes)


@pytest.mark.parametrize(
    "draw",
    [
        lambda a: draw_linkage(a, [], {}),
        lambda a: draw_linkage(a, [0.0], {"one": [0.0]}),
        lambda a: draw_emf(a, [0.0, 1.0], {"none": [0.0, 0.0], "nothing": [np.nan, np.nan]}),
        lambda a: draw_gap_study(a, [0.001], {"one": [1.0]}),
        lambda a: draw_comparison(a, ["zero"], [0], [0], [0]),
        lambda a: draw_comparison(a, [], [], [], []),
    ],
)
def test_empty_and_flat_results_are_drawn(axes, draw):
    figure_svg(draw(axes).figure)


def test_same_curves_give_the_same_bytes():
    def svg():
        axes = new_figure().add_subplot()
        x = np.linspace(0, 6, 100)
        return figure_svg(draw_linkage(axes, x, {"a": np.sin(x), "b": np.cos(x)}).figure)

    assert svg() == svg()


@pytest.mark.parametrize(
    ("draw", "words"),
    [
        (lambda a: draw_linkage(a, [0.0, 1.0], {"a": [1e-17, -1e-17]}), "no flux linkage"),
        (lambda a: draw_emf(a, [0.0, 1.0], {"a": [1e-14, -1e-14], "b": [0, 0]}), "no voltage"),
        (lambda a: draw_comparison(a, ["one"], [1e-14], [1e-14], [0.0]), "no voltage"),
        (lambda a: draw_gap_study(a, [1e-3, 2e-3], {"a": [1e-14, 1e-15]}), "no voltage"),
    ],
)  # fmt: skip
def test_rounding_is_not_drawn(axes, draw, words):
    draw(axes)
    assert [t.get_text() for t in axes.texts] == [words]
    assert not axes.get_lines()
    assert not axes.patches
    assert axes.get_legend() is None
    assert "(" not in axes.get_ylabel()


@pytest.mark.parametrize("end", [22.5, 45.0, 240.0, 359.9, 360.0, 719.8])
def test_angles_end_where_the_curve_does(axes, end):
    angle = np.radians(np.linspace(0.0, end, 50))
    draw_linkage(axes, angle, {"a": np.sin(angle)})
    shown = axes.get_xlim()[1]
    assert shown == pytest.approx(360.0 if end == 359.9 else end)
    assert max(axes.get_xticks()) <= shown + 1e-9
    assert len(axes.get_xticks()) >= 4
