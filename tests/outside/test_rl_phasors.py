"""Coils, resistors and capacitors with a sine: against phasors (exact for linear circuits)."""

import numpy as np
import pytest

from fieldsim.circuit.emf_source import PeriodicEmf
from fieldsim.circuit.network import Circuit, CoilSet, Outlet, one_coil_circuit
from fieldsim.circuit.solver import periodic_steady_state, start_up
from fieldsim.machine.connections import CoilRef, InParallel, InSeries
from fieldsim.machine.load.circuit_parts import Capacitor, Resistor, Series, Short

HERTZ = 50.0
OMEGA = 2 * np.pi * HERTZ
T = np.arange(96) / 96 / HERTZ


def sine(*phasors):
    """EMF of each coil from its complex amplitude, e(t) = Re(E exp(jwt))."""
    return PeriodicEmf(
        1 / HERTZ, np.array([(p * np.exp(1j * OMEGA * T)).real for p in map(complex, phasors)])
    )


def amplitude(result, values):
    """Complex amplitude of the fundamental, by the result's own quadrature."""
    wave = np.exp(-1j * OMEGA * result.time_s)
    return 2 * complex((result.weight_s * wave) @ values) / result.weight_s.sum()


# Third-order steps of 1/104 period: (2 pi / 104)^3 / 72 = 3e-6, times a few for the quadrature.
NEAR = 5e-5


@pytest.mark.parametrize("henry", [0.0, 0.01, 0.3, 5.0])
def test_coil_with_inductance_into_a_resistor(henry):
    result = periodic_steady_state(one_coil_circuit(50.0, Resistor(120.0), henry), sine(10.0))
    exact = 10.0 / (170.0 + 1j * OMEGA * henry)
    assert amplitude(result, result.coils["coil"].current_A) == pytest.approx(exact, rel=NEAR)
    assert result.load_W == pytest.approx(0.5 * abs(exact) ** 2 * 120.0, rel=2 * NEAR)
    assert result.coils["coil"].heat_W == pytest.approx(0.5 * abs(exact) ** 2 * 50.0, rel=2 * NEAR)


def test_series_capacitor_near_resonance():
    L, C = 0.2, 45e-6
    load = Series((Resistor(20.0), Capacitor(C, esr_ohm=3.0)))
    result = periodic_steady_state(one_coil_circuit(30.0, load, L), sine(5.0))
    exact = 5.0 / (53.0 + 1j * OMEGA * L + 1 / (1j * OMEGA * C))
    assert amplitude(result, result.coils["coil"].current_A) == pytest.approx(exact, rel=NEAR)


def two_coils(source, load):
    coils = CoilSet.from_arrays(["a", "b"], [40.0, 70.0], [[0.1, 0.06], [0.06, 0.2]])
    return Circuit(coils, (Outlet("out", source, load),))


@pytest.mark.parametrize("opposing", [False, True])
def test_mutual_inductance_of_coils_in_series(opposing):
    source = InSeries((CoilRef("a"), CoilRef("b", reverse=opposing)))
    result = periodic_steady_state(two_coils(source, Resistor(90.0)), sine(6.0, 4.0j))
    sign = -1 if opposing else 1
    exact = (6.0 + sign * 4.0j) / (200.0 + 1j * OMEGA * (0.3 + sign * 0.12))
    assert amplitude(result, result.coils["a"].current_A) == pytest.approx(exact, rel=NEAR)
    assert amplitude(result, result.coils["b"].current_A) == pytest.approx(sign * exact, rel=NEAR)


def test_coils_in_parallel_share_by_the_impedance_matrix():
    source = InParallel((CoilRef("a"), CoilRef("b")))
    result = periodic_steady_state(two_coils(source, Resistor(90.0)), sine(6.0, 4.0j))
    Z = np.diag([40.0, 70.0]) + 1j * OMEGA * np.array([[0.1, 0.06], [0.06, 0.2]]) + 90.0
    exact = np.linalg.solve(Z, [6.0, 4.0j])
    for name, current in zip("ab", exact, strict=True):
        got = amplitude(result, result.coils[name].current_A)
        assert got == pytest.approx(current, rel=NEAR)


def test_an_open_coil_feels_its_loaded_neighbour():
    result = periodic_steady_state(two_coils(CoilRef("a"), Short()), sine(6.0, 0.0))
    current = 6.0 / (40.0 + 1j * OMEGA * 0.1)
    got = amplitude(result, result.coils["b"].voltage_V)
    # a derivative of the current, hence one order less: (2 pi/104)^2 / 18 = 2e-4
    assert got == pytest.approx(-1j * OMEGA * 0.06 * current, rel=5e-4)


def test_switching_on_a_coil_with_inductance():
    # i = E/R (1 - exp(-R t/L)), from the textbook
    circuit = one_coil_circuit(10.0, Short(), 0.05)
    result = start_up(circuit, lambda t: np.full((1, len(t)), 2.0), 0.02, 1e-4)
    exact = 0.2 * (1 - np.exp(-result.time_s * 10.0 / 0.05))
    # third order: (h R/L)^3 = 8e-6 at the ends of the steps, one order less at the stage between
    assert np.abs(result.coils["coil"].current_A - exact).max() < 2e-5 * 0.2
