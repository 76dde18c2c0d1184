"""Curves and maps of what a machine gives against parameters, read back from the artists."""

from __future__ import annotations

import numpy as np
import pytest
from machines import shipped

from fieldsim.charts.figure_style import new_figure
from fieldsim.charts.vary_curves import draw_vary_map, draw_vary_panel, save_vary_plot
from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.studies.vary import vary

POINT = OperatingPoint(shipped("lamp_ring"), "90 rpm", tolerance=1e-3)


def axes():
    return new_figure(120.0, 90.0).add_subplot()


@pytest.fixture(scope="module")
def grid():
    return vary(
        POINT, {"clearance": ["2 mm", "4 mm"], "crank_speed": ["30 rpm", "60 rpm", "90 rpm"]}
    )


def test_a_curve_has_the_rows_in_shown_units():
    study = vary(POINT, {"clearance": ["4 mm", "2 mm"]})
    volts = np.array([row.coils["pickup"].rms_V for row in study.rows])
    drawn = draw_vary_panel(axes(), study, "open RMS voltage", "V", {"pickup": volts}, "name")
    (line,) = drawn.get_lines()
    assert np.allclose(line.get_xdata(), [2.0, 4.0])
    assert np.allclose(line.get_ydata(), volts[::-1])
    assert drawn.get_xlabel() == "clearance (mm)"
    assert drawn.get_ylabel() == "open RMS voltage (V)"
    assert drawn.get_title(loc="left") + drawn.get_title() == "name"
    assert drawn.get_ylim()[0] == 0
    assert drawn.get_legend() is None


def test_several_curves_have_a_legend_and_a_small_unit():
    study = vary(POINT, {"clearance": ["2 mm", "4 mm"]})
    two = {"left": np.array([1e-3, 2e-3]), "right": np.array([3e-3, 4e-3])}
    drawn = draw_vary_panel(axes(), study, "current", "A", two, label=False)
    assert drawn.get_ylabel() == "current (mA)"
    assert drawn.get_xlabel() == ""
    assert [text.get_text() for text in drawn.get_legend().get_texts()] == ["left", "right"]
    first, second = drawn.get_lines()
    assert np.allclose(first.get_ydata(), [1, 2])
    assert np.allclose(second.get_ydata(), [3, 4])
    assert first.get_color() != second.get_color()
    assert first.get_marker() != second.get_marker()


def test_words_stand_at_their_places():
    study = vary(POINT, {"load.lamps.colour": ["red", "white"]})
    volts = np.array([row.coils["pickup"].rms_V for row in study.rows])
    drawn = draw_vary_panel(axes(), study, "open RMS voltage", "V", {"": volts})
    assert [text.get_text() for text in drawn.get_xticklabels()] == ["red", "white"]
    assert drawn.get_xlabel() == "load.lamps.colour"


def test_a_map_has_every_cell_where_it_belongs(grid):
    drawn = draw_vary_map(axes(), grid)
    (mesh,) = drawn.collections
    lamps = np.array([1e3 * row.brightest_lamp_A for row in grid.rows]).reshape(2, 3)
    assert np.allclose(mesh.get_array().reshape(3, 2), lamps.T)
    assert drawn.get_xlabel() == "clearance (mm)"
    assert drawn.get_ylabel() == "crank_speed (rpm)"
    corners = mesh.get_coordinates()
    assert np.allclose(corners[0, :, 0], [1, 3, 5])
    assert np.allclose(corners[:, 0, 1], [15, 45, 75, 105])
    (bar,) = [each for each in drawn.figure.axes if each is not drawn]
    assert bar.get_ylabel() == "lamp current (mA)"


def test_a_map_of_an_open_coil_shows_its_voltage():
    bare = OperatingPoint(shipped("one_rotor"), "90 rpm", tolerance=1e-3)
    study = vary(bare, {"clearance": ["3 mm", "4 mm"], "magnets.bar.remanence": ["1 T", "1.2 T"]})
    drawn = draw_vary_map(axes(), study)
    (bar,) = [each for each in drawn.figure.axes if each is not drawn]
    assert bar.get_ylabel() == "open RMS voltage of pickup (V)"
    assert drawn.get_ylabel() == "magnets.bar.remanence (T)"


def test_pictures_are_written(grid, tmp_path):
    save_vary_plot(grid, POINT.speed, tmp_path / "map.svg")
    study = vary(POINT, {"clearance": ["2 mm", "4 mm"]})
    save_vary_plot(study, POINT.speed, tmp_path / "curves.svg")
    words = (tmp_path / "curves.svg").read_text(encoding="utf-8")
    assert (tmp_path / "map.svg").stat().st_size > 5000
    for what in ("open RMS voltage (V)", "lamp current (mA)", "average crank torque (mN m)"):
        assert what in words


def test_pictures_name_the_speed_unless_it_is_varied(grid, tmp_path):
    for study, told in ((vary(POINT, {"clearance": ["2 mm", "4 mm"]}), True), (grid, False)):
        save_vary_plot(study, POINT.speed, tmp_path / "plot.svg")
        assert ("crank at 90 rpm" in (tmp_path / "plot.svg").read_text(encoding="utf-8")) is told
