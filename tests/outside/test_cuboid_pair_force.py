"""Force between two cuboid magnets against published geometry and closed forms.

Source: G. Akoun and J.-P. Yonnet, "3D analytical calculation of the forces exerted between two
cuboidal magnets", IEEE Trans. Magn. 20(5) 1962-1964 (1984). The paper's worked example gives its
results as a graph; geometry from memory of the paper, values from its closed form evaluated
independently (40-point Gauss quadrature and a 64-term sum agree to every digit printed), and once
more here with the 64-term sum written out.
"""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from fieldsim.field.force.charge_field import Body
from fieldsim.field.force.magnet_force import MU0, pair_force
from fieldsim.machine.magnets import Cuboid, Cylinder, Sphere

FIRST = Body(Cuboid((0.020, 0.012, 0.006)), (0.0, 0.0, 0.38))
SECOND = Body(Cuboid((0.012, 0.020, 0.006)), (0.0, 0.0, 0.38))
CUBE = Body(Cuboid((0.01, 0.01, 0.01)), (0.0, 0.0, 1.0))

# x shift [mm], Fx, Fy, Fz [N]
PAIR_TABLE = [
    (0, 0.58835582, 0.58835582, -1.77364039),
    (4, 0.0, 0.637580444, -1.85337278),
    (8, -0.58835582, 0.58835582, -1.77364039),
    (12, -1.06769049, 0.42478811, -1.05856298),
    (16, -1.0552341, 0.22064412, -0.23849515),
    (20, -0.56714627, 0.05729245, 0.41019894),
    (24, -0.0705877712, -2.5028e-5, 0.330538341),
    (28, 0.03604482, -0.00772139, 0.16633621),
]


def closed_form_force(size_1, size_2, offset, j_1, j_2):
    """The 64-term sum for parallel edges and both polarisations along z."""
    total = np.zeros(3)
    for i, j, k, m, p, q in itertools.product((0, 1), repeat=6):
        sign = (-1) ** (i + j + k + m + p + q)
        u = offset[0] + (-1) ** j * size_2[0] / 2 - (-1) ** i * size_1[0] / 2
        v = offset[1] + (-1) ** m * size_2[1] / 2 - (-1) ** k * size_1[1] / 2
        w = offset[2] + (-1) ** q * size_2[2] / 2 - (-1) ** p * size_1[2] / 2
        r = math.sqrt(u * u + v * v + w * w)
        angle = math.atan(u * v / (w * r)) if w else 0.0
        total += sign * np.array(
            [
                (v * v - w * w) / 2 * math.log(r - u)
                + u * v * math.log(r - v)
                + v * w * angle
                + r * u / 2,
                (u * u - w * w) / 2 * math.log(r - v)
                + u * v * math.log(r - u)
                + u * w * angle
                + r * v / 2,
                -u * w * math.log(r - u) - v * w * math.log(r - v) + u * v * angle - r * w,
            ]
        )
    return j_1 * j_2 / (4 * math.pi * MU0) * total


@pytest.fixture(scope="module")
def moved_along_x():
    shift = np.array([row[0] for row in PAIR_TABLE]) * 1e-3
    offset = np.stack([shift - 0.004, np.full(8, -0.004), np.full(8, 0.008)], axis=1)
    return offset, pair_force(FIRST, SECOND, offset, np.eye(3))


@pytest.mark.parametrize("row", range(len(PAIR_TABLE)))
def test_published_pair_over_all_shifts(moved_along_x, row):
    # 2e-8 N: half a unit of the last printed digit, and the reported error of the quadrature.
    assert moved_along_x[1].force_N[row] == pytest.approx(PAIR_TABLE[row][1:], abs=2e-8)


def test_reported_error_covers_the_difference_from_the_closed_form(moved_along_x):
    offset, result = moved_along_x
    exact = np.array(
        [closed_form_force(FIRST.shape.size, SECOND.shape.size, o, 0.38, 0.38) for o in offset]
    )
    off = np.linalg.norm(result.force_N - exact, axis=1)
    # 1e-12 N: rounding in the 64-term sum, whose terms cancel by four digits.
    assert (off <= result.error_N + 1e-12).all()
    assert off.max() < 1e-8


def test_remanence_enters_as_the_product():
    strong = pair_force(
        Body(FIRST.shape, (0, 0, 1.2)),
        Body(SECOND.shape, (0, 0, 1.2)),
        np.array([[-0.004, -0.004, 0.008]]),
        np.eye(3),
    )
    assert strong.force_N[0, 2] == pytest.approx(-17.68727259, abs=2e-7)  # eight printed digits


