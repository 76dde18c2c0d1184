"""One inductance or resistance for joined coils, against textbook forms and a mesh solution."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldsim.circuit.equivalent import (
    equivalent_impedance_ohm,
    equivalent_resistance_ohm,
)
from fieldsim.machine.connections import CoilRef, InParallel, InSeries

A, B, C = CoilRef("a"), CoilRef("b"), CoilRef("c")
NAMES = ("a", "b", "c")


def equivalent_inductance_H(source, names, inductance_H):
    """Return the inductance of joined coils, resistance neglected: an impedance at one rad/s."""
    return float(equivalent_impedance_ohm(source, names, inductance_H))


positive = st.floats(0.1, 10.0)
coupling = st.floats(-0.95, 0.95)


def matrix(L1, L2, k):
    M = k * np.sqrt(L1 * L2)
    return np.array([[L1, M], [M, L2]]), M


@settings(max_examples=50, deadline=None)
@given(positive, positive, coupling)
def test_two_coils_follow_the_textbook(L1, L2, k):
    L, M = matrix(L1, L2, k)
    opposed = CoilRef("b", reverse=True)
    cases = {
        InSeries((A, B)): L1 + L2 + 2 * M,
        InSeries((A, opposed)): L1 + L2 - 2 * M,
        InParallel((A, B)): (L1 * L2 - M * M) / (L1 + L2 - 2 * M),
        InParallel((A, opposed)): (L1 * L2 - M * M) / (L1 + L2 + 2 * M),
    }
    for source, expected in cases.items():
        assert equivalent_inductance_H(source, "ab", L) == pytest.approx(
            expected, rel=1e-9
        )  # k up to 0.95 is well conditioned


@settings(max_examples=30, deadline=None)
@given(positive, positive, positive)
def test_resistances_follow_the_textbook(Ra, Rb, Rc):
    R = (Ra, Rb, Rc)
    assert equivalent_resistance_ohm(InSeries((A, B, C)), NAMES, R) == pytest.approx(sum(R))
    assert equivalent_resistance_ohm(InParallel((A, B, C)), NAMES, R) == pytest.approx(
        1 / (1 / Ra + 1 / Rb + 1 / Rc)
    )
    nested = InSeries((InParallel((A, CoilRef("b", reverse=True))), C))
    assert equivalent_resistance_ohm(nested, NAMES, R) == pytest.approx(Ra * Rb / (Ra + Rb) + Rc)


def test_swapping_the_ends_of_a_whole_connection_changes_no_inductance_but_its_coupling():
    L = np.array([[2.0, 0.5, 0.8], [0.5, 1.0, 0.3], [0.8, 0.3, 3.0]])
    pair, swapped = InSeries((A, B)), InSeries((A, B), reverse=True)
    assert equivalent_inductance_H(swapped, NAMES, L) == equivalent_inductance_H(pair, NAMES, L)
    helping = equivalent_inductance_H(InSeries((pair, C)), NAMES, L)
    opposing = equivalent_inductance_H(InSeries((swapped, C)), NAMES, L)
    assert helping - opposing == pytest.approx(4 * (0.8 + 0.3))


def test_impedance_of_a_nested_group_against_node_equations():
    omega = 700.0
    L = 1e-3 * np.array([[20.0, 5.0, 3.0], [5.0, 30.0, -4.0], [3.0, -4.0, 10.0]])
    Z = np.diag([10.0, 25.0, 5.0]) + 1j * omega * L
    source = InParallel((InSeries((A, CoilRef("b", reverse=True))), C))
    # Node equations by hand: coil currents i = inverse(Z) v with v = (x, -(V - x), V); the current
    # through a and through b reversed are the same; the total is one ampere.
    Y = np.linalg.inv(Z)
    rows = np.zeros((2, 2), dtype=complex)
    voltage = np.array([[1.0, 0.0], [1.0, -1.0], [0.0, 1.0]])  # columns x, V
    currents = Y @ voltage
    rows[0] = currents[0] + currents[1]
    rows[1] = currents[0] + currents[2]
    _, expected = np.linalg.solve(rows, [0.0, 1.0])
    assert equivalent_impedance_ohm(source, NAMES, Z) == pytest.approx(expected, rel=1e-12)


def test_a_parallel_group_is_resistive_slow_and_inductive_fast():
    L, R = np.array([[1.0, 0.2], [0.2, 4.0]]), np.diag([3.0, 2.0])
    both = InParallel((A, B))
    omega = np.array([1e-6, 1e6])
    Z = equivalent_impedance_ohm(both, "ab", R + 1j * omega[:, None, None] * L)
    assert Z[0].real == pytest.approx(equivalent_resistance_ohm(both, "ab", [3.0, 2.0]))
    assert Z[1].imag / omega[1] == pytest.approx(equivalent_inductance_H(both, "ab", L))
    # Slow, current splits 2 to 3 by resistance, and stores the energy of that.
    split = np.array([0.4, 0.6])
    assert Z[0].imag / omega[0] == pytest.approx(split @ L @ split)


def test_a_name_that_is_not_there():
    with pytest.raises(KeyError):
        equivalent_resistance_ohm(CoilRef("z"), NAMES, [1.0, 1.0, 1.0])
