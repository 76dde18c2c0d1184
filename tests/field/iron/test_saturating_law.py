"""The one law of saturation, and its slopes."""

from __future__ import annotations

import numpy as np
import pytest

from fieldsim.field.iron.saturating_law import (
    field_energy,
    field_stiffness,
    left_share,
    taken_up_share,
)

CHI, MOST_T = 500.0, 2.0


def field_T(polarization_T):
    """Return mu0 H of M = chi H/(1 + chi H/Ms), solved for H."""
    return polarization_T / (CHI * (1 - polarization_T / MOST_T))


@pytest.mark.parametrize("share", [0.0, 0.3, 0.9, 0.999])
def test_the_curve(share):
    h = field_T(share * MOST_T)
    assert CHI * h / (1 + CHI * h / MOST_T) == pytest.approx(share * MOST_T, rel=1e-12)
    for left in (left_share(share * MOST_T, MOST_T), taken_up_share(h, CHI, MOST_T)):
        assert left == pytest.approx(1 - share, rel=1e-9)


@pytest.mark.parametrize("share", [0.01, 0.5, 0.95])
def test_stiffness_is_the_slope_of_the_field(share):
    at, step = share * MOST_T, 1e-6
    across, along = field_stiffness(np.array(at), np.array(CHI), np.array(MOST_T))
    slope = (field_T(at + step) - field_T(at - step)) / (2 * step)
    assert along == pytest.approx(slope, rel=1e-6)
    assert across == pytest.approx(field_T(at) / at, rel=1e-12)


def test_without_a_saturation_it_is_linear():
    across, along = field_stiffness(np.array([0.0, 5.0]), np.array(CHI), np.array(np.inf))
    assert across.tolist() == along.tolist() == [1 / CHI, 1 / CHI]


@pytest.mark.parametrize("share", [1e-5, 1e-3, 0.5, 0.95])
def test_energy_is_the_integral_of_the_field(share):
    x, w = np.polynomial.legendre.leggauss(40)
    at = share * MOST_T
    expected = at / 2 * w @ field_T(at * (x + 1) / 2)
    assert field_energy(np.array(at), CHI, MOST_T) == pytest.approx(expected, rel=1e-6, abs=0)
    assert field_energy(np.array(MOST_T), CHI, MOST_T) == np.inf
