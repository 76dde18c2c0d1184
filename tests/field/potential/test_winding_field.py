"""The field of a winding from charged rectangles, against its filaments; its potential."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from fieldsim.field.linkage.quadrature import gauss_legendre
from fieldsim.field.linkage.round_loop_field import round_loop_flux_density_T_per_A
from fieldsim.field.potential.rectangle_field import rectangle_flux_density_T_per_A
from fieldsim.field.potential.winding_field import in_coil_axes, winding_field, winding_potential
from fieldsim.machine.placed import PlacedCoil
from fieldsim.wire.corners import Corners

MU0 = 4e-7 * math.pi
COIL = PlacedCoil("c", (0.01, 0.02, 0.03), (0, 1, 1), (1, 0, 0), (0.024, 0.016), 0.012, 0.006, 1800)
PLACES = {  # in the coil's own axes
    "in the middle": (0.001, 0.002, 0.001),
    "in the opening near its wall": (0.011, 0.001, -0.004),
    "above": (0.004, -0.003, 0.011),
    "in the plane of an end, in the opening": (0.003, 0.002, 0.006),
    "in the plane of an end, outside": (0.025, 0.002, -0.006),
    "beside": (0.022, 0.005, 0.001),
    "far away": (0.1, -0.2, 0.15),
}


def in_space(places):
    return np.array(places) @ COIL.frame.T + np.array(COIL.centre)


@pytest.mark.parametrize("corners", Corners)
@pytest.mark.parametrize("place", PLACES.values(), ids=PLACES)
def test_it_is_the_field_of_the_filaments(place, corners):
    (x, w), (s, v) = gauss_legendre(40), gauss_legendre(12)
    depth = 0.003 * (s + 1)[:, None]
    at = (*(np.array(q) for q in place[:2]), place[2] - 0.006 * x)
    if corners is Corners.SHARP:
        parts = rectangle_flux_density_T_per_A(*at, 0.012 + depth, 0.008 + depth)
    else:
        parts = round_loop_flux_density_T_per_A(*at, (0.012, 0.008), depth, 24)
    local = np.array([np.einsum("dz,d,z->", part, v / 2, w / 2) for part in parts])
    expected = 1800 * COIL.frame @ local / MU0
    coil = replace(COIL, corners=corners)
    found = winding_field(coil, in_space([place]), 8)[0]
    assert found == pytest.approx(expected, rel=1e-6, abs=1e-6 * np.linalg.norm(expected))


@pytest.mark.parametrize("corners", Corners)
@pytest.mark.parametrize(
    ("through", "start", "end"),
    [
        (True, (0.004, 0.003, -0.02), (0.002, 0.001, 0.02)),
        (False, (0.03, 0.0, -0.02), (0.028, 0.02, 0.02)),
        (True, (0.03, 0.02, 0.02), (-0.03, 0.01, 0.02)),
    ],
)
def test_the_potential_is_what_the_field_loses_along_a_way(through, start, end, corners):
    coil = replace(COIL, corners=corners)
    x, w = gauss_legendre(200)
    way = np.array(end) - np.array(start)
    points = in_space(np.array(start) + (x[:, None] + 1) / 2 * way)
    along = float((winding_field(coil, points, 8) @ (COIL.frame @ way)) @ w / 2)
    ends = in_space([start, end])
    potential = winding_potential(coil, ends, 8, np.array([through, through]))
    assert potential[0] - potential[1] == pytest.approx(along, rel=1e-6)


def test_going_once_round_the_wire_is_all_turns():
    """Up through the opening and back outside: Ampere's law."""
    up, back = in_space([(0, 0, -9), (0, 0, 9)]), in_space([(9, 0, 9), (9, 0, -9)])
    inner = winding_potential(COIL, up, 8, np.array([True, True]))
    outer = winding_potential(COIL, back, 8, np.array([False, False]))
    assert inner[0] - inner[1] + outer[0] - outer[1] == pytest.approx(1800, rel=1e-5)


def test_points_come_in_any_number_and_in_coil_axes():
    places = np.random.default_rng(1).uniform(0.03, 0.2, (9000, 3))
    points = in_space(places)
    assert in_coil_axes(COIL, points) == pytest.approx(places)
    many = winding_field(COIL, points, 6)
    assert many[8000:8003] == pytest.approx(winding_field(COIL, points[8000:8003], 6), rel=1e-12)
