"""A surface through few machines, against each machine on it worked out by itself."""

from __future__ import annotations

from dataclasses import replace

import pytest
from numpy.testing import assert_allclose

import fieldsim as fs
from fieldsim.operation.many_points import operating_points
from fieldsim.studies.ranges import ranges
from fieldsim.studies.response import ends, on_surface

RING = fs.read("geometries/lamp_ring.yaml")
# With iron a surface is laid; this piece is air.
AIR = fs.IronPiece("air", fs.Ball(0.004), (0.5, 0, 0), (0, 0, 1), material=fs.Material(1))


@pytest.fixture(scope="module")
def studies():
    machines = RING, replace(RING, iron=(AIR,))
    return [ranges(fs.OperatingPoint(each, "40 rpm"), machines=128) for each in machines]


def test_machines_between_give_what_they_give_when_worked_out(studies):
    each, surface = studies
    assert_allclose(surface.offsets, each.offsets)
    for name in ("rms_V", "peak_V", "resistance_ohm", "clearance_m", "peak_to_peak_linkage_Wb"):
        expected = getattr(each.points, name)
        assert_allclose(getattr(surface.points, name), expected, rtol=0.012, err_msg=name)
    assert surface.points.machines[7] == replace(each.points.machines[7], iron=(AIR,))


def test_ranges_and_shares_are_those_of_machines_worked_out(studies):
    each, surface = studies
    for found, expected in (
        (surface.coil_ranges("pickup")["rms_V"], each.coil_ranges("pickup")["rms_V"]),
        (surface.lamp_ranges("white LED"), each.lamp_ranges("white LED")),
    ):
        if isinstance(found, dict):
            found, expected = found["average_current_A"], expected["average_current_A"]
        width = expected.high - expected.low
        assert found.low == pytest.approx(expected.low, abs=0.06 * width)
        assert found.high == pytest.approx(expected.high, abs=0.06 * width)
        assert found.mostly_from == expected.mostly_from
    assert surface.share_all_light == pytest.approx(each.share_all_light, abs=0.02)
    assert 0.5 < surface.share_all_light < 1


def test_it_goes_through_the_machines_that_it_is_laid_through():
    machines = [RING.changed({"clearance": f"{mm} mm"}) for mm in (2.0, 2.4, 1.6)]
    known = operating_points(machines, "60 rpm", tolerance=1e-3, circuit_tolerance=1e-3)
    again = on_surface(known, ends(1), machines, known.speed_rad_per_s)
    assert again.problems == ("", "", "")
    for name in ("rms_V", "lamp_current_A", "inductance_H", "useful_power_W", "clearance_m"):
        assert_allclose(getattr(again, name), getattr(known, name), rtol=1e-9, err_msg=name)
