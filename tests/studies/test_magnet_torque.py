"""All rotors' magnets on each other over crank turns."""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
import pytest

from fieldsim.field.rotor_force import neighbour_forces, rotor_forces
from fieldsim.geometry.machine import Cuboid, Magnet, MountedMagnet, North, make_rotor, make_shaft
from fieldsim.studies.magnet_torque import (
    crank_angles_rad,
    forces_between,
    magnet_loads_N,
    magnet_torques_Nm,
    rotor_angle_rad,
)

BAR = Magnet("bar", Cuboid((0.02, 0.01, 0.005)), 1.2)


def ring(name, height, ratio, start=0.0):
    mounts = tuple(
        MountedMagnet(BAR, 0.022, math.pi * i, height, list(North)[i % 2]) for i in range(2)
    )
    return make_rotor(name, make_shaft((0, 0, 0), (0, 0, 1)), (1, 0, 0), mounts, ratio, start)


ROTORS = [ring("a", 0.0, 3), ring("b", 0.012, -2, 0.3), ring("c", 0.024, Fraction(1, 2))]


def test_angles_reach_the_repeat_and_resolve_the_fastest_turn():
    angles = crank_angles_rad([Fraction(3), Fraction(-2), Fraction(1, 2)], per_turn=20)
    assert angles.size == 20 * 2 * 5
    step = angles[1] - angles[0]
    assert angles[-1] + step == pytest.approx(4 * math.pi)


def test_every_pair_counts_on_both_sides():
    crank = np.array([0.0, 0.7, 2.0])
    pairs = forces_between(ROTORS, crank)
    assert [(p.first.name, p.second.name) for p in pairs] == [("a", "b"), ("a", "c"), ("b", "c")]
    torque = magnet_torques_Nm(ROTORS, pairs, 3)
    # On one shaft line action and reaction leave no torque in all.
    assert sum(torque.values()) == pytest.approx(np.zeros(3), abs=1e-12)
    by_hand = rotor_forces(ROTORS[1], ROTORS[0], 0.3 - 2 * crank, 3 * crank).torque_on_first_Nm
    by_hand = (
        by_hand + rotor_forces(ROTORS[1], ROTORS[2], 0.3 - 2 * crank, crank / 2).torque_on_first_Nm
    )
    assert torque["b"] == pytest.approx(by_hand, abs=1e-7)
    assert np.abs(torque["b"]).max() > 1e-3


def test_work_over_a_repeat_is_nothing():
    crank = crank_angles_rad([r.gear_ratio for r in ROTORS], per_turn=64)
    torque = magnet_torques_Nm(ROTORS, forces_between(ROTORS, crank), crank.size)
    power = sum(float(r.gear_ratio) * torque[r.name] for r in ROTORS)
    # Trapezoid over a whole repeat of a smooth curve.
    assert abs(power.mean()) < 1e-8 * np.abs(power).max()


def test_loads_of_a_single_rotor_are_its_neighbours():
    load = magnet_loads_N(ROTORS[:1], [])
    assert load["a"][0] == pytest.approx(neighbour_forces(ROTORS[0]))


def test_loads_add_up_along_the_shaft():
    crank = np.array([0.0, 0.4])
    pairs = forces_between(ROTORS, crank)
    load = magnet_loads_N(ROTORS, pairs)
    assert load["b"].shape == (2, 2, 3)
    along = pairs[0].force_on_second_N[:, 2] + pairs[2].force_on_first_N[:, 2]
    assert load["b"][..., 2].sum(axis=1) == pytest.approx(along, abs=1e-9)


def test_loads_are_in_arm_axes_of_the_rotor_s_own_angle():
    crank = np.array([0.2, 0.9])
    pairs = forces_between(ROTORS, crank)
    # Outward is where the magnet's centre lies from the shaft; rotor a is first in its two pairs.
    outward = pairs[0].on_first.centre_m * [1, 1, 0] / 0.022
    force = pairs[0].on_first.force_N + pairs[1].on_first.force_N
    expected = (force * outward).sum(axis=2) + neighbour_forces(ROTORS[0])[:, 0]
    assert magnet_loads_N(ROTORS, pairs)["a"][..., 0] == pytest.approx(expected, abs=1e-9)


def test_rotor_angle_follows_ratio_and_start():
    assert rotor_angle_rad(ROTORS[1], 1.0) == pytest.approx(0.3 - 2.0)
