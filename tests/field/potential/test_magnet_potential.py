"""The scalar potential of magnets: its slope is the field that magpylib gives."""

from __future__ import annotations

import math

import magpylib
import numpy as np
import pytest
from machines import ball, block, disc

from fieldsim.field.potential.magnet_potential import magnet_potential
from fieldsim.machine.magnets import ArmAxis

SHAPES = {
    "block": block(20, 10, 5),
    "disc": disc(12, 5),
    "rod": disc(8, 14, ArmAxis.ARM),
    "roller": disc(8, 14, ArmAxis.FORWARD),
    "ball": ball(10),
}
POINTS = np.array([[0.014, 0.003, 0.002], [0.001, 0.009, -0.001], [-0.02, 0.03, 0.05]]).T


def theirs(shape, north):
    """Return mu0 H of one tesla at the points, (3, points)."""
    polarization = np.eye(3)[north]
    if shape == SHAPES["block"]:
        body = magpylib.magnet.Cuboid(polarization=polarization, dimension=shape.size)
    elif shape == SHAPES["ball"]:
        body = magpylib.magnet.Sphere(polarization=polarization, diameter=shape.diameter)
    else:
        axis = shape.axis.value
        # Their cylinder lies along z: turn it, and the polarization into its axes.
        turn = np.roll(np.eye(3), axis + 1, axis=0)
        body = magpylib.magnet.Cylinder(
            polarization=turn.T @ polarization, dimension=(shape.diameter, shape.thickness)
        )
        return magpylib.mu_0 * (turn @ body.getH((turn.T @ POINTS).T).T)
    return magpylib.mu_0 * body.getH(POINTS.T).T


@pytest.mark.parametrize("north", [0, 1, 2])
@pytest.mark.parametrize("shape", SHAPES.values(), ids=SHAPES)
def test_its_slope_is_minus_the_field(shape, north):
    h, expected = 1e-6, theirs(shape, north)
    for axis in range(3):
        step = np.zeros((3, 1))
        step[axis] = h
        rise = magnet_potential(shape, POINTS + step, north) - magnet_potential(
            shape, POINTS - step, north
        )
        # A central difference over 2 um of a field that changes over millimetres.
        assert -rise / (2 * h) == pytest.approx(expected[axis], abs=2e-6 * np.abs(expected).max())


@pytest.mark.parametrize("shape", SHAPES.values(), ids=SHAPES)
def test_far_away_it_is_a_dipole(shape):
    for north in range(3):
        place = np.array([[3.0], [4.0], [5.0]])
        distance = math.sqrt(50.0)
        expected = shape.volume_m3 * place[north] / (4 * math.pi * distance**3)
        # Rounding grows with the cube of distance over size.
        assert magnet_potential(shape, place, north) == pytest.approx(expected, rel=2e-5)
