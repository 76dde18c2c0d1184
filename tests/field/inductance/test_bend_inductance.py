"""Inductance of windings with round corners: turn by turn, cut in two, and as circles."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from filament_loops import polygon_mutual_H

from fieldsim.field.inductance.bend_inductance import corner_integral
from fieldsim.field.inductance.matrix import inductance_matrix, mutual_inductance, self_inductance
from fieldsim.field.inductance.winding_inductance import neumann_integral
from fieldsim.field.linkage.quadrature import gauss_legendre
from fieldsim.field.linkage.winding_sides import sides_of
from fieldsim.machine.placed import PlacedCoil
from fieldsim.wire.corners import Corners

COIL = PlacedCoil(
    "a", (0, 0, 0), (0, 0, 1), (1, 0, 0), (0.014, 0.020), 0.010, 0.007, 1, Corners.ROUND
)


def turns_of(coil, order, chords):
    """Return polygons of the turns, chords in their bends, and the share of each."""
    nodes, weights = gauss_legendre(order)
    a, b = (side / 2 for side in coil.opening)
    polygons, shares = [], []
    for u, share in zip((1 + nodes) / 2 * coil.build, weights / 2, strict=True):
        points = []
        for (x, y), turn in zip(((a, -b), (a, b), (-a, b), (-a, -b)), range(-1, 3), strict=True):
            if coil.corners is Corners.ROUND:
                angle = math.pi / 2 * (turn + np.linspace(0, 1, chords + 1))
                points.append(np.column_stack([x + u * np.cos(angle), y + u * np.sin(angle)]))
            else:
                points.append(np.array([[x + math.copysign(u, x), y + math.copysign(u, y)]]))
        flat = np.vstack(points)
        for w, part in zip(nodes * coil.length / 2, weights / 2, strict=True):
            local = np.column_stack([flat, np.full(len(flat), w)])
            polygons.append(local @ coil.frame.T + coil.centre)
            shares.append(share * part)
    return np.array(polygons), np.array(shares)


def turn_by_turn(first, second, order=4):
    """Average the mutual of turns over both sections, the chords' error taken off."""
    found = []
    for chords in (6, 12):
        (loops1, shares1), (loops2, shares2) = (
            turns_of(coil, order, chords) for coil in (first, second)
        )
        pairs = [polygon_mutual_H(loop[None], loops2) @ shares2 for loop in loops1]
        found.append(float(shares1 @ np.array(pairs)) / 1e-7)
    return (4 * found[1] - found[0]) / 3


@pytest.mark.parametrize("corners", Corners)
@pytest.mark.parametrize(
    ("centre", "axis", "side"),
    [
        ((0.0, 0.0, 0.030), (0, 0, 1), (1, 0, 0)),
        ((0.0, 0.0, 0.030), (0, 0, -1), (0, 1, 0)),
        ((0.01, 0.005, 0.03), (0, 0, 1), (1, 0.3, 0)),
        ((0.05, 0.01, 0.02), (1, 0, 0), (0, 0, 1)),
        ((0.04, -0.03, 0.02), (0.3, 0.5, 1), (1, 0.2, 0)),
    ],
)
def test_windings_apart_agree_with_their_turns_added_up(centre, axis, side, corners):
    """A coil with bends, beside one with bends and one with sharp corners."""
    other = PlacedCoil("b", centre, axis, side, (0.020, 0.030), 0.008, 0.004, 1, corners)
    there, back = (
        neumann_integral(sides_of(one), sides_of(two))
        for one, two in ((COIL, other), (other, COIL))
    )
    # Four points a dimension, and chords to the fourth order, hold some 1e-6 of a turn's integral.
    assert there.value_m == pytest.approx(turn_by_turn(COIL, other), rel=3e-6)
    assert abs(there.value_m - back.value_m) <= there.error_m + back.error_m
    sharp = (replace(one, corners=Corners.SHARP) for one in (COIL, other))
    assert 0.96 < there.value_m / neumann_integral(*map(sides_of, sharp)).value_m < 0.995


def circle_mutual_m(r1, r2, z):
    """Return the double integral between coaxial circles (J. C. Maxwell, Treatise, section 701)."""
    from scipy.special import ellipe, ellipk

    m = 4 * r1 * r2 / ((r1 + r2) ** 2 + z * z)
    k = np.sqrt(m)
    return 4 * np.pi * np.sqrt(r1 * r2) * ((2 / k - k) * ellipk(m) - 2 / k * ellipe(m))


