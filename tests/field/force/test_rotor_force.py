"""Forces between rotors: symmetries, periods, and superposition magnet by magnet."""

from __future__ import annotations

import math
import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from fieldsim.errors import ImpossibleError
from fieldsim.field.force import rotor_force
from fieldsim.field.force.charge_field import Body
from fieldsim.field.force.magnet_force import pair_force
from fieldsim.field.force.rotor_force import magnet_poses, neighbour_forces, rotor_forces
from fieldsim.machine.magnets import Cuboid, Magnet, North
from fieldsim.machine.placed import PlacedMagnet, PlacedRotor
from fieldsim.machine.shaft import Shaft

BAR = Magnet("bar", Cuboid((0.02, 0.01, 0.005)), 1.2)


def ring(count=4, height=0.0, north=North.PLUS_SHAFT, through=(0, 0, 0), along=(0, 0, 1), name="r"):
    magnets = tuple(
        PlacedMagnet(
            BAR, 0.022, 2 * math.pi * i / count, height, north if i % 2 == 0 else north.reversed
        )
        for i in range(count)
    )
    return PlacedRotor(name, Shaft(through, along), (1, 0, 0), magnets)


LOW, HIGH = ring(name="low"), ring(height=0.009, name="high")  # faces 4 mm apart
TURN = 2 * math.pi * np.arange(48) / 48


@pytest.fixture(scope="module")
def facing():
    return rotor_forces(LOW, HIGH, 0.0, TURN)


def test_momentum(facing):
    total = facing.force_on_first_N + facing.force_on_second_N
    assert np.abs(total).max() < 1e-12 * np.abs(facing.force_on_second_N).max()  # rounding


def test_angular_momentum(facing):
    # About one common point the moments cancel, wherever the rotors touch nothing else.
    point = (0.01, -0.02, 0.03)
    both = facing.on_first.moment_about_Nm(point) + facing.on_second.moment_about_Nm(point)
    assert np.abs(both).max() < 1e-12  # rounding of 1 N m


def test_only_the_difference_of_angles_counts_on_one_shaft_line(facing):
    turned = rotor_forces(LOW, HIGH, 0.7, TURN + 0.7)
    assert turned.torque_on_second_Nm == pytest.approx(facing.torque_on_second_Nm, abs=1e-9)
    back = Rotation.from_rotvec([0, 0, -0.7]).apply(turned.force_on_second_N)
    assert back == pytest.approx(facing.force_on_second_N, abs=1e-6)  # reported error 1e-6 N


def test_opposite_shaft_directions_describe_the_same_machine(facing):
    # The same upper rotor, described from above: angles and poles as seen from there.
    upside = tuple(
        PlacedMagnet(m.magnet, m.radius, -m.angle, -m.height, m.north.reversed)
        for m in HIGH.magnets
    )
    above = PlacedRotor("above", Shaft((0, 0, 0), (0, 0, -1)), (1, 0, 0), upside)
    again = rotor_forces(LOW, above, 0.0, -TURN)
    assert again.torque_on_second_Nm == pytest.approx(-facing.torque_on_second_Nm, abs=1e-9)
    assert again.force_on_second_N == pytest.approx(facing.force_on_second_N, abs=1e-6)


def test_alternating_poles_repeat_twice_a_turn(facing):
    # Half the samples on (a pole pair on), the same; a quarter (one magnet on), reversed.
    torque = facing.torque_on_second_Nm
    assert np.roll(torque, 24) == pytest.approx(torque, abs=1e-9)
    assert np.roll(torque, 12) == pytest.approx(-torque, abs=1e-9)
    assert np.abs(torque).max() > 0.1


def test_cogging_adds_up_to_nothing_over_a_turn(facing):
    # Trapezoid rule of a smooth periodic function: exact once the samples resolve it.
    torque = facing.torque_on_second_Nm
    assert abs(torque.mean()) < 1e-9 * np.abs(torque).max()


