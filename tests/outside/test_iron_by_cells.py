"""A block of iron between a magnet and a coil, by evenly magnetised cells and magpylib's fields.

The independent way: cut the iron into cells, each with a moment of its own, and let every cell feel
the magnet and all other cells at its middle. It shares nothing with charge on surfaces but the law
M = chi H, and comes to the same slowly, the more so the more permeable the iron is.
"""

from __future__ import annotations

import math

import magpylib
import numpy as np
import pytest
from machines import MM, block, coil, mounted, rotor

from fieldsim.field.iron.coil_iron import CoilIron
from fieldsim.field.linkage.pair_linkage import pair_linkage, sample_series
from fieldsim.machine.iron import Block, Disc
from fieldsim.machine.materials import Material
from fieldsim.machine.placed import PlacedIron

PICKUP = coil(turns=100)
TURNING = rotor(mounted(block(20, 10, 5), height=16))
ANGLES = (0, 60, 90, 120)  # of 360


def cells(size, centre, counts):
    """Return the middles and the common size of cells that fill a block [m]."""
    steps = [(np.arange(n) + 0.5) / n - 0.5 for n in counts]
    grid = np.stack(np.meshgrid(*steps, indexing="ij"), axis=-1).reshape(-1, 3)
    return np.array(centre) + grid * size, np.array(size) / counts


def turns():
    """Return points in the area of the turns [m], and the linkage of 1 T along the axis [m2]."""
    x, w = np.polynomial.legendre.leggauss(12)
    s, v = np.polynomial.legendre.leggauss(3)
    points, weights = [], []
    for u, wu in zip(s, v, strict=True):
        a, b = (o / 2 + PICKUP.build * (u + 1) / 2 for o in PICKUP.opening)
        for z, wz in zip(s, v, strict=True):
            grid = np.stack(np.meshgrid(a * x, b * x, [PICKUP.length / 2 * z]), -1).reshape(-1, 3)
            points.append(grid + np.array(PICKUP.centre))
            weights.append(PICKUP.turns * wu / 2 * wz / 2 * a * b * np.outer(w, w).ravel())
    return np.concatenate(points), np.concatenate(weights)


def by_cells(chi, size, centre, counts):
    """Return the iron's share of the linkage at the angles [Wb]."""
    middles, edges = cells(size, centre, counts)
    n = len(middles)
    # What one tesla of a cell along each axis gives at the middles of all, and in the coil.
    points, weights = turns()
    response, linked = np.empty((n, 3, n, 3)), np.empty((n, 3))
    for axis in range(3):
        one = magpylib.magnet.Cuboid(polarization=np.eye(3)[axis], dimension=edges)
        gaps = (middles[:, None] - middles).reshape(-1, 3)
        response[:, :, :, axis] = magpylib.mu_0 * one.getH(gaps).reshape(n, n, 3).swapaxes(1, 2)
        seen = one.getB((points - middles[:, None]).reshape(-1, 3))[:, 2]
        linked[:, axis] = seen.reshape(n, -1) @ weights
    matrix = np.eye(3 * n) - chi * response.reshape(3 * n, 3 * n)
    (mount,) = TURNING.magnets
    found = []
    for angle in np.deg2rad(ANGLES):
        c, s = math.cos(angle), math.sin(angle)
        bar = magpylib.magnet.Cuboid(
            polarization=(0, 0, 1.2),
            dimension=mount.magnet.size,
            position=(c * mount.radius, s * mount.radius, mount.height),
        )
        bar.rotate_from_angax(math.degrees(angle), "z", anchor=None)
        applied = magpylib.mu_0 * bar.getH(middles).ravel()
        polarization = np.linalg.solve(matrix, chi * applied)
        found.append(float(linked.ravel() @ polarization))
    return np.array(found)


def by_charge(piece):
    known = CoilIron((piece,), (PICKUP,), (TURNING,))
    series = [
        sample_series(pair_linkage(PICKUP, TURNING, 1e-5, *more).harmonics_Wb, 360)
        for more in ((known,), ())
    ]
    return (series[0] - series[1])[list(ANGLES)]


@pytest.mark.parametrize(("chi", "error"), [(1.0, 8e-3), (9.0, 2.5e-2)])
def test_a_block_beside_the_coil(chi, error):
    size, centre = (12 * MM, 10 * MM, 20 * MM), (0.0, 22 * MM, -18 * MM)
    piece = PlacedIron("bar", Block(size), centre, (0, 0, 1), (1, 0, 0), Material(chi + 1))
    found = by_charge(piece)
    few, more = (
        by_cells(chi, size, centre, counts) / found - 1 for counts in ((3, 2, 5), (5, 4, 8))
    )
    # 30 cells are two to four per cent off, 160 less than half of that: they come to the same.
    assert np.abs(more).max() < error
    assert np.abs(more).max() < 0.5 * np.abs(few).max()


def test_a_square_plate_behind_the_magnets():
    """And a round one of the same area takes up about the same."""
    size, centre = (60 * MM, 60 * MM, 3 * MM), (0.0, 0.0, 24 * MM)
    plate = PlacedIron("plate", Block(size), centre, (0, 0, 1), (1, 0, 0), Material(10))
    expected = by_cells(9.0, size, centre, (12, 12, 2))
    found = by_charge(plate)
    assert found == pytest.approx(expected, abs=0.03 * np.ptp(expected))
    disc = PlacedIron("disc", Disc(67.7 * MM, 3 * MM), centre, (0, 0, 1), (1, 0, 0), Material(10))
    assert by_charge(disc) == pytest.approx(found, abs=0.1 * np.ptp(found))
