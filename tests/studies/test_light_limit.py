"""Where along a parameter the lamps begin or cease to light."""

from __future__ import annotations

import pytest
from machines import shipped

from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.studies.vary import CRANK_SPEED, vary
from fieldsim.words.vary_text import vary_text


@pytest.fixture(scope="module")
def ring():
    return OperatingPoint(shipped("lamp_ring"), "60 rpm", tolerance=1e-4)


def test_more_distance_puts_the_lamps_out():
    point = OperatingPoint(shipped("bolt_beside_magnets"), "60 rpm")
    study = vary(point, {"coils.pickup.distance": ["12 mm", "4 mm", "8 mm"]})
    limit = study.light_limit
    assert (limit.path, limit.lights_below) == ("coils.pickup.distance", True)
    assert 4e-3 < limit.value < 8e-3
    for share, lit in ((0.98, True), (1.02, False)):  # found to 0.04 mm
        there = point.changed({"coils.pickup.distance": share * limit.value})
        assert there.circuit_result.lamps[0].lights is lit
    text = vary_text(study, point.speed)
    assert f"Lamps light up to coils.pickup.distance = {1e3 * limit.value:.3g} mm." in text


def test_more_speed_lights_them(ring):
    study = vary(ring, {CRANK_SPEED: ["20 rpm", "60 rpm"]})
    limit = study.light_limit
    assert limit.lights_below is False
    lamps = ring.lamp_speeds
    slowest = min(each.lowest_speed_rad_per_s for each in lamps)
    assert limit.value == pytest.approx(slowest, rel=0.01)
    assert "Lamps light from crank_speed = " in vary_text(study, ring.speed)


@pytest.mark.parametrize(
    "values",
    [{"clearance": ["2 mm", "3 mm"]}, {"load.lamps.parallel": [1, 40]},
     {"clearance": ["2 mm"], CRANK_SPEED: ["20 rpm", "60 rpm"]},
     {"load.rectifier": ["single", "bridge"]}],
)  # fmt: skip
def test_where_there_is_no_such_value(values, ring):
    study = vary(ring, values)
    assert study.light_limit is None
    assert "Lamps light" not in vary_text(study, ring.speed)


def test_a_machine_without_lamps_has_none():
    point = OperatingPoint(shipped("one_rotor"), "60 rpm", tolerance=1e-4)
    assert vary(point, {"clearance": ["2 mm", "9 mm"]}).light_limit is None
