"""Gauss rules: what they integrate exactly, and that nobody can change what all share."""

from __future__ import annotations

import numpy as np
import pytest

from fieldsim.field.linkage.quadrature import gauss_legendre, gauss_tensor


@pytest.mark.parametrize("order", [1, 2, 5, 12])
def test_polynomials_up_to_twice_the_order_are_exact(order):
    nodes, weights = gauss_legendre(order)
    for power in range(2 * order):
        exact = 2 / (power + 1) if power % 2 == 0 else 0.0
        assert weights @ nodes**power == pytest.approx(exact, abs=1e-13)  # rounding


def test_a_tensor_holds_every_node_with_every_other():
    x, y, z, weight = gauss_tensor((2, 3, 4))
    assert len({*zip(x, y, z, strict=True)}) == 24
    assert weight.sum() == pytest.approx(8.0)
    assert weight @ (x**2 * y**4 * z**6) == pytest.approx(2 / 3 * 2 / 5 * 2 / 7)


def test_shared_rules_cannot_be_changed():
    for shared in (gauss_tensor((2, 2, 2)), *gauss_legendre(3)):
        with pytest.raises(ValueError, match="read-only"):
            np.asarray(shared)[..., 0] = 1.0
