"""The cuboid's vector potential against its surface currents, summed with mpmath to 25 digits.

The magnet is a sheet of current Br/mu0 round its sides (any textbook of magnetostatics, e.g.
J. D. Jackson, "Classical Electrodynamics", 3rd ed., section 5.8). The integral along the
magnetisation is elementary; the one along the sheet is left to mpmath's tanh-sinh rule. No
logarithm, arctangent or corner sum of the closed form is shared.
"""

from __future__ import annotations

import mpmath
import numpy as np
import pytest
from mpmath import mpf
from vector_potential import vector_potential_Wb_per_m

A, B, C = 0.01, 0.005, 0.0025  # half edges [m], exact in the call below as twice these
SIZE = (2 * A, 2 * B, 2 * C)


def column(rho, z, c):
    """Integral of 1/distance along a straight line from -c to c, seen at (rho, z)."""
    z = abs(z)  # the integral is even in z; now z + c is not negative
    up, low = z + c, z - c
    r1, r2 = mpmath.hypot(rho, up), mpmath.hypot(rho, low)
    if low > 0:
        return mpmath.log((up + r1) / (low + r2))
    return mpmath.log((up + r1) * (r2 - low) / (rho * rho))


def sheet(across, along, z, half, c):
    """Integral over a current sheet 2 half long and 2 c high, seen at the given offsets."""
    ends = [-half, half]
    if -half < along < half:
        ends.insert(1, along)  # the nearest line of the sheet: a kink or worse
    return mpmath.quad(lambda s: column(mpmath.hypot(across, along - s), z, c), ends)


def reference(point):
    """A of a magnet of 1 T along z: components x and y."""
    with mpmath.workdps(25):
        x, y, z = (mpf(float(v)) for v in point)
        a, b, c = mpf(A), mpf(B), mpf(C)
        a_y = sheet(x - a, y, z, b, c) - sheet(x + a, y, z, b, c)
        a_x = sheet(y + b, x, z, a, c) - sheet(y - b, x, z, a, c)
        return np.array([float(a_x), float(a_y)]) / (4 * np.pi)


# Beside an edge of length l at distance d the logarithm's argument has l / d**2 in it, whose
# rounding is relative to l**2 / d**2 and enters multiplied by d: harmless where windings can be.
NEAR_EDGE_M = {
    "a micrometre off an edge": 1e-6,
    "a nanometre off an edge": 1e-9,
    "a nanometre off an edge along z": 1e-9,
}

PLACES = {
    "beside the magnet": (0.013, 0.007, 0.004),
    "above it": (0.003, -0.002, 0.006),
    "inside": (0.004, 0.001, -0.001),
    "centre line along the magnetisation": (0.0, 0.0, 0.01),
    "line extending an edge along z": (A, B, 0.007),
    "line extending an edge along x": (0.02, B, C),
    "line extending an edge along y": (-A, 0.03, -C),
    "a micrometre beyond a corner, on the edge's line": (A, B, C + 1e-6),
    "plane extending a face across x": (A, 0.02, 0.001),
    "plane extending a face across y": (0.003, B, 0.008),
    "plane extending a pole face": (0.015, 0.002, C),
    "on a side face": (A, 0.002, 0.001),
    "on a pole face": (0.002, 0.001, C),
    "a micrometre off an edge": (A + 6e-7, 0.001, C + 8e-7),
    "a nanometre off an edge": (A + 6e-10, 0.001, C + 8e-10),
    "a nanometre off an edge along z": (A - 6e-10, B + 8e-10, 0.001),
    "a micrometre off a corner": (A + 5e-7, B + 5e-7, C + 7e-7),
    "ten sizes away": (0.15, -0.1, 0.12),
}


@pytest.mark.parametrize("name", PLACES)
def test_against_surface_currents(name):
    point = np.array(PLACES[name])
    ours = vector_potential_Wb_per_m(point, SIZE, (0.0, 0.0, 1.0))
    # Terms of size Br * distance / (4 pi) are summed, some tens of them, each rounded to 1e-16.
    tolerance = 4e-16 * max(np.linalg.norm(point), A)
    if name in NEAR_EDGE_M:
        tolerance += 1e-16 * (2 * A) ** 2 / (4 * np.pi * NEAR_EDGE_M[name])
    assert np.abs(ours[:2] - reference(point)).max() < tolerance
    assert ours[2] == 0.0


@pytest.mark.parametrize("axis", [0, 1])
def test_other_magnetisations(axis):
    """The same machinery with edges renamed, at a point with nothing special."""
    point = np.array([0.013, 0.007, 0.004])
    j = np.eye(3)[axis]
    # Rename the axes so that the magnetisation becomes the third one of the reference's block.
    back = 2 - axis
    global_size = np.roll(SIZE, -back)
    ours = vector_potential_Wb_per_m(np.roll(point, -back), tuple(global_size), tuple(j))
    assert np.roll(ours, back)[:2] == pytest.approx(reference(point), abs=4e-16 * 0.02)
