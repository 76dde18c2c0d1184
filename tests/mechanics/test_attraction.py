"""Pull between facing rotors, loads on the shafts, assembly, and the energy behind the torque."""

from __future__ import annotations

import math

import numpy as np
import pytest

from fieldsim.field.force.charge_field import Body
from fieldsim.field.force.magnet_force import pair_force
from fieldsim.field.force.rotor_force import rotor_forces
from fieldsim.machine.magnets import Cuboid, Magnet, North
from fieldsim.machine.placed import PlacedMagnet, PlacedRotor
from fieldsim.machine.shaft import Shaft
from fieldsim.mechanics.attraction import (
    assembly_pull,
    attraction,
    hub_m,
    shaft_load,
)
from fieldsim.mechanics.rest_positions import interaction_energy_J, rest_positions
from fieldsim.operation.cautions import PINCH_N, pinch_caution
from fieldsim.operation.effort import PairForces

BAR = Magnet("bar", Cuboid((0.02, 0.01, 0.005)), 1.2)
TURN = 2 * math.pi * np.arange(64) / 64


def ring(name, height, count=4, along=(0, 0, 1)):
    magnets = tuple(
        PlacedMagnet(
            BAR,
            0.022,
            2 * math.pi * i / count,
            height,
            North.PLUS_SHAFT if i % 2 == 0 else North.MINUS_SHAFT,
        )
        for i in range(count)
    )
    return PlacedRotor(name, Shaft((0, 0, 0), along), (1, 0, 0), magnets)


LOW, HIGH = ring("low", 0.0), ring("high", 0.009)


@pytest.fixture(scope="module")
def facing():
    return rotor_forces(LOW, HIGH, 0.0, TURN)


def test_pull_is_positive_pole_to_opposite_pole(facing):
    result = attraction(facing)
    assert result.pull_N[0] == pytest.approx(result.peak_pull_N)
    assert result.peak_push_N == pytest.approx(-result.pull_N[16])  # a quarter turn on: like poles
    assert result.peak_pull_N == pytest.approx(result.peak_push_N, rel=1e-6)  # alternating poles


def test_pull_does_not_depend_on_which_is_called_first(facing):
    again = rotor_forces(HIGH, LOW, TURN, 0.0)
    assert attraction(again).pull_N == pytest.approx(attraction(facing).pull_N, abs=1e-5)


def test_pull_is_four_times_one_face_to_face_pair_when_the_others_are_far():
    wide = 0.2
    spread = [
        PlacedRotor(
            name,
            Shaft((0, 0, 0), (0, 0, 1)),
            (1, 0, 0),
            tuple(
                PlacedMagnet(BAR, wide, math.pi / 2 * i, height, North.PLUS_SHAFT) for i in range(4)
            ),
        )
        for name, height in (("low", 0.0), ("high", 0.009))
    ]
    body = Body(BAR.shape, (0, 0, 1.2))
    one = pair_force(body, body, np.array([[0, 0, 0.009]]), np.eye(3)).force_N[0, 2]
    pull = attraction(rotor_forces(*spread, 0.0, 0.0)).peak_pull_N
    # The nearest other magnet stands 0.28 m away: a dipole force 1e-5 of the pair's.
    assert pull == pytest.approx(-4 * one, rel=1e-4)


def test_a_single_magnet_tilts_its_rotor():
    low, high = ring("low", 0.0, 1), ring("high", 0.009, 1)
    result = attraction(rotor_forces(low, high, 0.0, 0.0))
    assert result.first_load.axial_N[0] == pytest.approx(-result.second_load.axial_N[0])
    assert result.first_load.axial_N[0] > 0
    # Face to face on one arm: the moment is the pull times the radius of 22 mm.
    assert result.second_load.bending_Nm[0] == pytest.approx(0.022 * result.pull_N[0], rel=1e-9)


def test_balanced_rotors_do_not_bend_their_shafts_at_the_hub(facing):
    load = attraction(facing).second_load
    assert load.transverse_N.max() < 1e-5  # N, the error of the table
    assert load.bending_Nm.max() < 1e-6


