"""Field of the surface charges: Maxwell outside, edges, and the charge that is there."""

from __future__ import annotations

import itertools
import math

import mpmath
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldsim.field.force.charge_field import Body, cuboid_charge_field_T, outside_field_T
from fieldsim.field.force.charge_points import charged_pieces
from fieldsim.machine.magnets import ArmAxis, Cuboid, Cylinder, Sphere

SIZE = (0.02, 0.012, 0.006)
SHAPES = [Cuboid(SIZE), Cylinder(0.012, 0.006), Cylinder(0.01, 0.02, ArmAxis.ARM), Sphere(0.014)]

component = st.floats(-1, 1)
vector = st.tuples(component, component, component)


# On the axis of a block L x W x D: (1/pi)(atan(LW / 2z s(z)) - atan(LW / 2(D+z) s(D+z))) Br with
# s(z) = sqrt(4 z^2 + L^2 + W^2), exact; values evaluated independently at 25 digits.
@pytest.mark.parametrize(
    ("size_mm", "z_mm", "expected"),
    [
        ((10, 10, 10), 5, 0.13478238623741),
        ((20, 10, 5), 3, 0.17094753992584),
        ((50, 25, 10), 10, 0.12234923712893),
        ((12, 20, 6), 8, 0.081680260935493),
        ((25.4, 25.4, 12.7), 12.7, 0.10257244981769),
        ((20, 20, 10), 100, 0.00054250788067375),
    ],
)
def test_on_axis(size_mm, z_mm, expected):
    size = tuple(1e-3 * s for s in size_mm)
    point = np.array([[0, 0, size[2] / 2 + 1e-3 * z_mm]])
    field = cuboid_charge_field_T(size, (0, 0, 1.0), point)[0]
    # Half a unit of the 14th printed digit, and rounding of arctangents of order one.
    assert field[2] == pytest.approx(expected, abs=5.2e-15)
    assert abs(field[:2]).max() < 1e-16


@given(vector)
@settings(max_examples=30, deadline=None)
def test_divergence_and_curl_vanish_outside(direction):
    body = Body(Cuboid(SIZE), (0.3, -0.4, 1.1))
    point = np.array(direction) * 0.01 + np.array([0.012, 0.008, 0.012])
    h = 1e-5
    steps = np.concatenate([h * np.eye(3), -h * np.eye(3)])
    b = outside_field_T(body, point + steps)
    gradient = (b[:3] - b[3:]) / (2 * h)  # [axis, component]
    if np.max(np.abs(point) - np.array(SIZE) / 2) < 1.5e-3:
        return  # too near an edge for this difference
    # Truncation h^2/6 of the third derivative, at 1.5 mm from an edge below 1e-5 of the slope.
    scale = np.abs(gradient).max()
    assert abs(np.trace(gradient)) < 1e-4 * scale
    assert np.abs(gradient - gradient.T).max() < 1e-4 * scale


def test_points_in_line_with_edges_and_faces_are_finite_and_continuous():
    x, y, z = (s / 2 for s in SIZE)
    special = np.array(
        [[x, y, 2 * z], [x, 2 * y, z], [2 * x, y, z], [x, 0, 3 * z], [-x, -y, -2 * z]]
    )
    at = cuboid_charge_field_T(SIZE, (0.5, 0.6, 0.7), special)
    beside = cuboid_charge_field_T(SIZE, (0.5, 0.6, 0.7), special + 1e-10)
    assert np.isfinite(at).all()
    # 0.1 nm at a slope of about 300 T/m.
    assert np.abs(at - beside).max() < 1e-6


def field_at_40_digits(j, point):
    """The sum over corners as it stands, in mpmath."""
    with mpmath.workdps(40):
        field = [mpmath.mpf(0)] * 3
        for w, *corner in itertools.product(range(3), (-1, 1), (-1, 1), (-1, 1)):
            sign = math.prod(corner)
            at = [mpmath.mpf(point[i]) + corner[i] * mpmath.mpf(SIZE[i]) / 2 for i in range(3)]
            r = mpmath.sqrt(sum(a * a for a in at))
            u, v = (w + 1) % 3, (w + 2) % 3
            scale = sign * mpmath.mpf(j[w]) / (4 * mpmath.pi)
            field[w] -= scale * mpmath.atan(at[u] * at[v] / (at[w] * r))
            field[u] += scale * mpmath.log(at[v] + r)
            field[v] += scale * mpmath.log(at[u] + r)
        return [float(component) for component in field]


@pytest.mark.parametrize(
    "point",
    [
        # 0.1 um off the middle of an edge, where ln(v + r) is one of a difference of equal numbers.
        (SIZE[0] / 2 + 1e-7, SIZE[1] / 2 + 1e-7, -0.001),
        (SIZE[0] / 2 + 1e-7, SIZE[1] / 2 + 1e-7, 0.0),
        (-0.004, SIZE[1] / 2 + 1e-7, -SIZE[2] / 2 - 1e-7),
        (0.013, -0.009, 0.011),
        (-0.03, 0.001, -0.002),
    ],
)
def test_no_digits_are_lost(point):
    j = (0.5, 0.3, 0.9)
    field = cuboid_charge_field_T(SIZE, j, np.array([point]))[0]
    # A few roundings of terms of 1 T.
    assert field == pytest.approx(field_at_40_digits(j, point), abs=2e-15)


def test_far_along_an_edge_line_no_digits_are_lost():
    # Beside the line of an edge ln(v + r) alone would lose 12 digits.
    x, y = SIZE[0] / 2, SIZE[1] / 2
    near = np.array([[x + 1e-9, y + 1e-9, -0.5], [x - 1e-9, y - 1e-9, -0.5]])
    field = cuboid_charge_field_T(SIZE, (0.2, 0.3, 0.9), near)
    mirrored = cuboid_charge_field_T(SIZE, (0.2, 0.3, -0.9), near * [1, 1, -1])
    assert field[:, :2] == pytest.approx(mirrored[:, :2], rel=1e-9)
    moment = math.prod(SIZE) * np.array([0.2, 0.3, 0.9])
    r = near[0]
    dipole = (3 * r * (moment @ r) / (r @ r) - moment) / (4 * math.pi * (r @ r) ** 1.5)
    assert field[0] == pytest.approx(dipole, rel=5e-3)  # (size / distance)^2


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("j", [(1.0, 0, 0), (0, 0.8, 0), (0.2, -0.5, 1.1)])
def test_charges_add_up_to_nothing_and_to_the_moment(shape, j):
    nodes = [piece.nodes(12) for piece in charged_pieces(Body(shape, j))]
    points, charges = (np.concatenate(column) for column in zip(*nodes, strict=True))
    scale = np.abs(charges).sum()
    assert abs(charges.sum()) < 1e-13 * scale  # rounding
    moment = shape.volume_m3 * np.array(j)
    assert charges @ points == pytest.approx(moment, abs=1e-12 * np.linalg.norm(moment))


def test_a_body_without_polarisation_has_no_charge():
    assert charged_pieces(Body(Cuboid(SIZE), (0, 0, 0))) == []
