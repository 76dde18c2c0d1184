"""How many lamps light: just so many and no more, and none beyond its rating."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest
from machines import GEOMETRIES, shipped

from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.studies.lamp_counts import lamp_counts


@pytest.fixture(scope="module")
def ring():
    return OperatingPoint(shipped("lamp_ring"), "120 rpm", tolerance=1e-4)


@pytest.fixture(scope="module")
def counts(ring):
    return lamp_counts(ring)


def with_lamps(point, series, strings):
    wired = {"load.lamps.series": series, "load.lamps.parallel": strings}
    return point.changed(wired).circuit_result.lamps


def test_one_string_more_is_dark(ring, counts):
    assert [each.series for each in counts] == [1, 2, 3, 4]
    for each in counts:
        assert all(lamp.lights for lamp in with_lamps(ring, each.series, each.most))
        assert not all(lamp.lights for lamp in with_lamps(ring, each.series, each.most + 1))
        assert each.lamps == each.series * each.most
    assert not all(lamp.lights for lamp in with_lamps(ring, 5, 1))


def test_one_string_fewer_bears_too_much(ring, counts):
    assert counts[0].fewest > 1
    for each in counts:
        assert all(lamp.share_of_rated <= 1 for lamp in with_lamps(ring, each.series, each.fewest))
        if each.fewest > 1:
            fewer = with_lamps(ring, each.series, each.fewest - 1)
            assert any(lamp.share_of_rated > 1 for lamp in fewer)


def test_lamps_both_ways_round_count_twice():
    point = OperatingPoint(shipped("two_coils"), "60 rpm", tolerance=1e-4)
    assert point.machine.load.lamps.polarity == "both"
    for each in lamp_counts(point):
        assert each.lamps == 2 * each.series * each.most


def test_where_not_even_one_lights(ring):
    assert lamp_counts(ring.changed({}, 0.05)) == ()


def test_a_load_without_lamps_has_none():
    machine = shipped("lamp_ring").changed({"load": {"across": "pickup", "resistor": "100 ohm"}})
    assert lamp_counts(OperatingPoint(machine, "60 rpm", tolerance=1e-4)) == ()


def test_match_tells(counts):
    command = [sys.executable, "-m", "fieldsim", "match", str(GEOMETRIES / "lamp_ring.yaml"),
               "--crank-speed", "120 rpm", "--gauges", "30..32"]  # fmt: skip
    text = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    line = next(line for line in text.splitlines() if line.split()[1:3] == ["up", "to"])
    first = counts[0]
    assert line.split() == ["1", "up", "to", str(first.most), str(first.lamps), str(first.fewest),
                            "or", "more"]  # fmt: skip
    done = subprocess.run([*command, "--json"], capture_output=True, text=True, check=True)
    told = json.loads(done.stdout)["lamp_counts"][0]
    assert told == {"series": 1, "most": first.most, "fewest": first.fewest, "lamps": first.lamps}
