"""A flat winding's harmonics, bends and all, against plain quadrature over its area."""

import math

import numpy as np
import pytest
from winding_areas import EQUAL, by_area, by_bends

from fieldsim.field.linkage.ring_nodes import grid_on
from fieldsim.field.linkage.ring_patches import ring_patches
from fieldsim.field.linkage.ring_winding import forget_windings, winding_harmonics
from fieldsim.field.linkage.rings import rings_of
from fieldsim.field.linkage.track import CoilInRotor, Track
from fieldsim.machine.magnets import ArmAxis, Sphere
from fieldsim.wire.corners import Corners

MM = 1e-3
TRACK = Track(Sphere(10 * MM), 20 * MM, 14 * MM, ArmAxis.SHAFT)
PLACES = {
    "mirrored": ((0.0, 24.0), 0.0),
    "mirrored across": ((24.0, 0.0), 0.0),
    "beside": ((7.0, 24.0), 0.0),
    "askew": ((3.0, 26.0), 0.4),
}


def patches_of(centre_mm, turn, corners):
    c, s = math.cos(turn), math.sin(turn)
    frame = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
    centre = np.array([*centre_mm, 0.0]) * MM
    half = (9 * MM, 6 * MM)
    return ring_patches(TRACK, CoilInRotor(centre, frame, half, 5 * MM, 5 * MM, corners))


def nodes_on(patch, n_rho, n_z):
    (nodes,) = grid_on(rings_of([TRACK], [(patch,)]), np.array([[n_rho, n_z, 2, 2]])).near
    return nodes.some(0)


def whole_turns(centre_mm, turn, corners, n_rho, orders):
    """W of all four sides by area; a plane that mirrors a winding does not quite go through it."""
    off = (centre_mm[0] + 1e-9, centre_mm[1] + 1e-9)
    (patch,) = patches_of(off, turn, corners)
    assert patch.mirror is None
    (near,) = patches_of(centre_mm, turn, corners)
    return sum(
        by_area(side, near.rho_m, n_rho, orders, EQUAL)
        + by_bends(side, near.rho_m, n_rho, orders, 40)
        for side in patch.sides
    )


@pytest.mark.parametrize("corners", Corners)
@pytest.mark.parametrize("place", PLACES)
def test_straight_turns_and_bends(place, corners):
    """Of bends the highest orders are resolved roughly: so only half of them are looked at."""
    exact = whole_turns(*PLACES[place], corners, 8, range(12))
    (patch,) = patches_of(*PLACES[place], corners)
    found = winding_harmonics(patch, nodes_on(patch, 8, 1), 24)
    assert found.shape == (2, 8, 1, 24)
    assert np.abs(found[:, :, 0, :12] - exact).max() < 1e-8 * np.abs(exact).max()


@pytest.mark.parametrize("place", PLACES)
def test_fewer_nodes_and_orders_are_part_of_more(place):
    (patch,) = patches_of(*PLACES[place], Corners.SHARP)
    few, more = (nodes_on(patch, n, 2) for n in (5, 9))
    alone = winding_harmonics(patch, few, 16)
    forget_windings()
    part = winding_harmonics(patch, few, 16, part_of=(more, 40))
    assert part.shape == (2, 5, 1, 16)
    assert np.abs(part - alone).max() < 1e-12 * np.abs(alone).max()
