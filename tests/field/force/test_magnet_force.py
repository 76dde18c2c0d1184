"""Laws that hold for the force between any two magnets."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from fieldsim.field.force import magnet_force as force
from fieldsim.field.force.charge_field import Body, outside_field_T
from fieldsim.field.force.magnet_force import pair_force
from fieldsim.machine.magnets import Cuboid, Cylinder, Sphere

BLOCK = Body(Cuboid((0.02, 0.012, 0.006)), (0.2, -0.1, 1.1))
OTHER = Body(Cuboid((0.01, 0.014, 0.008)), (-0.4, 0.9, 0.3))
ROD = Body(Cylinder(0.01, 0.012), (0.0, 0.3, 0.9))
BALL = Body(Sphere(0.012), (0.5, 0.3, 0.9))

angle = st.floats(-3.1, 3.1)
turn = st.tuples(angle, angle, angle).map(lambda a: Rotation.from_euler("xyz", a))
# Centres 24 to 45 mm apart: the bodies never touch in any pose.
offset = st.tuples(turn, st.floats(0.024, 0.045)).map(lambda p: p[0].apply([0, 0, p[1]]))


@pytest.mark.parametrize(
    ("first", "second"), [(BLOCK, OTHER), (BLOCK, ROD), (BALL, BLOCK), (ROD, BALL)]
)
@given(offset=offset, turn=turn)
@settings(max_examples=10, deadline=None)
def test_action_is_reaction(first, second, offset, turn):
    forth = pair_force(first, second, offset[None], turn.as_matrix())
    back = pair_force(second, first, turn.inv().apply(-offset)[None], turn.inv().as_matrix())
    scale = np.linalg.norm(forth.force_N) + np.linalg.norm(forth.torque_Nm) / 0.02
    # 1e-7: ten times the tolerance, for the sums on both sides.
    assert np.abs(turn.apply(back.force_N[0]) + forth.force_N[0]).max() < 1e-7 * scale
    assert (
        np.abs(turn.apply(back.torque_Nm[0]) - forth.torque_on_first_Nm(offset[None])[0]).max()
        < 1e-7 * scale * 0.03
    )


def test_exchanging_two_blocks_uses_the_other_ones_charges():
    # Unlike the pairs above, two blocks keep their roles: the two sides share no quadrature.
    offset, turn = np.array([0.004, 0.003, 0.018]), Rotation.from_euler("xyz", [0.2, 0.1, 0.5])
    forth = pair_force(BLOCK, OTHER, offset[None], turn.as_matrix())
    back = pair_force(OTHER, BLOCK, turn.inv().apply(-offset)[None], turn.inv().as_matrix())
    size = np.linalg.norm(forth.force_N)
    assert turn.apply(back.force_N[0]) == pytest.approx(-forth.force_N[0], abs=1e-8 * size)
    assert turn.apply(back.torque_Nm[0]) == pytest.approx(
        forth.torque_on_first_Nm(offset[None])[0], abs=1e-10 * size
    )


@given(offset=offset, turn=turn, together=turn)
@settings(max_examples=10, deadline=None)
def test_poses_are_independent_of_each_other(offset, turn, together):
    alone = pair_force(BLOCK, OTHER, offset[None], turn.as_matrix())
    offsets = np.stack([offset, together.apply(offset), offset * 2])
    rotations = np.stack([turn.as_matrix(), together.as_matrix(), np.eye(3)])
    many = pair_force(BLOCK, OTHER, offsets, rotations)
    scale = np.linalg.norm(many.force_N, axis=1).max()
    # The tolerance refers to the largest force of the set.
    assert np.abs(many.force_N[0] - alone.force_N[0]).max() < 2e-8 * scale


def test_force_grows_with_the_square_and_torque_with_the_cube_of_size():
    offset, turn = np.array([[0.005, 0.002, 0.02]]), Rotation.from_euler("x", 0.4).as_matrix()
    small = pair_force(BLOCK, OTHER, offset, turn)
    k = 3.0
    big = pair_force(
        Body(Cuboid(tuple(k * s for s in BLOCK.shape.size)), BLOCK.polarization_T),
        Body(Cuboid(tuple(k * s for s in OTHER.shape.size)), OTHER.polarization_T),
        k * offset,
        turn,
    )
    assert big.force_N == pytest.approx(k**2 * small.force_N, rel=1e-10)  # rounding
    assert big.torque_Nm == pytest.approx(k**3 * small.torque_Nm, rel=1e-10)


def test_reversing_one_magnet_reverses_all():
    offset = np.array([[0.005, 0.002, 0.02]])
    plain = pair_force(BLOCK, OTHER, offset, np.eye(3))
    turned = Body(OTHER.shape, tuple(-j for j in OTHER.polarization_T))
    reverse = pair_force(BLOCK, turned, offset, np.eye(3))
    assert reverse.force_N == pytest.approx(-plain.force_N, rel=1e-12)  # rounding
    assert reverse.torque_Nm == pytest.approx(-plain.torque_Nm, rel=1e-12)


def test_a_tighter_tolerance_is_kept_and_the_error_covers_it():
    offset = np.array([[0.004, 0.003, 0.0095]])  # a gap of 2.5 mm
    loose = pair_force(BLOCK, OTHER, offset, np.eye(3), tolerance=1e-3)
    tight = pair_force(BLOCK, OTHER, offset, np.eye(3), tolerance=1e-11)
    size = np.linalg.norm(tight.force_N)
    assert tight.error_N[0] < 2e-11 * size * 2  # two faces
    off = np.linalg.norm(loose.force_N - tight.force_N)
    assert 1e-13 * size < off < loose.error_N[0]
    assert np.linalg.norm(loose.torque_Nm - tight.torque_Nm) < loose.error_Nm[0]


def test_no_polarisation_no_force():
    nothing = Body(Cuboid((0.01, 0.01, 0.01)), (0, 0, 0))
    for pair in ((BLOCK, nothing), (nothing, BLOCK), (nothing, ROD)):
        result = pair_force(*pair, np.array([[0, 0, 0.03]]), np.eye(3))
        assert not result.force_N.any()
        assert not result.torque_Nm.any()


def test_far_apart_rounding_does_not_raise_the_order(monkeypatch):
    # At 100 m the field is 1e-12 of the remanence: no order makes its rounding smaller.
    evaluated = []

    def counted(body, points):
        evaluated.append(len(points))
        return outside_field_T(body, points)

    monkeypatch.setattr(force, "outside_field_T", counted)
    result = pair_force(BLOCK, OTHER, np.array([[30.0, -50.0, 80.0]]), np.eye(3))
    assert sum(evaluated) < 6 * (6**2 + 9**2 + 13**2)  # three orders on six faces
    assert np.linalg.norm(result.force_N) < 1e-12


def test_a_pose_where_symmetry_leaves_no_force_still_ends():
    # Crossed at right angles, in line: a torque but no force along the line.
    a = Body(Cuboid((0.01,) * 3), (0, 0, 1.0))
    b = Body(Cuboid((0.01,) * 3), (1.0, 0, 0))
    result = pair_force(a, b, np.array([[0, 0, 0.02]]), np.eye(3))
    assert abs(result.force_N[0, 2]) < 1e-12  # rounding of parts of 1 N
    assert abs(result.torque_Nm[0, 1]) > 1e-3


@pytest.mark.parametrize(("first", "second"), [(BLOCK, ROD), (ROD, BLOCK), (BALL, BLOCK)])
def test_the_error_of_a_torque_does_not_grow_with_the_number_of_poses(first, second):
    """Its arm is that of each pose, also where the roles are exchanged."""
    offsets = np.array([[0.0, 0.0, 0.03]] * 25)
    turns = np.repeat(Rotation.from_euler("x", 0.3).as_matrix()[None], 25, axis=0)
    many = pair_force(first, second, offsets, turns)
    alone = pair_force(first, second, offsets[:1], turns[:1])
    # The same pose, to rounding: not five times the arm.
    assert np.max(many.error_Nm) <= 1.5 * np.max(alone.error_Nm) + 1e-15
