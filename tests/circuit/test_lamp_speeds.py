"""The lowest speed at which lamps light, found before and beyond the speed asked for."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from fieldsim.machine.machine import Machine
from fieldsim.operation.light import light
from fieldsim.tables.json_documents import light_json
from fieldsim.waveform.emf import crank_speed
from fieldsim.waveform.flux_table import flux_table
from fieldsim.words.light_text import light_text

GEOMETRIES = Path(__file__).parents[2] / "geometries"
RPM = math.pi / 30


@pytest.fixture(scope="module")
def ring():
    geometry = Machine.from_file(GEOMETRIES / "lamp_ring.yaml")
    return geometry, flux_table(geometry, tolerance=1e-5)


def test_a_dark_machine_says_from_where_it_lights(ring):
    geometry, table = ring
    dark = light(geometry, table, crank_speed(geometry, 20 * RPM))
    (lamp,) = dark.result.lamps
    assert not lamp.lights
    (needed,) = dark.lamp_speeds
    assert (
        f"It would light from {needed.lowest_speed_rad_per_s / RPM:.3g} rpm of the crank."
        in light_text(geometry, dark)
    )
    (as_json,) = light_json(dark)["lamp_speeds"]
    assert as_json["lowest_crank_speed_rad_per_s"] == needed.lowest_speed_rad_per_s
    # at that speed it just lights
    for factor, lights in ((0.98, False), (1.02, True)):
        speed = crank_speed(geometry, factor * needed.lowest_speed_rad_per_s)
        assert light(geometry, table, speed).result.lamps[0].lights is lights


def test_lit_machines_are_not_searched(ring):
    geometry, table = ring
    assert light(geometry, table, crank_speed(geometry, 90 * RPM)).lamp_speeds == ()
