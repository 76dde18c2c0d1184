"""Pictures of ranges: the figures that screens tell, every axis with its unit."""

from __future__ import annotations

from dataclasses import replace

import pytest
from svg_words import texts

import fieldsim as fs
from fieldsim.charts.range_plots import (
    save_comparison_range_plot,
    save_effort_range_plot,
    save_emf_range_plot,
    save_light_range_plot,
)
from fieldsim.studies.ranges import effort_range, ranges
from fieldsim.words.numbers import number

ROUGH = {"tolerance": 1e-4, "circuit_tolerance": 1e-3}


@pytest.fixture(scope="module")
def geared():
    point = fs.OperatingPoint(fs.read("geometries/geared_pair.yaml"), "60 rpm", **ROUGH)
    return ranges(point, machines=8)


@pytest.fixture
def words(tmp_path):
    """Return a function that gives the words of the picture that another one writes."""

    def of(save, *given):
        save(*given, tmp_path / "a.svg")
        return [text.words for text in texts((tmp_path / "a.svg").read_text(encoding="utf-8"))]

    return of


def labels(shown: list[str]) -> list[str]:
    """Return the labels of axes: words that end with a unit."""
    return [text for text in shown if text.endswith(")") and ":" not in text]


def ends(found, size: float) -> set[str]:
    return {number(found.low / size), number(found.high / size)}


def test_emf_has_three_figures_a_coil(geared, words):
    shown = words(save_emf_range_plot, geared)
    for coil in geared.points.coils:
        figures = geared.point.figures[coil]
        assert f"{coil}, peak: {number(figures.peak_V)} V, mostly from" in " ".join(shown)
        for name in ("peak_V", "rms_V", "rectified_mean_V"):
            assert ends(geared.coil_ranges(coil)[name], 1.0) <= set(shown)
    assert labels(shown) == ["EMF (V)"]
    assert "crank at 60 rpm; machines built like this" in shown


def test_light_has_lamps_power_and_emf(geared, words):
    shown = words(save_light_range_plot, geared)
    lamp = geared.point.circuit_result.lamps[0]
    current = number(lamp.average_current_A * 1e3)
    assert any(text.startswith(f"{lamp.label}: {current} mA, mostly from ") for text in shown)
    assert ends(geared.lamp_ranges(lamp.label)["average_current_A"], 1e-3) <= set(shown)
    assert ends(geared.power_ranges()["useful_power_W"], 1e-3) <= set(shown)
    assert labels(shown) == [
        "average current of each lamp (mA)",
        "power (mW)",
        "EMF with nothing connected (V)",
    ]
    assert "seen from here" in shown
    assert any("light in 100 of 100 machines built like this" in text for text in shown)


def test_without_a_load_light_has_the_emf_alone(words):
    point = fs.OperatingPoint(fs.read("geometries/one_rotor.yaml"), "60 rpm", **ROUGH)
    shown = words(save_light_range_plot, ranges(point, machines=8))
    assert labels(shown) == ["EMF with nothing connected (V)"]


def test_effort_has_the_torque_and_the_force_that_it_takes(geared, words):
    effort = geared.point.effort
    shown = words(save_effort_range_plot, geared, effort)
    found = effort_range(geared, effort)
    arm = geared.point.machine.crank.arm
    assert ends(found, 1e-3) <= set(shown)
    assert ends(replace(found, low=found.low / arm, high=found.high / arm), 1.0) <= set(shown)
    assert labels(shown) == ["torque (mN m)", "force (N)"]


def test_effort_without_currents_says_that_there_is_nothing_to_draw(words):
    point = fs.OperatingPoint(fs.read("geometries/one_rotor.yaml"), "60 rpm", **ROUGH)
    study = ranges(point, machines=4)
    shown = words(save_effort_range_plot, study, point.effort)
    assert "no figure that has a range" in shown
    assert "One rotor beside a rectangular coil" in shown


def test_designs_stand_below_each_other(geared, words):
    one = fs.OperatingPoint(fs.read("geometries/one_rotor.yaml"), "60 rpm", **ROUGH)
    study = ranges(one, machines=4, with_load=False)
    shown = words(save_comparison_range_plot, [study, geared])
    rows = [text.split(":")[0] for text in shown if " V, mostly from " in text]
    title = geared.point.machine.title
    assert rows == [one.machine.title, *(f"{c} of {title}" for c in geared.points.coils)]
    assert labels(shown) == ["RMS (V)"]
