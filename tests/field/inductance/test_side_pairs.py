"""Pairs of sides: which count as alike, and which have parallel edges."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from machines import si_coil

from fieldsim.field.inductance.side_pairs import edges_parallel, filament_averages_m, side_pairs
from fieldsim.field.linkage.winding_sides import sides_of

COIL = si_coil("a", (0, 0, 0), (0, 0, 1), (1, 0, 0), (0.024, 0.016), 0.012, 0.006, 1)
ORDERS = (4, 4, 4, 4)


def pairs_with(centre, axis, side):
    other = si_coil("b", centre, axis, side, (0.020, 0.030), 0.008, 0.004, 1)
    return [pair for _, _, pair in side_pairs(sides_of(COIL), sides_of(other))]


@pytest.mark.parametrize("degrees", [0, 90, 180, -90])
def test_edges_are_parallel_at_right_angles(degrees):
    angle = math.radians(degrees)
    for axis in ((0, 0, 1), (0, 0, -1)):
        turned = replace(COIL, axis=axis, side=(math.cos(angle), math.sin(angle), 0.0))
        assert edges_parallel(sides_of(COIL), sides_of(turned))


@pytest.mark.parametrize("degrees", [0.001, 1, 30, 35, 45, 60, 89])
def test_edges_are_not_parallel_at_other_angles(degrees):
    angle = math.radians(degrees)
    turned = replace(COIL, side=(math.cos(angle), math.sin(angle), 0.0))
    assert not edges_parallel(sides_of(COIL), sides_of(turned))
    tilted = si_coil(
        "t",
        (0, 0, 0),
        (0, math.sin(angle), math.cos(angle)),
        (1, 0, 0),
        (0.02, 0.02),
        0.01,
        0.01,
        1,
    )
    assert not edges_parallel(sides_of(COIL), sides_of(tilted))


def test_an_upright_coil_has_parallel_sides_but_not_edges():
    upright = si_coil("u", (0, 0, 0.04), (0, 1, 0), (1, 0, 0), (0.02, 0.02), 0.01, 0.01, 1)
    assert not edges_parallel(sides_of(COIL), sides_of(upright))


def test_concentric_sides_opposite_each_other_are_alike():
    keys = {pair.key(1.0) for pair in pairs_with((0, 0, 0.03), (0, 0, 1), (1, 0, 0))}
    assert len(keys) == 4  # of eight
    keys = {pair.key(1.0) for pair in pairs_with((0, 0, 0), (0.2, 0.3, 1), (1, 0.4, 0))}
    assert len(keys) == 8  # of sixteen, by inversion


@pytest.mark.parametrize(
    ("centre", "axis", "side"),
    [
        ((0, 0, 0), (0.2, 0.3, 1), (1, 0.4, 0)),
        ((0, 0, 0.04), (0, 0.5, 1), (1, 0, 0)),
        ((0.01, 0, 0.05), (1, 0, 1), (0, 1, 0)),
        ((0, 0, 0.03), (0, 0, -1), (1, 1, 0)),
        ((0.03, 0.03, 0.04), (1, 1, 1), (1, -1, 0)),
    ],
)
def test_pairs_that_count_as_alike_have_equal_integrals(centre, axis, side):
    seen = {}
    for pair in pairs_with(centre, axis, side):
        value = filament_averages_m([pair], ORDERS)[0]
        first = seen.setdefault(pair.key(1.0), value)
        assert value == pytest.approx(first, rel=1e-11)  # rounding, and of the key


def test_builds_on_either_side_of_the_common_perpendicular_are_told_apart():
    pair = pairs_with((0.01, 0.005, 0.04), (0.2, 0.3, 1), (1, 0.4, 0))[0]
    turned = replace(pair, outward2=(*pair.outward2[:2], -pair.outward2[2]))
    values = filament_averages_m([pair, turned], ORDERS)
    assert values[0] != pytest.approx(values[1], rel=1e-3)
    assert pair.key(1.0) != turned.key(1.0)