# gap [mm], |F| [N]: closed form, evaluated independently
EQUAL_CUBES = [
    (1, 20.35970956),
    (2, 14.67253349),
    (5, 6.568293225),
    (10, 2.251013236),
    (20, 0.4635065378),
    (50, 0.02929458457),
]


@pytest.mark.parametrize(("gap_mm", "force_N"), EQUAL_CUBES)
def test_equal_cubes_in_line(gap_mm, force_N):
    result = pair_force(CUBE, CUBE, np.array([[0, 0, 0.01 + gap_mm * 1e-3]]), np.eye(3))
    assert result.force_N[0, 2] == pytest.approx(-force_N, rel=3e-10)  # ten printed digits
    assert abs(result.force_N[0, :2]).max() < 1e-12 * force_N + 1e-14  # by symmetry


def test_nearly_touching_cubes_stay_within_the_reported_error():
    # A gap of 1 um: the quadrature cannot resolve the edges, and must say so.
    result = pair_force(CUBE, CUBE, np.array([[0, 0, 0.010001]]), np.eye(3))
    off = abs(result.force_N[0, 2] + 32.33198254)
    assert off < result.error_N[0]
    assert off < 1e-4 * 32.3  # still better than any magnet's data sheet
    assert -result.force_N[0, 2] < 39.7887  # J^2 A / 2 mu0, reached by endless bars only


# radius and length of both [mm], gap [mm], |F| [N]; Hankel integral and charged-disc quadrature
COAXIAL_CYLINDERS = [
    (5, 10, 5, 10, 5, 4.84761298074),
    (5, 5, 5, 5, 2, 7.6026687959),
    (10, 5, 5, 10, 5, 5.90946557974),
]


@pytest.mark.parametrize("row", COAXIAL_CYLINDERS)
def test_coaxial_cylinders(row):
    r1, l1, r2, l2, gap = (1e-3 * v for v in row[:5])
    first = Body(Cylinder(2 * r1, l1), (0, 0, 1.0))
    second = Body(Cylinder(2 * r2, l2), (0, 0, 1.0))
    result = pair_force(first, second, np.array([[0, 0, gap + (l1 + l2) / 2]]), np.eye(3))
    assert result.force_N[0, 2] == pytest.approx(-row[5], rel=1e-8)  # the default tolerance


@pytest.mark.parametrize("shape", [Cuboid((0.01,) * 3), Cylinder(0.01, 0.008), Sphere(0.01)])
def test_far_away_it_is_the_force_between_dipoles(shape):
    body = Body(shape, (0, 0, 1.0))
    moment = shape.volume_m3 / MU0
    distance = 1.0
    result = pair_force(body, body, np.array([[0, 0, distance]]), np.eye(3))
    dipoles = 3 * MU0 * moment**2 / (2 * math.pi * distance**4)  # any textbook
    # Next term of the expansion: (size / distance)^2 = 1e-4 (none for the sphere).
    assert result.force_N[0, 2] == pytest.approx(-dipoles, rel=5e-4)


def test_spheres_are_exact_dipoles_even_when_close():
    ball = Body(Sphere(0.01), (0, 0, 1.0))
    moment = ball.shape.volume_m3 / MU0
    distance = 0.011
    along = pair_force(ball, ball, np.array([[0, 0, distance]]), np.eye(3))
    beside = pair_force(ball, ball, np.array([[distance, 0, 0]]), np.eye(3))
    dipoles = 3 * MU0 * moment**2 / (2 * math.pi * distance**4)
    assert along.force_N[0, 2] == pytest.approx(-dipoles, rel=1e-8)  # the default tolerance
    assert beside.force_N[0, 0] == pytest.approx(dipoles / 2, rel=1e-8)


def test_crossed_polarisation_turns_the_upper_cube():
    # 4 significant digits: the reference itself comes from a mesh, good to 1e-4.
    upper = Body(CUBE.shape, (1.0, 0, 0))
    result = pair_force(CUBE, upper, np.array([[0, 0, 0.03]]), np.eye(3))
    assert result.force_N[0, 0] == pytest.approx(0.231753, rel=1e-4)
    assert result.torque_Nm[0, 1] == pytest.approx(-4.64292e-3, rel=1e-4)
