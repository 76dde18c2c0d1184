"""Force and torque as derivatives of the interaction energy (virtual work, any textbook).

The energy ``W = -(1/mu0) integral of J2 . B1 dV`` over the second body is taken by volume
quadrature of magpylib's field, which shares no code with the surface charges of `pair_force`.
"""

from __future__ import annotations

import magpylib
import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from fieldsim.field.force.charge_field import Body
from fieldsim.field.force.magnet_force import MU0, pair_force
from fieldsim.machine.magnets import Cuboid

FIRST = Body(Cuboid((0.02, 0.012, 0.006)), (0.2, -0.1, 1.1))
SECOND = Body(Cuboid((0.012, 0.02, 0.008)), (0.7, 0.4, 0.9))
OFFSET = np.array([0.006, -0.004, 0.016])
TURN = Rotation.from_euler("xyz", [0.2, -0.3, 0.7])
STEP = 1e-3  # of an offset in cm and of an angle in rad: truncation and rounding both below 1e-8


def energy_J(offset: np.ndarray, turn: Rotation) -> float:
    x, w = np.polynomial.legendre.leggauss(16)
    grid = np.stack(np.meshgrid(x, x, x, indexing="ij"), axis=-1).reshape(-1, 3)
    half = np.asarray(SECOND.shape.size) / 2
    weight = np.einsum("i,j,k->ijk", w, w, w).ravel() * half.prod()
    source = magpylib.magnet.Cuboid(
        dimension=FIRST.shape.size, polarization=np.asarray(FIRST.polarization_T)
    )
    field = source.getB(turn.apply(grid * half) + offset)
    return float(-weight @ (field @ turn.apply(SECOND.polarization_T)) / MU0)


def slope(function) -> float:
    """Fourth-order central difference."""
    return (8 * (function(STEP) - function(-STEP)) - (function(2 * STEP) - function(-2 * STEP))) / (
        12 * STEP
    )


@pytest.fixture(scope="module")
def result():
    return pair_force(FIRST, SECOND, OFFSET[None], TURN.as_matrix())


@pytest.mark.parametrize("axis", range(3))
def test_force_is_minus_the_slope_of_the_energy(result, axis):
    direction = np.eye(3)[axis]
    expected = -slope(lambda s: energy_J(OFFSET + 0.01 * s * direction, TURN)) / 0.01
    # Fourth-order difference with a step of 10 um on a scale of 6 mm.
    assert result.force_N[0, axis] == pytest.approx(expected, abs=1e-7)


@pytest.mark.parametrize("axis", range(3))
def test_torque_is_minus_the_slope_of_the_energy(result, axis):
    direction = np.eye(3)[axis]
    expected = -slope(lambda s: energy_J(OFFSET, Rotation.from_rotvec(s * direction) * TURN))
    # Volume quadrature of order 16 and the difference: below 1e-9 of 0.02 N m.
    assert result.torque_Nm[0, axis] == pytest.approx(expected, abs=1e-9)
