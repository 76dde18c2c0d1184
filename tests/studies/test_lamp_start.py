"""A start from rest."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from fieldsim.errors import ImpossibleError
from fieldsim.machine_file.reader import read
from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.studies.lamp_start import lamp_start

GEOMETRIES = Path(__file__).parents[2] / "geometries"
RPM = 2 * math.pi / 60


@pytest.fixture(scope="module")
def ring():
    return OperatingPoint(read(GEOMETRIES / "lamp_ring.yaml"), "90 rpm", tolerance=1e-5)


def test_without_wobble_it_settles_to_the_steady_state_of_cold_wire(ring):
    start = lamp_start(ring, duration_s=0.7, ramp_s=0.1, wobble=0.0)
    run = ring.changed({"wire_temperature": "20 degC"}).steady_state
    (lamp,) = start.lamps
    # averaged over whole periods; what remains is the end of the capacitor's charging
    assert lamp.average_at_end_A == pytest.approx(run.result.lamps[0].average_current_A, rel=0.01)
    periods = lamp.stretch_s / run.period_s
    assert lamp.stretch_s >= 0.1
    assert periods == pytest.approx(round(periods))
    assert start.result.balance.energy < 1e-4
    assert start.result.balance.charge < 1e-4
    assert start.notes == ()


def test_lamps_wait_for_the_capacitor(ring):
    start = lamp_start(ring, duration_s=0.6, ramp_s=0.4)
    (lamp,) = start.lamps
    assert 0.1 < lamp.first_lights_s < 0.6
    trace = start.result.part("white LED")
    before = start.result.time_s < lamp.first_lights_s - 0.1
    assert trace.current_A[before].max() < 0.5e-3
    dc = start.result.outlets["pickup"].dc_voltage_V
    assert abs(dc[0]) < 1e-3  # empty at first
    assert dc[-1] > 2.5


def test_a_wobbling_speed_is_averaged_over_its_swing(ring):
    start = lamp_start(ring, duration_s=1.2, ramp_s=0.1)
    (lamp,) = start.lamps
    assert lamp.stretch_s == pytest.approx(1 / 3)  # two wobbles a turn, 1.5 turns a second
    steady = ring.steady_state.result.lamps[0].average_current_A
    # the light is not quite proportional to speed: 10 % either way leave a percent or two
    assert lamp.average_at_end_A == pytest.approx(steady, rel=0.04)


def test_a_run_that_ends_soon_after_the_ramp_is_averaged_over_what_there_is(ring):
    start = lamp_start(ring, duration_s=0.35, ramp_s=0.2)
    assert start.lamps[0].stretch_s == pytest.approx(0.15)


def test_too_slow_a_crank_leaves_it_dark(ring):
    start = lamp_start(ring.changed({}, speed_factor=15 / 90), 0.5, ramp_s=0.1)
    assert start.lamps[0].first_lights_s is None
    assert start.lamps[0].average_at_end_A < 0.5e-3


def test_speed_wobbles_twice_a_turn(ring):
    start = lamp_start(ring, duration_s=0.05, ramp_s=0.0, wobble=0.2)
    times = np.linspace(0, 1, 2000)
    speeds = start.crank.speed_at_rad_per_s(times) / (90 * RPM)
    assert speeds.max() == pytest.approx(1.2, abs=1e-4)
    assert start.crank.wobble_Hz == pytest.approx(3.0)  # 90 rpm is 1.5 turns a second


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ({"duration_s": 0.0}, "a start-up of 0 s; it must be above zero"),
        ({"duration_s": math.inf}, "above zero"),
        ({"duration_s": 1e5}, "more than 100000 steps at this speed; allowed: up to"),
        ({"duration_s": 1.0, "ramp_s": -1.0}, "a ramp of -1 s"),
        ({"duration_s": 1.0, "wobble": 1.0}, "a wobble of 1; it must be from 0 to below 1"),
    ],
)
def test_what_cannot_be_followed(ring, arguments, words):
    with pytest.raises(ImpossibleError, match=words):
        lamp_start(ring, **arguments)
