"""Diode and resistor across a voltage, against the closed form with Lambert's W.

Source: the exact solution of Shockley's equation with a series resistance,
I = (nVt/R) W0[(Is R/nVt) exp((V + Is R)/nVt)] - Is, tabulated to 12 digits by root finding.
"""

import mpmath
import numpy as np
import pytest

from fieldsim.circuit.emf_source import PeriodicEmf
from fieldsim.circuit.network import one_coil_circuit
from fieldsim.circuit.solver import periodic_steady_state
from fieldsim.machine.load.circuit_parts import Diode
from fieldsim.machine.load.diode_law import JunctionLaw, led_and_resistor_A, thermal_voltage_V

# V, R, Is, n, T, I, Vd
TABLE = [
    (5.0, 220.0, 1e-18, 2.0, 298.15, 0.0140429711481, 1.91054634743),
    (3.0, 100.0, 1e-18, 2.0, 298.15, 0.0110191395121, 1.89808604879),
    (2.0, 47.0, 2e-14, 2.2, 298.15, 0.0101401245924, 1.52341414416),
    (1.0, 1000.0, 1e-12, 1.0, 300.0, 4.83071792424e-4, 0.516928207576),
    (5.0, 1000.0, 1e-14, 1.0, 300.0, 4.30745637251e-3, 0.692543627494),
]


@pytest.mark.parametrize(("V", "R", "Is", "n", "T", "current", "drop"), TABLE)
def test_closed_form(V, R, Is, n, T, current, drop):
    got = float(led_and_resistor_A(V, R, Is, n * thermal_voltage_V(T)))
    assert got == pytest.approx(current, rel=2e-12)  # the table has 12 digits
    assert V - got * R == pytest.approx(drop, rel=2e-11)  # a difference loses one of them


@pytest.mark.parametrize(("V", "R", "Is", "n", "T", "current", "drop"), TABLE)
def test_the_circuit_solver_gives_it_too(V, R, Is, n, T, current, drop):
    law = JunctionLaw(Is, n * thermal_voltage_V(T), leakage_S=0.0)
    constant = PeriodicEmf(0.01, np.full(8, V))  # the coil's resistance is R
    result = periodic_steady_state(one_coil_circuit(R, Diode(law)), constant)
    trace = result.parts[0]
    # the table's 12 digits, less the 1e-12 S of insulation: 5 pA in 0.5 mA
    assert trace.average_current_A == pytest.approx(current, rel=2e-8)
    assert float(trace.voltage_V[-1]) == pytest.approx(drop, rel=2e-8)


def test_far_above_where_an_exponential_would_overflow():
    # mpmath's W with 50 digits; exp(V/nVt) here would be e^7700
    with mpmath.workdps(50):
        V, R, Is, s = map(mpmath.mpf, ("200", "1000", "1e-14", "0.026"))
        exact = s / R * mpmath.lambertw(Is * R / s * mpmath.exp((V + Is * R) / s)) - Is
    got = float(led_and_resistor_A(200.0, 1000.0, 1e-14, 0.026))
    assert got == pytest.approx(float(exact), rel=1e-12)  # rounding of a logarithm of 7700
