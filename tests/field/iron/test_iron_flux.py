"""Flux density with iron in an even field, against closed forms."""

from __future__ import annotations

import numpy as np
import pytest

from fieldsim.field.iron.iron_flux import flux_with_iron_T
from fieldsim.machine.iron import Ball
from fieldsim.machine.materials import Material
from fieldsim.machine.placed import PlacedIron

EVEN_T = np.array([0.02, -0.01, 0.05])
RADIUS_m = 0.01
CENTRE = (0.003, 0.001, -0.002)


def even(at):
    return np.broadcast_to(EVEN_T, at.shape).copy()


def far(at):
    return np.full(len(at), 1.0)


def piece(shape, permeability):
    return PlacedIron("p", shape, CENTRE, (0, 0, 1), (1, 0, 0), Material(permeability))


def points(low, high):
    """Return places between two distances from the middle, in all directions."""
    rng = np.random.default_rng(3)
    way = rng.normal(size=(60, 3))
    way /= np.linalg.norm(way, axis=1, keepdims=True)
    return rng.uniform(low, high, (60, 1)) * RADIUS_m * way


@pytest.mark.parametrize("permeability", [1.5, 20.0, 2000.0, 900_000.0])
def test_a_ball_in_an_even_field(permeability):
    """Inside 3 mu/(mu + 2) of the field, outside that of a dipole besides."""
    iron = piece(Ball(2 * RADIUS_m), permeability)
    inside = flux_with_iron_T([iron], [far], even, CENTRE + points(0.0, 0.5))
    expected = 3 * permeability / (permeability + 2) * EVEN_T
    assert np.allclose(inside, expected, rtol=0, atol=1e-3 * np.linalg.norm(expected))
    r = points(1.5, 4.0)
    outside = flux_with_iron_T([iron], [far], even, CENTRE + r)
    size = np.linalg.norm(r, axis=1, keepdims=True)
    way = r / size
    share = (permeability - 1) / (permeability + 2) * (RADIUS_m / size) ** 3
    dipole = share * (3 * way * (way @ EVEN_T)[:, None] - EVEN_T)
    assert np.allclose(outside, EVEN_T + dipole, rtol=0, atol=1e-3 * np.linalg.norm(EVEN_T))
