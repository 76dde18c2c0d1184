"""Torque and power at the crank: balances, signs, friction, and what a hand can give."""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldsim.errors import ImpossibleError
from fieldsim.field.force.rotor_force import rotor_forces
from fieldsim.machine.gears import GearTrain, Wheel
from fieldsim.machine.magnets import Cuboid, Magnet, North
from fieldsim.machine.mechanics import Crank, Friction
from fieldsim.machine.placed import PlacedMagnet, PlacedRotor, Shaft
from fieldsim.mechanics.crank_effort import (
    CrankEffort,
    check_friction,
    crank_effort,
    electromagnetic_torque_Nm,
    force_to_start_N,
)
from fieldsim.operation.cautions import crank_cautions

TRAIN = GearTrain.from_wheels(
    [
        Wheel("big", 60, on="crank"),
        Wheel("left", 12, driven_by="big", efficiency=0.9, rotors=("upper",)),
        Wheel("idler", 20, driven_by="big", efficiency=0.95),
        Wheel("right", 12, driven_by="idler", efficiency=0.9, rotors=("lower",)),
    ]
)
ANGLE = 2 * math.pi * np.arange(64) / 64

torques = st.lists(st.floats(-0.5, 0.5), min_size=4, max_size=4).map(np.array)


@given(
    torques,
    torques,
    st.floats(0.5, 30),
    st.sampled_from([1, -1]),
    st.builds(Friction, st.floats(0, 0.1), st.floats(0, 0.01), st.floats(0, 1e-4)),
)
@settings(max_examples=40, deadline=None)
def test_the_hand_pays_for_rotors_friction_and_gears(upper, lower, speed, sense, friction):
    effort = crank_effort({"upper": upper, "lower": lower}, TRAIN, sense * speed, friction)
    parts = effort.rotors_W + effort.friction_W + effort.gears_W
    scale = abs(effort.hand_W) + abs(effort.rotors_W) + abs(effort.gears_W) + effort.friction_W
    assert abs(effort.hand_W - parts) <= 1e-12 * scale + 1e-15  # rounding
    assert effort.gears_W >= -1e-12 * scale
    assert effort.friction_W >= 0


@pytest.mark.parametrize("sense", [1, -1])
def test_braking_by_coils_is_a_load_either_way(sense):
    # The ratio of `upper` is -5: it turns back when the crank turns forward, and is braked.
    brake = {"upper": sense * np.full(4, 0.01)}
    effort = crank_effort(brake, TRAIN, sense * 10.0)
    assert effort.average_torque_Nm == pytest.approx(0.05 / 0.9, rel=1e-12)
    assert effort.rotors_W == pytest.approx(0.5, rel=1e-12)


def test_electrical_power_is_mechanical_power():
    # Virtual work: three coils of some linkage curves on a resistor each, one rotor at ratio -5.
    rotor_angle = -5 * ANGLE
    k = np.array([[1], [2], [3]])
    slope = 1e-3 * k * np.cos(k * rotor_angle + 0.3 * k)
    speed = 12.0
    emf = -slope * (-5 * speed)
    resistance = np.array([[10.0], [22.0], [47.0]])
    current = emf / resistance
    torque = electromagnetic_torque_Nm(current, slope)
    effort = crank_effort({"upper": torque}, GearTrain.from_ratios({"upper": Fraction(-5)}), speed)
    heat = float((current**2 * resistance).sum(axis=0).mean())
    assert effort.hand_W == pytest.approx(heat, rel=1e-12)  # rounding
    assert effort.hand_W > 0