def test_cogging_adds_up_to_nothing_on_parallel_shafts_too():
    # No symmetry helps here: odd magnets, shafts side by side, one rotor held still.
    first = ring(3, through=(0.0, 0.0, 0.0), north=North.OUT)
    second = ring(3, through=(0.075, 0.006, 0.001))
    angles = 2 * math.pi * np.arange(64) / 64
    forces = rotor_forces(first, second, 0.3, angles)
    torque = forces.torque_on_second_Nm
    # 64 samples resolve it to about 1e-7.
    assert abs(torque.mean()) < 1e-6 * np.abs(torque).max()
    # The rotor held still is pulled one way on average: it does no work.
    assert abs(forces.torque_on_first_Nm.mean()) > 1e-2 * np.abs(forces.torque_on_first_Nm).max()


def test_superposition_by_hand():
    # One angle, no sharing, every pair placed by a rotation library.
    first, second = ring(2), ring(3, height=0.012, through=(0.003, 0.001, 0.0))
    forces = rotor_forces(first, second, 0.4, 1.3)
    total = np.zeros(3)
    torque = 0.0
    for a in first.magnets:
        for b in second.magnets:
            turn_a = Rotation.from_rotvec([0, 0, 0.4 + a.angle])
            turn_b = Rotation.from_rotvec([0, 0, 1.3 + b.angle])
            centre_a = turn_a.apply([a.radius, 0, a.height])
            centre_b = turn_b.apply([b.radius, 0, b.height]) + second.shaft.through
            pair = pair_force(
                Body.from_mounted(a),
                Body.from_mounted(b),
                turn_a.inv().apply(centre_b - centre_a)[None],
                (turn_a.inv() * turn_b).as_matrix(),
            )
            force = turn_a.apply(pair.force_N[0])
            arm = centre_b - np.asarray(second.shaft.through)
            total += force
            torque += (turn_a.apply(pair.torque_Nm[0]) + np.cross(arm, force))[2]
    # Ten times the tolerance of 1e-7.
    assert forces.force_on_second_N[0] == pytest.approx(total, abs=1e-6 * np.linalg.norm(total))
    assert forces.torque_on_second_Nm[0] == pytest.approx(torque, rel=1e-6)


def test_the_reported_errors_cover_what_a_tighter_tolerance_changes():
    angles = np.array([0.1, 0.4, 1.2])
    loose = rotor_forces(LOW, HIGH, 0.0, angles, tolerance=1e-2)
    tight = rotor_forces(LOW, HIGH, 0.0, angles, tolerance=1e-9)
    off_N = np.linalg.norm(loose.force_on_second_N - tight.force_on_second_N, axis=1).max()
    off_Nm = np.abs(loose.torque_on_second_Nm - tight.torque_on_second_Nm).max()
    assert 1e-12 < off_N < loose.error_N
    assert 1e-12 < off_Nm < loose.error_Nm
    # A force error at the magnets' radius of 22 mm is a torque error too.
    assert loose.error_Nm > 0.022 * loose.error_N


def test_shift_moves_the_second_rotor_along_its_shaft():
    shifted = rotor_forces(LOW, HIGH, 0.0, 0.5, [0.0, 0.004])
    raised = rotor_forces(LOW, HIGH.raised(0.004), 0.0, 0.5)
    assert shifted.force_on_second_N[1] == pytest.approx(raised.force_on_second_N[0], abs=1e-6)
    assert shifted.on_second.centre_m[1] == pytest.approx(raised.on_second.centre_m[0], abs=1e-15)


@given(st.floats(-10, 10), st.floats(-10, 10))
@settings(max_examples=8, deadline=None)
def test_one_angle_equals_an_entry_of_a_table(first_angle, second_angle):
    alone = rotor_forces(LOW, HIGH, first_angle, second_angle)
    table = rotor_forces(LOW, HIGH, [0.0, first_angle], [0.0, second_angle])
    allowed = 2 * (alone.error_N + table.error_N) + 1e-12
    assert np.abs(table.force_on_second_N[1] - alone.force_on_second_N[0]).max() < allowed


