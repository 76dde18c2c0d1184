"""What helps most: against scaling laws, another route, and what cannot be."""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from fieldsim.machine.connections import CoilRef, InParallel, InSeries
from fieldsim.machine_file.reader import read
from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.operation.terminal_voltage import main_source, terminal_emf_V
from fieldsim.studies.gap import gap_study
from fieldsim.studies.levers import STEP_SHARE
from fieldsim.studies.sensitivity import Effect, sensitivity

GEOMETRIES = Path(__file__).parents[2] / "geometries"


def point(machine, tolerance=1e-4):
    return OperatingPoint(machine, "120 rpm", tolerance=tolerance)


@pytest.fixture(scope="module")
def one():
    return read(GEOMETRIES / "one_rotor.yaml")


@pytest.fixture(scope="module")
def found(one):
    return sensitivity(point(one))


@pytest.fixture(scope="module")
def lit():
    return sensitivity(point(read(GEOMETRIES / "lamp_ring.yaml")))


def lever(found, name):
    return {lever.name: lever for lever in found.levers}[name]


@pytest.mark.parametrize("name", ["remanence", "turns", "crank speed"])
def test_voltage_is_proportional(found, name):
    effects = lever(found, name)
    # tables are good to 1e-4 of their swing
    assert effects.more.voltage_gain == pytest.approx(STEP_SHARE, abs=3e-4)
    assert effects.less.voltage_gain == pytest.approx(-STEP_SHARE, abs=3e-4)


def test_gap_agrees_with_the_gap_study(one, found):
    study = gap_study(point(one), [2e-3, 3e-3, 4e-3])
    volts = [row.figures["pickup"].rms_V for row in study.rows]
    effects = lever(found, "gap")
    # one_rotor.yaml has a gap of 3 mm; both tables are good to 1e-4
    assert effects.more.rms_V == pytest.approx(volts[0], rel=3e-4)
    assert found.rms_V == pytest.approx(volts[1], rel=3e-4)
    assert effects.less.rms_V == pytest.approx(volts[2], rel=3e-4)


def test_ranking(found):
    gains = [found.gain(found.best(lever)) for lever in found.levers]
    # steps that help alike stand as they are offered
    assert gains == pytest.approx(sorted(gains, reverse=True), rel=1e-8)
    assert found.levers[0].name == "gap"
    steps = found.helpful()
    assert all(found.gain(step) > 0 for step in steps)
    assert steps[0].words == "magnets 1 mm closer to the winding"
    assert (found.what, found.kind) == ("pickup", "voltage")
    assert math.isnan(found.lamp_current_average_A)


def test_a_step_that_collides_is_kept_with_its_reason(one):
    near = one.changed({"rotors.upper.shaft.through[2]": "-2.5 mm"})
    tight = sensitivity(point(near), tolerance=1e-3)
    effects = lever(tight, "gap")
    assert "would touch the winding" in effects.more.problem
    assert math.isnan(effects.more.voltage_gain)
    assert effects.less.problem == ""
    assert tight.best(effects) is effects.less
    assert effects.more not in tight.helpful()


def test_light_and_voltage_disagree_on_the_wire(lit):
    assert lit.kind == "light"
    assert lit.what == "pickup"
    thin = lever(lit, "wire gauge").more
    assert thin.words == "wire one gauge thinner, section filled"
    assert thin.voltage_gain > 0.2  # a fifth more turns at least
    assert thin.light_gain < 0  # but the resistance of this coil is what limits the light
    # Above the lamps' threshold more voltage gives more than proportional light.
    assert lever(lit, "remanence").more.light_gain > STEP_SHARE
    gains = [lit.gain(lit.best(lever)) for lever in lit.levers]
    # steps that help alike stand as they are offered
    assert gains == pytest.approx(sorted(gains, reverse=True), rel=1e-8)


def test_progress_ends_at_all(one):
    seen = []
    sensitivity(point(one), tolerance=1e-2, progress=lambda *done: seen.append(done))
    assert [done for done, _ in seen] == list(range(1, seen[-1][1] + 1))


def test_voltage_at_the_ends_of_joined_coils(one):
    second = replace(one.coils[0], name="other", turns=900, centre=(0.0, -22e-3, 0.0))
    machine = replace(one, coils=(one.coils[0], second))
    at = point(machine)
    wave = at.waveform
    first, other = wave.emf_V
    refs = CoilRef("pickup"), CoilRef("other", reverse=True)
    ohm = {"pickup": 10.0, "other": 30.0}
    assert np.array_equal(terminal_emf_V(wave, InSeries(refs), ohm), first - other)
    assert np.array_equal(terminal_emf_V(wave, InSeries(refs, reverse=True), ohm), other - first)
    shared = terminal_emf_V(wave, InParallel(refs), ohm)
    assert np.allclose(shared, (first / 10 - other / 30) / (1 / 10 + 1 / 30), rtol=1e-12)
    assert main_source(at) == ("pickup", CoilRef("pickup"))


def test_swapping_ends_is_a_step_where_coils_oppose():
    two = read(GEOMETRIES / "two_coils.yaml")
    opposed = replace(two, connections=(replace(two.connections[0], series=["left", "-right"]),))
    right, wrong = point(two), point(opposed)
    swap = [lever for lever in sensitivity(wrong).levers if lever.name.startswith("ends of")]
    assert [lever.more.words for lever in swap] == ['ends of "left" swapped in "pair"']
    assert swap[0].more.rms_V == pytest.approx(sensitivity(right).rms_V, rel=1e-3)
    assert swap[0].less == Effect("")  # there is no opposite step
    assert not [lever for lever in sensitivity(right).levers if lever.name.startswith("ends of")]
