"""The field of loops with round corners: a circle, a rectangle, and chords in between."""

import math

import magpylib
import numpy as np
import pytest

from fieldsim.field.linkage.round_loop_field import round_loop_flux_density_T_per_A
from fieldsim.field.potential.rectangle_field import rectangle_flux_density_T_per_A

POINTS = np.random.default_rng(3).uniform((-0.03, -0.03, 0.01), (0.03, 0.03, 0.07), (40, 3))


def field(straight, radius, order=24, points=POINTS):
    x, y, z = points.T
    return np.stack(round_loop_flux_density_T_per_A(x, y, z, straight, np.array(radius), order)).T


def test_without_radius_it_is_a_rectangle():
    expected = rectangle_flux_density_T_per_A(*POINTS.T, np.array(0.012), np.array(0.008))
    assert field((0.012, 0.008), 0.0) == pytest.approx(np.stack(expected).T, abs=1e-17)


def test_without_straight_parts_it_is_a_circle():
    circle = magpylib.current.Circle(diameter=0.03, current=1.0)
    theirs = circle.getB(POINTS) * (4e-7 * math.pi / magpylib.mu_0)  # theirs is the measured mu0
    assert field((0.0, 0.0), 0.015) == pytest.approx(theirs, abs=1e-12 * np.abs(theirs).max())


@pytest.mark.parametrize("radius", [0.001, 0.006])
def test_chords_come_ever_nearer(radius):
    """A polygon in the bends is wrong by the square of its steps."""
    a, b = 0.012, 0.008
    values = []
    for chords in (24, 48):
        angle = np.linspace(0, math.pi / 2, chords + 1)[:, None]
        points = [
            np.array(centre) + radius * np.hstack([np.cos(angle + turn), np.sin(angle + turn)])
            for centre, turn in zip(
                ((a, -b), (a, b), (-a, b), (-a, -b)), np.arange(-1, 3) * math.pi / 2, strict=True
            )
        ]
        flat = np.vstack([*points, points[0][:1]])
        vertices = np.column_stack([flat, np.zeros(len(flat))])
        values.append(magpylib.current.Polyline(vertices=vertices, current=1.0).getB(POINTS))
    coarse, fine = (v * (4e-7 * math.pi / magpylib.mu_0) for v in values)
    ours = field((a, b), radius)
    size = np.abs(ours).max()
    assert np.abs(fine - ours).max() < 0.26 * np.abs(coarse - ours).max()
    assert (4 * fine - coarse) / 3 == pytest.approx(ours, abs=1e-8 * size)


def test_more_points_round_the_bend_win_digits():
    """Exponentially, the nearest loop being some two radii away."""
    best = field((0.012, 0.008), 0.006, 32)
    errors = [np.abs(field((0.012, 0.008), 0.006, n) - best).max() for n in (2, 4, 8)]
    assert errors[1] < 0.05 * errors[0]
    assert errors[2] < 0.01 * errors[1]