def test_magnets_of_one_rotor_feel_no_net_force():
    rotor = ring(4)
    arm = neighbour_forces(rotor)
    _, turn = magnet_poses(rotor, 0.0)
    net = np.einsum("mij,mj->i", turn[0], arm)
    assert np.abs(net).max() < 1e-12
    # Evenly spaced with alternating poles: all alike, and neighbours attract, so inward.
    assert arm == pytest.approx(np.broadcast_to(arm[0], arm.shape), abs=1e-9)
    assert arm[0, 0] < -1e-3
    assert abs(arm[0, 1]) < 1e-9


def test_magnets_on_the_shaft_line_differ_in_direction_only():
    # Two bars across the shaft, one above the other: poses share their offset at every angle.
    low, high = (
        PlacedRotor(
            "r",
            Shaft((0, 0, 0), (0, 0, 1)),
            (1, 0, 0),
            (PlacedMagnet(BAR, 0.0, 0.0, height, North.OUT),),
        )
        for height in (0.0, 0.05)
    )
    angles = np.array([0.0, 0.004, 0.01, 1.0, math.pi / 2])
    torque = rotor_forces(low, high, 0.0, angles).torque_on_second_Nm
    # Like dipoles side by side, which want to lie opposed: a sine, up to (20 mm / 50 mm)^2.
    assert torque / torque[4] == pytest.approx(np.sin(angles), rel=0.2, abs=1e-9)
    assert torque[1] / torque[2] == pytest.approx(0.4, rel=1e-3)
    assert torque[4] > 0


def test_a_rotor_without_magnets_feels_nothing():
    empty = PlacedRotor("empty", Shaft((0, 0, 0), (0, 0, 1)), (1, 0, 0), ())
    forces = rotor_forces(LOW, empty, 0.0, TURN)
    assert forces.torque_on_first_Nm.shape == (48,)
    assert not forces.force_on_first_N.any()
    assert forces.error_N == 0.0


def test_facing_rotors_share_their_poses(monkeypatch):
    asked = []

    def counted(first, second, offset, rotation, tolerance):
        asked.append(len(offset))
        return pair_force(first, second, offset, rotation, tolerance)

    monkeypatch.setattr(rotor_force, "pair_force", counted)
    crank = 2 * math.pi * np.arange(120) / 120
    rotor_forces(LOW, HIGH, 9 * crank, -9 * crank)
    # The difference runs 18 turns in 120 steps of 54 degrees: 20 angles, with the quarter turns
    # between magnets as they are; 1920 poses without sharing.
    assert sum(asked) == 20


def test_a_table_of_two_rotors_with_four_magnets_is_quick():
    # The promise is 2 s for 120 angles on one core; process time, so that others do not count.
    start = time.process_time()
    rotor_forces(LOW, HIGH, 0.0, 2 * math.pi * np.arange(120) / 120)
    assert time.process_time() - start < 2.0


def test_what_is_worked_out_some_angles_at_a_time_is_the_same(monkeypatch):
    first, second = LOW, HIGH
    angles = np.linspace(0.0, 2.0, 9)
    whole = rotor_forces(first, second, 0.3, angles)
    monkeypatch.setattr(rotor_force, "_AT_ONCE", 2 * len(first.magnets) * len(second.magnets))
    parts = rotor_forces(first, second, 0.3, angles)
    # Other poses stand for their like, so to the tolerance asked of a pair.
    for found, expected in (
        (parts.on_first.force_N, whole.on_first.force_N),
        (parts.on_second.torque_Nm, whole.on_second.torque_Nm),
    ):
        assert found == pytest.approx(expected, abs=1e-7 * np.abs(expected).max())


def test_far_too_many_forces_are_refused_with_their_number():
    first, second = LOW, HIGH
    each = len(first.magnets) * len(second.magnets)
    few = 3_000_000 // each
    rotor_force.refuse_too_many([(first, second)], few)
    with pytest.raises(ImpossibleError, match="rotors: between their magnets there are 3 million"):
        rotor_force.refuse_too_many([(first, second)], few + 1)
    with pytest.raises(ImpossibleError, match="leave out magnets or rotors"):
        rotor_forces(first, second, 0.0, np.zeros(few + 1))
