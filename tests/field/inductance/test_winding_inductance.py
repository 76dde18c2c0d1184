"""The section averages: both routes, and whether the stated error is honest."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from machines import si_coil

from fieldsim.field.inductance import winding_inductance
from fieldsim.field.inductance.filament_inductance import polygon_mutual_H, rectangle_corners
from fieldsim.field.inductance.winding_inductance import neumann_integral
from fieldsim.field.linkage.quadrature import gauss_legendre
from fieldsim.field.linkage.winding_sides import sides_of

COIL = si_coil("a", (0, 0, 0), (0, 0, 1), (1, 0, 0), (0.024, 0.016), 0.012, 0.006, 1)


def turn_by_turn(first, second, order):
    """Average the mutual of closed rectangles over both sections: no sides, no orders."""

    def turns(coil):
        nodes, weights = gauss_legendre(order)
        loops, shares = [], []
        for u, a in zip((1 + nodes) / 2 * coil.build, weights / 2, strict=True):
            for w, b in zip(nodes * coil.length / 2, weights / 2, strict=True):
                centre = tuple(np.array(coil.centre) + w * np.array(coil.axis))
                size = (coil.opening[0] + 2 * u, coil.opening[1] + 2 * u)
                loops.append(rectangle_corners(centre, coil.axis, coil.side, size))
                shares.append(a * b)
        return np.array(loops), np.array(shares)

    loops1, shares1 = turns(first)
    loops2, shares2 = turns(second)
    mutual_H = polygon_mutual_H(loops1[:, None], loops2[None, :])
    return shares1 @ mutual_H @ shares2 / 1e-7


@pytest.mark.parametrize(
    ("centre", "axis", "side"),
    [
        ((0.0, 0.0, 0.03), (0, 0, 1), (1, 0, 0)),
        ((0.0, 0.0, 0.03), (0, 0, -1), (0, 1, 0)),
        ((0.01, 0.005, 0.03), (0, 0, 1), (1, 0.3, 0)),
        ((0.05, 0.01, 0.02), (1, 0, 0), (0, 0, 1)),
        ((0.04, -0.03, 0.02), (0.3, 0.5, 1), (1, 0.2, 0)),
        ((0.2, 0.1, 0.1), (0.3, -0.5, 1), (1, 0.2, 0)),
    ],
)
def test_windings_apart_agree_with_their_turns_added_up(centre, axis, side):
    other = si_coil("b", centre, axis, side, (0.020, 0.030), 0.008, 0.004, 1)
    integral = neumann_integral(sides_of(COIL), sides_of(other))
    expected = turn_by_turn(COIL, other, 7)
    # Seven points a dimension at a section's size or more apart hold about 1e-8.
    assert integral.value_m == pytest.approx(expected, rel=2e-7)
    assert integral.error_m < 1e-6 * abs(integral.value_m)


@pytest.mark.parametrize(
    "centre", [(0.0, 0.0, 0.0121), (0.0361, 0.0, 0.0), (0.037, 0.029, 0.004), (0.001, 0.0, 0.013)]
)
def test_sheets_and_filaments_agree_between_windings_that_almost_touch(centre, monkeypatch):
    other = replace(COIL, centre=centre)
    by_sheets = neumann_integral(sides_of(COIL), sides_of(other))
    monkeypatch.setattr(winding_inductance, "edges_parallel", lambda first, second: False)
    by_filaments = neumann_integral(sides_of(COIL), sides_of(other))
    both = by_sheets.error_m + by_filaments.error_m
    assert abs(by_sheets.value_m - by_filaments.value_m) <= both
    # Sheets converge; sixteen filaments a dimension across a logarithm leave 1e-4 of one side's
    # integral, about 0.05 m.
    assert by_sheets.error_m < 1e-9
    assert by_filaments.error_m < 1e-5
    assert by_sheets.value_m != by_filaments.value_m


def test_the_stated_error_covers_the_true_one(monkeypatch):
    rng = np.random.default_rng(3)
    covered = []
    for _ in range(8):
        other = si_coil(
            "b",
            (*(rng.uniform(-1, 1, 2) * 0.03), rng.uniform(0.025, 0.05)),
            tuple(rng.normal(size=3) + np.array([0, 0, 2])),
            (1, rng.normal(), 0.1),
            tuple(rng.uniform(0.01, 0.02, 2)),
            0.006,
            0.004,
            1,
        )
        usual = neumann_integral(sides_of(COIL), sides_of(other))
        with monkeypatch.context() as patch:
            patch.setattr(winding_inductance, "_LOG_ERRORS", (20.0, 28.0))
            best = neumann_integral(sides_of(COIL), sides_of(other))
        covered.append(abs(usual.value_m - best.value_m) <= usual.error_m + best.error_m)
        assert usual.error_m < 1e-6 * 0.1  # of a side's own integral, about 0.1 m
    assert all(covered)


def test_tilting_by_less_than_a_hair_changes_almost_nothing():
    # Across the border between edges that count as parallel and those that do not.
    straight = replace(COIL, centre=(0.0, 0.0, 0.02))
    values = []
    for tilt in (0.0, 5e-8, 5e-7, 5e-6):
        tilted = si_coil(
            "b", (0, 0, 0.02), (tilt, 0, 1), (1, 0, -tilt), COIL.opening, 0.012, 0.006, 1
        )
        values.append(neumann_integral(sides_of(COIL), sides_of(tilted)).value_m)
    expected = neumann_integral(sides_of(COIL), sides_of(straight)).value_m
    assert values == pytest.approx([expected] * 4, rel=1e-6)
