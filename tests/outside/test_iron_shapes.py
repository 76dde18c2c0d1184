"""How strongly shapes of iron are magnetised, against published and independent values."""

from __future__ import annotations

import math

import numpy as np
import pytest
from iron_bodies import block_body, charges, moment, rod, round_body

INFINITE = 1e9


# Whole-body M/H0 (mid-plane M/H0) of a rod of infinite permeability along its axis, by an axially
# symmetric charge boundary element run of another hand: the first to 1e-4, the second to 5e-3.
RODS = {
    0.5: (2.4325, 2.657),
    1: (3.861, 4.40),
    2: (7.096, 8.49),
    4: (15.07, 18.9),
    5: (19.76, 25.1),
    8: (36.42, 47.6),
    10: (49.55, 65.5),
}


def over_the_field(length: float, chi: float) -> tuple[float, float]:
    """Return M / H0 of a rod of diameter one, of the whole and through its middle."""
    body = round_body(rod(1.0, length, chi), panels=4, order=8, harmonics=1)
    charge = charges(body, (0, 0, 1))
    whole = float(charge @ body.points[:, 2]) / (math.pi / 4 * length)
    return whole, float(charge[body.points[:, 2] > 0].sum()) / (math.pi / 4)


@pytest.mark.parametrize("length", RODS)
def test_rods_of_infinite_permeability(length):
    found, expected = over_the_field(length, INFINITE), RODS[length]
    assert found[0] == pytest.approx(expected[0], rel=3e-4)
    assert found[1] == pytest.approx(expected[1], rel=5e-3)


# Demagnetising factors of rods, of the whole and through the middle, at susceptibilities 9, 99 and
# 999: the same, extrapolated from 70 and 140 nodes, typically good to 2e-5, at worst to 1e-4.
FACTORS = {
    1: ((0.26877, 0.22899), (0.26006, 0.22767), (0.25908, 0.22750)),
    2: ((0.14799, 0.11325), (0.14168, 0.11750), (0.14099, 0.11798)),
    5: ((0.05692, 0.03214), (0.05136, 0.03884), (0.05068, 0.03978)),
    10: ((0.02627, 0.00895), (0.02107, 0.01413), (0.02027, 0.01517)),
    20: ((0.01233, 0.00188), (0.00828, 0.00425), (0.00740, 0.00523)),
}


@pytest.mark.parametrize("length", FACTORS)
@pytest.mark.parametrize("place", [0, 1, 2])
def test_demagnetising_factors_of_rods(length, place):
    chi = (9, 99, 999)[place]
    for found, expected in zip(over_the_field(length, chi), FACTORS[length][place], strict=True):
        assert 1 / found - 1 / chi == pytest.approx(expected, abs=1.2e-4)


def test_a_rod_between():
    """L/D 10 at permeability 100: 32.08, by three-dimensional panels, to 1e-3."""
    assert over_the_field(10, 99)[0] == pytest.approx(32.08, rel=1.5e-3)


# Polarisability of a cube: a fit to finite elements good to about 1e-4 (A. Sihvola and others,
# coefficients from memory); 2 is far from where edges count.
CUBES = {2: 0.76017, 10: 2.51122, 100: 3.49663, 1000: 3.62897}


@pytest.mark.parametrize("permeability", CUBES)
def test_cubes(permeability):
    body = block_body((0.5, 0.5, 0.5), permeability - 1, (3, 3, 3), 6)
    # The fit and the nodes leave a few parts in ten thousand.
    assert moment(body, (0, 0, 1))[2] == pytest.approx(CUBES[permeability], rel=4e-4)


@pytest.mark.parametrize("across", [0.5, 1.0, 2.0])
def test_weak_blocks_have_the_factors_of_even_magnetisation(across):
    """To second order in chi the moment tells the magnetometric factor at chi = 0.

    1:1:2, 1:1:1 and 1:1:0.5 along the third edge: 0.198316152789, 1/3, 0.495922037975 (A. Aharoni,
    J. Appl. Phys. 83 (1998) 3432).
    """
    factor = {0.5: 0.198316152789, 1.0: 1 / 3, 2.0: 0.495922037975}[across]
    half = (across / 2, across / 2, 0.5)
    chi = 1e-3
    found = moment(block_body(half, chi, (3, 3, 3), 6), (0, 0, 1))[2] / (across**2 * chi)
    # Of third order in chi, over chi.
    assert (1 - found) / chi == pytest.approx(factor, abs=2e-3)


def test_a_cube_with_a_flat_rod_of_the_same_proportions():
    """A rod as long as wide takes up a little more than a cube does: 3.861 against 3.644."""
    cube = moment(block_body((0.5, 0.5, 0.5), INFINITE, (3, 3, 3), 6), (0, 0, 1))[2]
    assert over_the_field(1, INFINITE)[0] / cube == pytest.approx(3.861 / 3.644305, rel=5e-4)
    assert np.isfinite(cube)
