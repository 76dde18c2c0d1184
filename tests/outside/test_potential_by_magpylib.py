"""The curl of the cuboid's vector potential against magpylib's field of the same cuboid."""

from __future__ import annotations

import magpylib
import numpy as np
import pytest
from vector_potential import vector_potential_Wb_per_m

SIZE = (0.02, 0.01, 0.005)
# Weights of the central first difference of eighth order, at steps 1 to 4 (B. Fornberg,
# Mathematics of Computation 51 (1988) 699-706, table 1).
WEIGHTS = np.array([4 / 5, -1 / 5, 4 / 105, -1 / 280])


def gradient(points, polarization, step):
    """Return dA_i/dx_j, shape (points, 3, 3)."""
    columns = []
    for j in range(3):
        shift = np.eye(3)[j] * step
        columns.append(
            sum(
                w
                * (
                    vector_potential_Wb_per_m(points + k * shift, SIZE, polarization)
                    - vector_potential_Wb_per_m(points - k * shift, SIZE, polarization)
                )
                for k, w in enumerate(WEIGHTS, start=1)
            )
            / step
        )
    return np.stack(columns, axis=-1)


def curl(g):
    return np.stack(
        [g[:, 2, 1] - g[:, 1, 2], g[:, 0, 2] - g[:, 2, 0], g[:, 1, 0] - g[:, 0, 1]], axis=1
    )


def field(points, polarization):
    magnet = magpylib.magnet.Cuboid(dimension=SIZE, polarization=polarization)
    return magpylib.getB(magnet, points)


def clear_of_the_surface(points, by):
    """The surface is where A has kinks, which no difference may straddle."""
    half = np.array(SIZE) / 2
    off = np.abs(points) - half
    outside = np.linalg.norm(np.maximum(off, 0.0), axis=1)
    inside = -off.max(axis=1)
    return points[np.maximum(outside, inside) > by]


POLARIZATIONS = [(1.2, 0.0, 0.0), (0.0, 1.2, 0.0), (0.0, 0.0, 1.2), (0.3, -0.5, 1.1)]


@pytest.mark.parametrize("polarization", POLARIZATIONS)
def test_curl_is_the_field(polarization):
    """Inside the magnet too: the flux density there includes the magnetisation."""
    points = np.random.default_rng(5).uniform(-0.015, 0.015, (2000, 3))
    points = clear_of_the_surface(points, 1.5e-3)
    b = curl(gradient(points, polarization, 5e-5))
    # Truncation (4 steps / 1.5 mm)^8 / 630 is below 1e-10; rounding 1e-16 * 0.02 m / step 1e-13.
    assert np.abs(b - field(points, polarization)).max() < 1e-9


@pytest.mark.parametrize("polarization", POLARIZATIONS)
def test_no_divergence(polarization):
    points = np.random.default_rng(6).uniform(-0.015, 0.015, (2000, 3))
    points = clear_of_the_surface(points, 1.5e-3)
    g = gradient(points, polarization, 5e-5)
    assert np.abs(np.trace(g, axis1=1, axis2=2)).max() < 1e-9  # as for the curl


def test_curl_on_lines_and_planes_through_the_edges():
    """Where the closed form degenerates: the differences straddle such lines and planes."""
    x, y, z = np.array(SIZE) / 2
    points = np.array(
        [
            (x, y, z + 0.004),
            (x + 0.004, y, z),
            (x, y + 0.004, z),
            (-x, -y, -z - 0.002),
            (x, 0.001, z + 0.003),
            (x + 0.003, y, 0.001),
            (0.004, y + 0.003, z),
        ]
    )
    b = curl(gradient(points, (0.3, -0.5, 1.1), 5e-5))
    # magpylib's field on such places was checked by them; here the nearest is 2 mm off.
    assert np.abs(b - field(points, (0.3, -0.5, 1.1))).max() < 1e-9


def test_curl_close_to_an_edge():
    """A tenth of a millimetre off: the steps shrink with the distance."""
    x, y, z = np.array(SIZE) / 2
    points = np.array([(x + 6e-5, 0.001, z + 8e-5), (x + 6e-5, y + 8e-5, 0.001)])
    b = curl(gradient(points, (0.3, -0.5, 1.1), 3e-6))
    # Truncation as above at the same step over distance; rounding 1e-16 * 0.02 / 3e-6 = 1e-12.
    assert np.abs(b - field(points, (0.3, -0.5, 1.1))).max() < 1e-8
