"""The field of charged rings: its special functions, and the integral that it stands for."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad

from fieldsim.field.iron.ring_kernel import legendre_q, ring_field


@pytest.mark.parametrize("beyond", [1e-6, 1e-3, 1.3e-3, 0.02, 0.1, 0.13, 1.0, 30.0])
def test_legendre_functions_are_their_integral(beyond):
    """Q_{m-1/2}(chi) is the integral of cos(m t) / sqrt(2 chi - 2 cos t) from 0 to pi."""
    found = legendre_q(np.array([beyond]), 12)[:, 0]
    for m in (0, 1, 2, 5, 12):
        # t = u^2 takes the peak near zero apart
        value, _ = quad(
            lambda u, m=m: (
                2 * u * math.cos(m * u * u) / math.sqrt(2 * beyond + 4 * math.sin(u * u / 2) ** 2)
            ),
            0, math.sqrt(math.pi), limit=400, epsabs=1e-13, epsrel=1e-10,
            points=[(2 * beyond) ** 0.25],
        )  # fmt: skip
        # What is left of the integral where it cancels to nothing is rounding.
        assert found[m] == pytest.approx(value, rel=1e-8, abs=1e-11)


def test_one_order_is_the_same_as_the_first_of_many():
    beyond = np.geomspace(1e-8, 1e4, 60)
    many = legendre_q(beyond, 40)
    for orders in (0, 1, 7):
        assert legendre_q(beyond, orders) == pytest.approx(many[: orders + 1], rel=1e-12)


def test_orders_fall_and_stay_positive():
    found = legendre_q(np.geomspace(1e-6, 1e3, 50), 60)
    assert (found > 0).all()
    assert (np.diff(found, axis=0) < 0).all()


@pytest.mark.parametrize("place", [(0.30, 0.20), (0.26, 0.10), (0.02, 0.5), (2.0, 0.1)])
@pytest.mark.parametrize("normal", [(1.0, 0.0), (0.0, 1.0), (0.6, -0.8)])
def test_the_field_is_that_of_the_charge_round_the_ring(place, normal):
    (r, z), (nr, nz), (radius, height) = place, normal, (0.25, 0.1)
    single = [np.array([v]) for v in (r, z)]
    found = ring_field(
        *single,
        (np.array([nr]), np.array([nz])),
        (np.array([radius]), np.array([height])),
        6,
    )[:, 0]
    psi = 2 * math.pi / 2000 * np.arange(2000)
    square = r * r + radius * radius - 2 * r * radius * np.cos(psi) + (z - height) ** 2
    field = (nr * (r - radius * np.cos(psi)) + nz * (z - height)) / (4 * math.pi * square**1.5)
    for m in range(7):
        expected = 2 * math.pi * radius * float((field * np.cos(m * psi)).mean())
        assert found[m] == pytest.approx(expected, rel=1e-10, abs=1e-12)
