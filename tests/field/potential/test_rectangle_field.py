"""The field of rectangular loops: symmetries, broadcasting, and lines where terms degenerate."""

from __future__ import annotations

import math

import magpylib
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldsim.field.potential.rectangle_field import rectangle_flux_density_T_per_A

A, B = 0.02, 0.012


def field(x, y, z, half_x=A, half_y=B):
    arrays = [np.asarray(v, dtype=float) for v in (x, y, z, half_x, half_y)]
    return np.stack(rectangle_flux_density_T_per_A(*arrays))


def test_centre_of_a_rectangle():
    """2 mu0 sqrt(p^2 + q^2) / (pi p q); for 40 mm x 20 mm 4.47213595499958e-5 T/A."""
    assert field(0, 0, 0, 0.02, 0.01)[2] == pytest.approx(4.47213595499958e-5, rel=1e-14)


def test_on_the_axis_of_a_square():
    """mu0 s^2 / (2 pi (z^2 + s^2/4) sqrt(z^2 + s^2/2)), any textbook."""
    z, s = np.linspace(-0.1, 0.1, 9), 0.04
    expected = 4e-7 * s**2 / (2 * (z**2 + s**2 / 4) * np.sqrt(z**2 + s**2 / 2))
    b = field(0, 0, z, s / 2, s / 2)
    assert b[2] == pytest.approx(expected, rel=1e-13)
    assert np.abs(b[:2]).max() < 1e-20  # zero by symmetry


@pytest.mark.parametrize("seed", range(3))
def test_against_magpylib(seed):
    points = np.random.default_rng(seed).uniform(-0.05, 0.05, (300, 3))
    corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1], [-1, -1]]) * [A, B]
    loop = magpylib.current.Polyline(vertices=np.column_stack([corners, np.zeros(5)]), current=1)
    b = field(*points.T).T
    theirs = loop.getB(points) * (4e-7 * math.pi / magpylib.mu_0)  # theirs is the measured mu0
    # Rounding grows where a point is close to a filament's line: 1e-12 of the largest.
    assert np.abs(b - theirs).max() < 1e-12 * np.abs(b).max()


@settings(max_examples=50, deadline=None)
@given(*[st.floats(-0.05, 0.05)] * 3, st.floats(0.005, 0.03), st.floats(0.005, 0.03))
def test_mirrors(x, y, z, a, b):
    if min(abs(abs(x) - a), abs(abs(y) - b), abs(z)) < 1e-4:
        return
    bx, by, bz = field(x, y, z, a, b)
    size = math.hypot(bx, by, bz)
    # The same terms in another order.
    assert field(-x, y, z, a, b) == pytest.approx([-bx, by, bz], abs=1e-12 * size)
    assert field(x, -y, z, a, b) == pytest.approx([bx, -by, bz], abs=1e-12 * size)
    assert field(x, y, -z, a, b) == pytest.approx([-bx, -by, bz], abs=1e-12 * size)
    assert field(y, x, z, b, a) == pytest.approx([by, bx, bz], abs=1e-12 * size)


def test_finite_on_the_lines_that_extend_the_sides():
    with np.errstate(all="raise", under="ignore"):
        b = field([A + 0.01, -A - 0.01, A, 0.05], [B, -B, B + 0.02, B], 0.0)
    assert np.isfinite(b).all()
    near = field(np.array([A + 0.01, -A - 0.01, A, 0.05]) + 1e-9, [B, -B, B + 0.02, B], 1e-9)
    # Gradients there are below 1e-5 T / 1 mm an ampere.
    assert np.abs(b - near).max() < 1e-9 * 1e-2


def test_broadcasts_points_against_loops():
    x = np.array([0.0, 0.003])[:, None]
    halves = np.array([0.01, 0.02, 0.03])
    b = field(x, 0.001, 0.004, halves, halves)
    assert b.shape == (3, 2, 3)
    for i, j in np.ndindex(2, 3):
        alone = field(x[i, 0], 0.001, 0.004, halves[j], halves[j])
        assert b[:, i, j] == pytest.approx(alone, rel=1e-14)


def test_far_away_it_is_a_dipole():
    """mu0/(4 pi) (3 (m.r) r - m) / r^3 with m the area; the next term is (size / distance)^2."""
    for distance, tolerance in ((1.0, 2e-3), (10.0, 2e-5)):
        r = np.array([0.48, -0.6, 0.64])
        m = np.array([0.0, 0.0, 4 * A * B])
        expected = 1e-7 * (3 * (m @ r) * r - m) / distance**3
        assert field(*(r * distance)) == pytest.approx(
            expected, abs=tolerance * np.abs(expected).max()
        )
