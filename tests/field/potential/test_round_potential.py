"""Potentials of cylinders and balls against quadrature to many digits, and against magpylib."""

from __future__ import annotations

import math

import magpylib
import mpmath as mp
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldsim.field.potential.round_potential import (
    ball_gradient,
    cylinder_axial_gradient,
    cylinder_radial_gradient,
)

RADIUS, HALF = 0.006, 0.002


def by_quadrature(r, z):
    """Radial and axial derivative from the integrals round the rim, to 25 digits."""
    with mp.workdps(25):
        a, r, z, h = (mp.mpf(v) for v in (RADIUS, r, z, HALF))

        def rim(integrand):
            return 2 * mp.quad(integrand, [0, 0.02, 0.1, 0.5, 1.5, mp.pi])

        def c2(psi):
            return a**2 + r**2 - 2 * a * r * mp.cos(psi)

        def radial(zeta):
            return a * rim(lambda psi: mp.cos(psi) * mp.asinh(zeta / mp.sqrt(c2(psi))))

        def disc(zeta):
            def f(psi):
                grown = c2(psi) / (mp.sqrt(c2(psi) + zeta**2) + abs(zeta))
                return (a**2 - a * r * mp.cos(psi)) * grown / c2(psi)

            return rim(f)

        return float(radial(z - h) - radial(z + h)), float(disc(z + h) - disc(z - h))


@pytest.mark.parametrize(
    ("r", "z"),
    [
        (0.003, 0.004), (0.0059, 0.0025), (0.0065, 0.001), (0.00601, 0.0021), (0.02, 0.01),
        (1e-6, 0.003), (0.0, -0.003), (0.03, 0.0),
    ],
)  # fmt: skip
def test_cylinder_against_quadrature(r, z):
    point = np.array([r]), np.array([z])
    radial, axial = by_quadrature(r, z)
    # rounding of a few operations on lengths of the size of the cylinder
    assert cylinder_radial_gradient(*point, RADIUS, HALF)[0] == pytest.approx(
        radial, rel=1e-12, abs=1e-16
    )
    assert cylinder_axial_gradient(*point, RADIUS, HALF)[0] == pytest.approx(
        axial, rel=1e-12, abs=1e-16
    )


@pytest.mark.parametrize("z", [0.0025, -0.01])
def test_values_on_the_mantle_s_continuation_are_those_beside_it(z):
    r = RADIUS * np.array([1 - 1e-9, 1.0, 1 + 1e-9])
    for gradient in (cylinder_radial_gradient, cylinder_axial_gradient):
        values = gradient(r, np.full(3, z), RADIUS, HALF)
        assert np.isfinite(values).all()
        assert values[1] == pytest.approx(values[[0, 2]].mean(), rel=1e-6)


def curl_B(gradient_pair, points, step=2e-6):
    """Return the axial flux density of 1 T along z from A = grad(phi) x z / (4 pi)."""
    dx, dy = np.array([step, 0, 0]), np.array([0, step, 0])
    ax = [gradient_pair(points + s * dy)[1] / (4 * math.pi) for s in (-1, 1)]
    ay = [-gradient_pair(points + s * dx)[0] / (4 * math.pi) for s in (-1, 1)]
    return (ay[1] - ay[0] - ax[1] + ax[0]) / (2 * step)


POINTS = np.array([[0.004, 0.001, 0.0035], [0.009, -0.004, 0.001], [0.001, 0.012, -0.006]])


def test_cylinder_field_is_that_of_magpylib():
    def pair(p):
        r = np.hypot(p[:, 0], p[:, 1])
        g = cylinder_radial_gradient(r, p[:, 2], RADIUS, HALF) / r
        return g * p[:, 0], g * p[:, 1]

    magnet = magpylib.magnet.Cylinder(dimension=(2 * RADIUS, 2 * HALF), polarization=(0, 0, 1))
    # central differences over 2 um: (2 um / mm)^2
    assert curl_B(pair, POINTS) == pytest.approx(magnet.getB(POINTS)[:, 2], rel=1e-5, abs=1e-6)


def test_ball_field_is_that_of_magpylib():
    magnet = magpylib.magnet.Sphere(diameter=2 * 0.003, polarization=(0, 0, 1))

    def pair(p):
        return ball_gradient(p[:, 0], p[:, 1], p[:, 2], 0.003)

    assert curl_B(pair, POINTS) == pytest.approx(magnet.getB(POINTS)[:, 2], rel=1e-5, abs=1e-6)


@settings(max_examples=50, deadline=None)
@given(st.floats(0.0, 0.05), st.floats(0.0021, 0.05))
def test_signs_and_mirror(r, z):
    """Attraction points to the body, from both sides alike."""
    r_, z_ = np.array([r]), np.array([z])
    radial = cylinder_radial_gradient(r_, z_, RADIUS, HALF)
    axial = cylinder_axial_gradient(r_, z_, RADIUS, HALF)
    rounding = 1e-11 * abs(axial[0])  # near the axis the radial part is next to nothing
    assert axial[0] < 0
    assert radial[0] <= rounding
    assert cylinder_radial_gradient(r_, -z_, RADIUS, HALF) == pytest.approx(
        radial, rel=1e-9, abs=rounding
    )
    assert cylinder_axial_gradient(r_, -z_, RADIUS, HALF) == pytest.approx(-axial, rel=1e-9)