def test_bending_grows_with_the_distance_of_the_bearing():
    # One magnet against two: the sideways force is real, and so is its lever.
    forces = rotor_forces(ring("low", 0.0, 2), ring("high", 0.009, 1), 0.0, [0.6])
    at_hub = shaft_load(forces.second, forces.on_second)
    further = [shaft_load(forces.second, forces.on_second, d).bending_Nm[0] for d in (0.1, 0.2)]
    assert at_hub.transverse_N[0] > 0.1
    # Far out the moment grows by the transverse force per metre.
    assert further[1] - further[0] == pytest.approx(0.1 * at_hub.transverse_N[0], rel=0.1)
    moment = forces.on_second.moment_about_Nm(hub_m(forces.second) + np.array([0, 0, 0.1]))[0]
    assert further[0] == pytest.approx(math.hypot(moment[0], moment[1]), rel=1e-12)


def test_concentric_rotors_have_a_direction_too():
    inner, outer = ring("inner", 0.0, 2), ring("outer", 0.0, 4)
    outer = PlacedRotor(
        "outer",
        outer.shaft,
        outer.zero,
        tuple(PlacedMagnet(BAR, 0.06, m.angle, 0.0, m.north) for m in outer.magnets),
    )
    assert np.isfinite(attraction(rotor_forces(inner, outer, 0.0, TURN)).pull_N).all()


def test_assembly_pull_grows_on_the_way_and_ends_at_the_peak(facing):
    way = assembly_pull(LOW, HIGH, np.linspace(0.05, 0.0, 26), angles=64)
    assert (np.diff(way.pull_N) > 0).all()
    assert way.peak_pull_N == pytest.approx(attraction(facing).peak_pull_N, rel=1e-6)
    assert way.peak_pull_N == way.pull_N[-1]


@pytest.mark.parametrize("along", [(0, 0, 1), (0, 0, -1)])
@pytest.mark.parametrize("height", [0.009, -0.009])
def test_assembly_comes_from_the_side_it_ends_on(along, height):
    sign = along[2]
    moved = ring("moved", sign * height, along=along)
    way = assembly_pull(LOW, moved, [0.0, 0.01], angles=16)
    assert way.pull_N[0] > 2 * way.pull_N[1] > 0


def test_work_of_assembly_is_the_energy_gained():
    # Force along the shaft and torque about it derive from one energy: bringing the rotor in at
    # angle 0 and at a quarter turn differs by the work of the torque over that quarter.
    x, w = np.polynomial.legendre.leggauss(40)
    # From 0.3 m, where the energy is about (20 mm / 0.3 m)^3 of that in place and smaller still
    # for alternating poles, with points crowded towards the place.
    s = (x + 1) / 2
    distance, weight = 0.3 * s**2, 0.3 * s * w
    work = []
    for angle in (0.0, math.pi / 2):
        force = rotor_forces(LOW, HIGH, 0.0, angle, distance).force_on_second_N[:, 2]
        work.append(float(weight @ force))
    angles = 2 * math.pi * np.arange(256) / 256
    energy = interaction_energy_J(rotor_forces(LOW, HIGH, 0.0, angles).torque_on_second_Nm)
    # W(place) - W(far) = the work put in against the force from far: integral of F over distance.
    gained = energy[64] - energy[0]
    # 1e-6: tolerance of 1e-7 in force, and what is left beyond 0.3 m.
    assert gained == pytest.approx(work[1] - work[0], rel=1e-6)
    assert gained > 0.1


def test_rest_angles_of_facing_rotors(facing):
    rest = rest_positions(facing.torque_on_second_Nm, negligible_Nm=facing.error_Nm)
    # Opposite poles face at 0 and 180 degrees, like poles at 90 and 270.
    assert np.degrees(rest.stable_rad) == pytest.approx([0, 180], abs=1e-6)
    assert np.degrees(rest.unstable_rad) == pytest.approx([90, 270], abs=1e-6)
    # The summit lies between samples, 0.7032 N m from four times as many.
    assert np.abs(facing.torque_on_second_Nm).max() < rest.torque_to_pass_Nm
    assert rest.torque_to_pass_Nm == pytest.approx(0.7032, rel=1e-3)


def test_pinch_caution_carries_the_number(facing):
    near = PairForces(attraction(facing), None, 0.0, locked=False)
    far = attraction(rotor_forces(LOW, HIGH.raised(0.1), 0.0, TURN))
    apart = PairForces(far, None, 0.0, locked=False)
    caution = pinch_caution([apart, near])
    assert caution.value == near.attraction.peak_pull_N > caution.limit == PINCH_N
    assert caution.where == f"{near.attraction.first} and {near.attraction.second}"
    assert pinch_caution([apart]) is None
    assert pinch_caution([]) is None


def test_negative_distances_are_refused():
    with pytest.raises(ValueError, match="zero or more"):
        assembly_pull(LOW, HIGH, [-0.001])
