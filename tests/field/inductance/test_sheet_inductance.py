"""Parallel current sheets: the closed form, and its average over two depths."""

from __future__ import annotations

from dataclasses import replace

import mpmath
import numpy as np
import pytest

from fieldsim.field.inductance.filament_inductance import parallel_integral_m
from fieldsim.field.inductance.sheet_inductance import (
    SheetPair,
    sheet_antiderivative,
    sheet_pair_integral_m,
)
from fieldsim.field.linkage.quadrature import gauss_legendre


@pytest.mark.parametrize("at", [(0.3, 0.4, 0.5), (-0.7, 0.2, 0.1), (0.6, -0.5, -0.9)])
def test_the_antiderivative_differentiates_back_to_one_over_r(at):
    z0, x0, p = at

    def form(z, x):
        r = mpmath.sqrt(z * z + x * x + p * p)
        return (
            (x * x - p * p) / 2 * z * mpmath.asinh(z / mpmath.sqrt(x * x + p * p))
            + (z * z - p * p) / 2 * x * mpmath.asinh(x / mpmath.sqrt(z * z + p * p))
            - (x * x - 2 * p * p + z * z) * r / 6
            - x * p * z * mpmath.atan(x * z / (p * r))
        )

    with mpmath.workdps(40):
        fourth = float(mpmath.diff(form, (z0, x0), (2, 2)))
        value = float(form(z0, x0))
    assert fourth == pytest.approx(1 / np.hypot(np.hypot(z0, x0), p), rel=1e-12)
    # The same formula in double precision.
    assert sheet_antiderivative(*(np.array(v) for v in at)) == pytest.approx(value, rel=1e-13)


def test_the_antiderivative_is_finite_where_arguments_vanish():
    grid = np.stack(np.meshgrid([0.0, 1.0], [0.0, 1.0], [0.0, 1.0]), axis=-1).reshape(-1, 3)
    values = sheet_antiderivative(*grid.T)
    nearby = sheet_antiderivative(*(grid + 1e-9).T)
    # Continuous: one billionth away it has moved by a few billionths.
    assert values == pytest.approx(nearby, abs=1e-8)


def side_pair(offset=(0.0, 0.0, 0.0), outward2=1):
    return SheetPair(offset, outward2, 0.012, 0.010, 0.006, 0.004, 0.012, 0.008)


def by_filaments(pair, order=10):
    """Plain Gauss-Legendre over both sections, four-dimensional."""
    nodes, weights = gauss_legendre(order)
    u1 = (pair.build1 / 2 * (1 + nodes))[:, None, None, None]
    w1 = (pair.length1 / 2 * nodes)[:, None, None]
    u2 = (pair.build2 / 2 * (1 + nodes))[:, None]
    w2 = pair.length2 / 2 * nodes
    distance = np.hypot(
        pair.offset[1] + u1 - pair.outward2 * u2, pair.offset[2] + w1 - w2 + 0.0 * u1
    )
    values = parallel_integral_m(
        np.array(pair.offset[0]), distance, pair.half1 + u1 + 0 * u2, pair.half2 + u2 + 0 * u1
    )
    for _ in range(4):
        values = values @ weights / 2
    return float(values)


@pytest.mark.parametrize("outward2", [1, -1])
@pytest.mark.parametrize(
    "offset", [(0.0, 0.02, 0.0), (0.005, -0.025, 0.003), (0.0, 0.0, 0.025), (0.03, 0.01, 0.02)]
)
def test_sheets_agree_with_filaments_between_sides_apart(offset, outward2):
    pair = side_pair(offset, outward2)
    value, rounding = sheet_pair_integral_m(pair, (20, 14))
    # Sections are at least their own size apart: ten points a dimension hold eight digits.
    assert value == pytest.approx(by_filaments(pair), rel=1e-8)
    assert rounding < 1e-9 * value


@pytest.mark.parametrize("offset", [(0.0, 0.0, 0.0), (0.001, 0.002, 0.004), (0.0, 0.004, 0.0)])
def test_sections_on_each_other_converge_fast(offset):
    pair = side_pair(offset)
    best, _ = sheet_pair_integral_m(pair, (60, 40))
    errors = [abs(sheet_pair_integral_m(pair, o)[0] / best - 1) for o in ((8, 5), (18, 12))]
    assert errors[0] < 1e-5
    assert errors[1] < 1e-9


def test_swapping_the_sides_changes_nothing():
    pair = side_pair((0.003, 0.001, 0.002))
    swapped = SheetPair((-0.003, -0.001, -0.002), 1, 0.010, 0.012, 0.004, 0.006, 0.008, 0.012)
    there, _ = sheet_pair_integral_m(pair, (28, 18))
    back, _ = sheet_pair_integral_m(swapped, (28, 18))
    assert there == pytest.approx(back, rel=1e-9)  # of the order of the quadrature's own error


def test_scaling_lengths_scales_the_integral():
    pair = side_pair((0.003, 0.001, 0.002))
    doubled = replace(
        pair,
        offset=tuple(2 * x for x in pair.offset),
        **{k: 2 * v for k, v in vars(pair).items() if k not in ("offset", "outward2", "growth")},
    )
    one, _ = sheet_pair_integral_m(pair, (12, 8))
    two, _ = sheet_pair_integral_m(doubled, (12, 8))
    assert two == pytest.approx(2 * one, rel=1e-12)  # rounding only: the same points