def test_cogging_costs_nothing_without_losses_and_something_with():
    rotors = []
    bar = Magnet("bar", Cuboid((0.02, 0.01, 0.005)), 1.2)
    for name, height in (("lower", 0.0), ("upper", 0.012)):
        mounts = tuple(
            PlacedMagnet(bar, 0.022, math.pi / 2 * i, height, list(North)[i % 2]) for i in range(4)
        )
        rotors.append(PlacedRotor(name, Shaft((0, 0, 0), (0, 0, 1)), (1, 0, 0), mounts))
    crank = 2 * math.pi * np.arange(400) / 400  # 40 samples for each of 10 turns of the difference
    forces = rotor_forces(*rotors, 5 * crank, -5 * crank)
    torque = {"lower": forces.torque_on_first_Nm, "upper": forces.torque_on_second_Nm}
    free = crank_effort(torque, GearTrain.from_ratios(TRAIN.ratios), 10.0)
    assert free.peak_torque_Nm > 1.0
    assert free.least_torque_Nm == pytest.approx(-free.peak_torque_Nm, rel=1e-6)
    assert abs(free.average_torque_Nm) < 1e-9 * free.peak_torque_Nm
    # Power goes round through the meshes and is taxed there.
    taxed = crank_effort(torque, TRAIN, 10.0)
    assert taxed.average_torque_Nm > 0.05 * free.peak_torque_Nm
    assert taxed.gears_W == pytest.approx(taxed.hand_W, rel=1e-6)


def test_average_peak_ripple_and_hand():
    torque = -0.01 * (1 + 0.5 * np.cos(ANGLE))
    effort = crank_effort({"a": torque}, GearTrain.from_ratios({"a": Fraction(4)}), 8.0)
    assert effort.average_torque_Nm == pytest.approx(0.04, rel=1e-12)
    assert effort.peak_torque_Nm == pytest.approx(0.06, rel=1e-12)
    assert effort.ripple == pytest.approx(1.0, rel=1e-12)
    assert effort.hand_W == pytest.approx(0.32, rel=1e-12)


def test_ripple_without_an_average():
    swing = CrankEffort(np.array([1.0, -1.0]), 1.0, 0.0, 0.0, 0.0)
    nothing = CrankEffort(np.zeros(2), 1.0, 0.0, 0.0, 0.0)
    assert math.isinf(swing.ripple)
    assert nothing.ripple == 0.0


def test_friction_on_its_own():
    friction = Friction(0.02, 0.003, 1e-5)
    effort = crank_effort({}, TRAIN, 10.0, friction)
    rotor = 0.003 + 1e-5 * 50
    # Both rotors at 5 to 1, one of them over a further mesh.
    assert effort.average_torque_Nm == pytest.approx(
        0.02 + 5 * rotor / 0.9 + 5 * rotor / 0.9 / 0.95, rel=1e-12
    )
    assert effort.friction_W == pytest.approx(10 * 0.02 + 2 * 50 * rotor, rel=1e-12)


def test_force_to_start_counts_constant_friction_only():
    friction = Friction(0.02, 0.003, 1.0)
    force = force_to_start_N(TRAIN, friction, Crank(0.1))
    assert force == pytest.approx((0.02 + 0.015 / 0.9 + 0.015 / 0.9 / 0.95) / 0.1, rel=1e-12)


def test_friction_that_no_speed_can_overcome():
    arm = Crank(0.06)
    check_friction(TRAIN, Friction(crank=3.59), arm)
    with pytest.raises(ImpossibleError, match=r"61\.7 N on a crank arm of 60 mm.*gives 60 N"):
        check_friction(TRAIN, Friction(crank=3.7), arm)
    with pytest.raises(ImpossibleError):
        check_friction(TRAIN, Friction(each_rotor=0.4), arm)


def test_cautions_only_when_due():
    easy = CrankEffort(np.array([0.5, 1.0]), 2 * math.pi * 1.5, 0.0, 0.0, 0.0)
    assert crank_cautions(easy, Crank(0.1)) == []
    (weak,) = crank_cautions(easy, Crank(0.01))
    assert (weak.kind, weak.value, weak.limit) == ("hand force", pytest.approx(100.0), 60.0)
    assert crank_cautions(easy) == []
    fast = CrankEffort(np.array([0.5, 1.0]), -2 * math.pi * 4, 0.0, 0.0, 0.0)
    (caution,) = crank_cautions(fast, Crank(0.1))
    assert caution.value == pytest.approx(8 * math.pi)  # 240 rpm
    assert caution.limit == pytest.approx(4 * math.pi)


@pytest.mark.parametrize(
    ("torque", "speed", "message"),
    [
        ({"upper": np.zeros(4)}, 0.0, "must not be zero"),
        ({"c": np.zeros(4)}, 1.0, "rotor called c"),
    ],
)
def test_wrong_calls(torque, speed, message):
    with pytest.raises(ValueError, match=message):
        crank_effort(torque, TRAIN, speed)
