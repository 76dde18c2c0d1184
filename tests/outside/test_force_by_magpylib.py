"""Force and torque against magpylib's own ``getFT``, which meshes the target into cells."""

from __future__ import annotations

import magpylib
import numpy as np
import pytest
from machines import si_magnet, si_mounted, si_rotor, si_shaft
from scipy.spatial.transform import Rotation

from fieldsim.field.force.charge_field import Body, outside_field_T
from fieldsim.field.force.magnet_force import pair_force
from fieldsim.field.force.rotor_force import rotor_forces
from fieldsim.machine.magnets import ArmAxis, Cuboid, Cylinder, North, Sphere

SHAPES = {
    "block": Cuboid((0.02, 0.01, 0.005)),
    "standing cylinder": Cylinder(0.012, 0.008),
    "lying cylinder": Cylinder(0.012, 0.008, ArmAxis.ARM),
    "cylinder across": Cylinder(0.012, 0.008, ArmAxis.FORWARD),
    "ball": Sphere(0.012),
}
OFFSET = np.array([0.012, -0.007, 0.019])
TURN = Rotation.from_euler("xyz", [0.3, -0.5, 1.1])


def as_magpylib(body: Body):
    j = np.asarray(body.polarization_T)
    if isinstance(body.shape, Cuboid):
        return magpylib.magnet.Cuboid(dimension=body.shape.size, polarization=j)
    if isinstance(body.shape, Sphere):
        return magpylib.magnet.Sphere(diameter=body.shape.diameter, polarization=j)
    # Theirs stands along z: turn z onto the axis, and the polarisation back into its axes.
    turn = {
        ArmAxis.SHAFT: Rotation.identity(),
        ArmAxis.ARM: Rotation.from_euler("y", 90, degrees=True),
        ArmAxis.FORWARD: Rotation.from_euler("x", -90, degrees=True),
    }[body.shape.axis]
    cylinder = magpylib.magnet.Cylinder(
        dimension=(body.shape.diameter, body.shape.thickness), polarization=turn.inv().apply(j)
    )
    cylinder.rotate(turn, anchor=(0, 0, 0))
    return cylinder


@pytest.mark.parametrize("name", SHAPES)
def test_field_outside(name):
    body = Body(SHAPES[name], (0.3, -0.5, 1.1))
    generator = np.random.default_rng(2)
    points = generator.normal(size=(200, 3))
    # Outside the ball around the largest shape, in every direction.
    points *= (generator.uniform(0.0125, 0.05, 200) / np.linalg.norm(points, axis=1))[:, None]
    expected = as_magpylib(body).getB(points)
    # Two closed forms in double precision; the largest field here is about 0.1 T.
    assert np.abs(outside_field_T(body, points) - expected).max() < 1e-13


@pytest.mark.parametrize("second", SHAPES)
@pytest.mark.parametrize("first", ["block", "standing cylinder", "ball"])
def test_pairs_in_a_general_pose(first, second):
    a, b = Body(SHAPES[first], (0.2, 0.4, 1.0)), Body(SHAPES[second], (0.9, -0.3, 0.5))
    ours = pair_force(a, b, OFFSET[None], TURN.as_matrix())
    target = as_magpylib(b)
    target.rotate(TURN, anchor=(0, 0, 0))
    target.move(OFFSET)
    force, torque = magpylib.getFT(as_magpylib(a), target, meshing=4000, pivot=OFFSET)
    # Their mesh of 4000 cells is good to about (1/16)^2 / 10 of the nearest detail.
    assert np.linalg.norm(ours.force_N[0] - force) < 2e-3 * np.linalg.norm(force)
    assert np.linalg.norm(ours.torque_Nm[0] - torque) < 2e-3 * np.linalg.norm(torque)


def test_rotor_on_rotor_with_skew_shafts():
    bar = si_magnet("bar", Cuboid((0.012, 0.01, 0.006)), 1.2)
    disc = si_magnet("disc", Cylinder(0.01, 0.006, ArmAxis.ARM), 1.1)
    first = si_rotor(
        "first",
        si_shaft((0.001, 0.002, -0.003), (0.1, 0.0, 1.0)),
        (1, 0.3, 0),
        (
            si_mounted(bar, 0.02, 0.2, 0.004, North.PLUS_SHAFT),
            si_mounted(bar, 0.02, 2.5, 0.004, North.MINUS_SHAFT),
        ),
    )
    second = si_rotor(
        "second",
        si_shaft((0.01, 0.0, 0.03), (0.0, 0.3, -1.0)),
        (0, 1, 0),
        (
            si_mounted(disc, 0.018, 0.0, 0.0, North.OUT),
            si_mounted(bar, 0.022, 2.0, 0.001, North.BACK),
        ),
    )
    angles = np.array([0.4, 1.7, 4.0])
    forces = rotor_forces(first, second, angles, -2 * angles)
    for k, angle in enumerate(angles):
        sources = magpylib.Collection(*_placed(first, angle))
        targets = _placed(second, -2 * angle)
        pivot = np.asarray(second.shaft.through)
        force, moment = magpylib.getFT(sources, targets, meshing=3000, pivot=pivot)
        # Mesh of 3000 cells, as above.
        assert np.linalg.norm(forces.force_on_second_N[k] - force.sum(0)) < 2e-3 * np.linalg.norm(
            force.sum(0)
        )
        torque = moment.sum(0) @ np.asarray(second.shaft.along)
        assert forces.torque_on_second_Nm[k] == pytest.approx(
            torque, abs=2e-3 * np.linalg.norm(moment.sum(0))
        )


def _placed(rotor, angle):
    """Magnets placed by magpylib's own rotations, not by ours."""
    placed = []
    along = np.asarray(rotor.shaft.along)
    through = np.asarray(rotor.shaft.through)
    frame = Rotation.from_matrix(rotor.frame)
    for mounted in rotor.magnets:
        source = as_magpylib(Body.from_mounted(mounted))
        source.rotate(frame, anchor=(0, 0, 0))
        source.move(frame.apply([mounted.radius, 0, mounted.height]) + through)
        source.rotate(Rotation.from_rotvec(along * (angle + mounted.angle)), anchor=through)
        placed.append(source)
    return placed
