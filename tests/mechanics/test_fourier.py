"""Series followed through a repeat: against direct sums."""

from __future__ import annotations

import numpy as np
import pytest

from fieldsim.mechanics.fourier import fourier_walk, two_sided

RNG = np.random.default_rng(3)


@pytest.mark.parametrize("turns", [1, 3, -5])
@pytest.mark.parametrize("count", [7, 64, 500])
def test_walk_equals_the_sum(turns, count):
    """Also with fewer steps than the waves need: the values at the steps are still exact."""
    samples = RNG.normal(size=(15, 2))
    coefficients, orders = two_sided(samples)
    angle = 2 * np.pi * turns * np.arange(count) / count
    direct = (np.exp(1j * np.outer(angle, orders)) @ coefficients).real
    walked = fourier_walk(coefficients, orders * turns, count)
    assert np.allclose(walked, direct, atol=1e-12)  # rounding of 15 terms of order one


@pytest.mark.parametrize("count", [8, 9])
def test_walk_returns_the_samples(count):
    samples = RNG.normal(size=(count, 3))
    coefficients, orders = two_sided(samples)
    assert np.allclose(fourier_walk(coefficients, orders, count), samples, atol=1e-13)
