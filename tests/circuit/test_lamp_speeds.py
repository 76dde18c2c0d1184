"""The lowest speed at which lamps light, found before and beyond the speed asked for."""

from __future__ import annotations

import math

import pytest
from machines import shipped

from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.tables.json_documents import light_json
from fieldsim.words.light_text import light_text

RPM = math.pi / 30


@pytest.fixture(scope="module")
def ring():
    return OperatingPoint(shipped("lamp_ring"), crank_speed_rad_per_s=20 * RPM, tolerance=1e-5)


def test_a_dark_machine_says_from_where_it_lights(ring):
    dark = ring.light
    (lamp,) = dark.result.lamps
    assert not lamp.lights
    (needed,) = dark.lamp_speeds
    assert (
        f"It would light from {needed.lowest_speed_rad_per_s / RPM:.3g} rpm of the crank."
        in light_text(ring.machine, dark, 120)
    )
    (as_json,) = light_json(dark)["lamp_speeds"]
    assert as_json["lowest_crank_speed_rad_per_s"] == needed.lowest_speed_rad_per_s
    # at that speed it just lights
    for factor, lights in ((0.98, False), (1.02, True)):
        faster = factor * needed.lowest_speed_rad_per_s / (20 * RPM)
        assert ring.changed({}, faster).light.result.lamps[0].lights is lights


def test_lit_machines_are_not_searched(ring):
    assert ring.changed({}, 90 / 20).light.lamp_speeds == ()


def test_who_asks_for_a_lit_machine_is_told_the_same_speed(ring):
    assert ring.light.lamp_speeds is ring.lamp_speeds  # nothing is searched twice
    (slow,), (fast,) = ring.lamp_speeds, ring.changed({}, 90 / 20).lamp_speeds
    assert fast.lowest_speed_rad_per_s == pytest.approx(slow.lowest_speed_rad_per_s, rel=5e-3)
    assert fast.looked_up_to_rad_per_s == pytest.approx(slow.looked_up_to_rad_per_s * 4.5)