def test_around_a_point_it_is_a_disc_of_circles():
    """With next to no opening all turns are circles, whose mutual is known in closed form."""
    tiny = 1e-9
    disc = replace(COIL, opening=(tiny, tiny))
    above = replace(disc, centre=(0, 0, 0.016))
    u, wu = gauss_legendre(12)
    w, ww = gauss_legendre(8)
    r1, r2, z1, z2 = np.meshgrid(
        *[disc.build / 2 * (1 + u)] * 2, *[disc.length / 2 * w] * 2, indexing="ij"
    )
    circles = circle_mutual_m(r1, r2, 0.016 + z2 - z1)
    expected = np.einsum("abcd,a,b,c,d", circles, wu, wu, ww, ww) / 16
    found = neumann_integral(sides_of(disc), sides_of(above))
    # 6 mm apart, twelve points are good to 1e-9.
    assert found.value_m == pytest.approx(expected, abs=found.error_m + 1e-8 * expected)


def test_two_halves_of_a_winding_make_the_whole():
    whole = replace(COIL, turns=600)
    lower = replace(whole, name="l", centre=(0, 0, -0.0025), length=0.005, turns=300)
    upper = replace(lower, name="u", centre=(0, 0, 0.0025))
    matrix, error = inductance_matrix([lower, upper])
    own = self_inductance(whole)
    allowed = own.error_H + 4 * error * matrix[0, 0]
    assert abs(matrix.sum() - own.value_H) <= allowed
    assert allowed < 1e-5 * own.value_H


def test_sharp_and_round_coils_of_one_size_are_told_apart():
    """In a matrix, which computes windings that stand alike once."""
    bent = replace(COIL, turns=600, name="bent")
    sharp = replace(bent, name="sharp", centre=(0, 0, 0.02), corners=Corners.SHARP)
    matrix, _ = inductance_matrix([bent, sharp])
    for i, coil in enumerate((bent, sharp)):
        assert matrix[i, i] == pytest.approx(self_inductance(coil).value_H, rel=1e-9)
    assert matrix[0, 0] < 0.995 * matrix[1, 1]


@pytest.mark.parametrize("corners", Corners)
def test_mirrored_and_turned_windings_have_the_same_inductance(corners):
    coil = replace(COIL, corners=corners)
    own = self_inductance(coil)
    turned = replace(
        coil, opening=coil.opening[::-1], axis=(0.3, -0.2, 1), side=(0.1, 1, 0.17), centre=(1, 2, 3)
    )
    assert self_inductance(turned).value_H == pytest.approx(own.value_H, rel=1e-8)
    flipped = replace(coil, axis=(0, 0, -1), centre=(0, 0, 0.0101))
    there = mutual_inductance(coil, flipped)
    stacked = mutual_inductance(coil, replace(flipped, axis=(0, 0, 1)))
    assert abs(there.value_H + stacked.value_H) <= there.error_H + stacked.error_H


@pytest.mark.parametrize("seed", range(24))
def test_the_stated_error_covers_the_true_one(seed):
    """Windings of all proportions with themselves, stacked, side by side and askew."""
    rng = np.random.default_rng(seed)
    opening, length, build = (
        rng.uniform(2e-3, 4e-2, 2),
        rng.uniform(1e-3, 3e-2),
        rng.uniform(5e-4, 2e-2),
    )
    coil = replace(COIL, opening=tuple(opening), length=length, build=build)
    x, y, z = rng.normal(size=3)
    kind = list(Corners)[int(rng.integers(2))]
    other = (
        coil,
        replace(coil, centre=(0, 0, length + 1e-3 * rng.integers(2))),
        replace(coil, centre=(opening[0] + 2 * build + 1e-3, 3e-3, 0), corners=kind),
        PlacedCoil(
            "b", (*rng.uniform(-0.02, 0.02, 2), length + 0.03), (x, y, z + 2),
            (1, rng.normal(), 0.1), tuple(rng.uniform(5e-3, 0.03, 2)), 0.008, 0.005, 1, kind,
        ),
    )[seed % 4]  # fmt: skip
    found = corner_integral(sides_of(coil), sides_of(other))
    best = finer(sides_of(coil), sides_of(other))
    assert abs(found.value_m - best) <= found.error_m
    assert found.error_m < 1e-4 * sum(opening)


def finer(first, second):
    """Return the same at more points than the package ever takes."""
    from fieldsim.field.inductance import bend_inductance

    return bend_inductance._corners(first, second, 16)


def test_thin_builds_have_no_corners():
    """Bends of no radius are sharp."""
    thin = replace(COIL, build=1e-6)
    bent, sharp = (self_inductance(replace(thin, corners=c)).value_H for c in Corners)
    assert bent == pytest.approx(sharp, rel=1e-4)  # a thousandth of a side, at its end
