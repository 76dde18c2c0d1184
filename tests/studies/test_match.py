"""The load, the gauge and the speed that fit."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from fieldsim.errors import ImpossibleError
from fieldsim.machine.load.load import Load
from fieldsim.machine_file.reader import read
from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.studies.match import match

GEOMETRIES = Path(__file__).parents[2] / "geometries"
RPM = 2 * math.pi / 60


@pytest.fixture(scope="module")
def ring():
    return OperatingPoint(read(GEOMETRIES / "lamp_ring.yaml"), "90 rpm", tolerance=1e-5)


def at(point, rpm, **parts):
    """Return the point at another speed, its machine with other parts."""
    return point.moved_to(replace(point.machine, **parts), rpm / 90)


def test_a_resistor_matches_the_coil_at_low_speed(ring):
    """Where w L is small, most power goes into the coil's own resistance (the power theorem)."""
    slow = at(ring, 2, load=Load("pickup", resistor=1000.0))
    study = match(slow, gauges=[32])
    ohm = study.coil_resistance_ohm
    assert study.curve.best_load_resistance_ohm == pytest.approx(
        ohm, rel=0.05
    )  # a flat top: 5 % loses 6e-4
    run = slow.steady_state
    rms = math.sqrt(np.mean(run.emf_V[0] ** 2))
    assert study.curve.best_load_power_W == pytest.approx(rms**2 / (4 * ohm), rel=2e-3)
    assert study.curve.own_load_resistance_ohm == pytest.approx(1000.0, rel=1e-3)
    assert study.lamps == ()


def test_the_lowest_speed_is_where_the_lamp_just_lights(ring):
    study = match(ring, gauges=[32])
    (lamp,) = study.lamps
    run = at(ring, lamp.lowest_speed_rad_per_s / RPM).steady_state
    # the speed is found to 1e-3; there the current grows some ten times as fast as the speed
    assert run.result.lamps[0].average_current_A == pytest.approx(lamp.visible_current_A, rel=2e-2)
    again = match(at(ring, 20), gauges=[32])
    assert again.lamps[0].lowest_speed_rad_per_s == pytest.approx(
        lamp.lowest_speed_rad_per_s, rel=3e-3
    )
    # the curve tops out near where the lamps are: 99 % at this speed
    assert 0.9 < study.curve.own_load_power_W / study.curve.best_load_power_W <= 1.001


def test_a_lamp_that_never_lights(tmp_path):
    text = (GEOMETRIES / "lamp_ring.yaml").read_text(encoding="utf-8")
    path = tmp_path / "g.yaml"
    path.write_text(text.replace("remanence: 1.2 T", "remanence: 0.001 T"), encoding="utf-8")
    study = match(OperatingPoint(read(path), "60 rpm", tolerance=1e-5), gauges=[32])
    assert study.lamps[0].lowest_speed_rad_per_s is None
    assert study.lamps[0].looked_up_to_rad_per_s == pytest.approx(20 * 60 * RPM)
    assert study.gauges.best is None


def test_without_a_load_there_is_nothing_to_match(ring):
    bare = at(ring, 60, load=Load())
    with pytest.raises(ImpossibleError, match="there is no load to match") as caught:
        match(bare)
    assert "across: pickup" in str(caught.value)
