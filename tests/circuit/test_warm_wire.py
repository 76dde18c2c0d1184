"""Coils as warm as their losses make them."""

from __future__ import annotations

import numpy as np
import pytest

from fieldsim.circuit.emf_source import PeriodicEmf
from fieldsim.circuit.network import Circuit, CoilSet, Outlet
from fieldsim.circuit.solver import periodic_steady_state, start_up
from fieldsim.circuit.warm_wire import MOST_GROWTH
from fieldsim.machine.connections import CoilRef, InParallel, InSeries
from fieldsim.machine.load.circuit_parts import Bridge, Capacitor, Parallel, Resistor, lamp_strings
from fieldsim.machine.load.led_colours import generic_led

SINE = np.sin(2 * np.pi * np.arange(64) / 64)
EMF = PeriodicEmf(0.02, 10.0 * SINE)
LAMPS = Bridge(Parallel((lamp_strings(generic_led("white"), 1, 4), Capacitor(1e-4))))


def one_coil(load, warming_per_W, ohm=50.0, henry=0.0):
    coils = CoilSet.from_arrays(["coil"], [ohm], [[henry]], warming_per_W)
    return Circuit(coils, (Outlet("coil", CoilRef("coil"), load),))


@pytest.mark.parametrize("per_W", [0.02, 0.5, 3.0])
def test_a_coil_on_a_resistor_has_the_resistance_that_its_own_loss_makes(per_W):
    """10 V peak on R + 30 ohm: R = 50 (1 + k 50 R/(R + 30)^2), a cubic in R."""
    result = periodic_steady_state(one_coil(Resistor(30.0), per_W), EMF)
    found = result.coils["coil"].resistance_ohm
    # R (R + 30)^2 - 50 (R + 30)^2 - 2500 k R = 0
    roots = np.roots([1.0, 10.0, -2100.0 - 2500 * per_W, -45_000.0])
    (exact,) = (r.real for r in roots if abs(r.imag) < 1e-9 and r.real > 50)
    # settled to 2e-4 of the resistance at rest or better, solved to 5e-5
    assert found == pytest.approx(exact, abs=50 * 2e-4)
    assert result.coils["coil"].heat_W == pytest.approx(50 * exact / (exact + 30) ** 2, rel=5e-4)


@pytest.mark.parametrize("load", [Resistor(20.0), LAMPS, Capacitor(1e-5)])
def test_resistance_and_loss_agree_and_the_books_close(load):
    result = periodic_steady_state(one_coil(load, 0.4, henry=0.05), EMF)
    coil = result.coils["coil"]
    assert coil.resistance_ohm == pytest.approx(50.0 * (1 + 0.4 * coil.heat_W), rel=2e-4)
    assert coil.heat_W == pytest.approx(coil.resistance_ohm * coil.rms_current_A**2, rel=1e-12)
    assert result.circuit.coils.resistance_ohm == (coil.resistance_ohm,)
    assert result.balance.energy < 1e-4
    assert result.warnings == ()


def test_a_current_that_its_resistance_does_not_change_warms_it_all_the_same():
    """Behind 10 kohm the loss grows with the resistance: R = R0/(1 - k R0 I^2)."""
    emf = PeriodicEmf(0.02, 2000.0 * SINE)
    result = periodic_steady_state(one_coil(Resistor(1e4), 0.2), emf)
    square = 2000.0**2 / 2 / 10_065**2
    assert result.coils["coil"].resistance_ohm == pytest.approx(
        50 / (1 - 0.2 * 50 * square),
        rel=2e-3,  # the total resistance moves by the coil's growth
    )


def test_from_a_neighbour_the_same_is_found():
    circuit = one_coil(LAMPS, 0.4)
    far = periodic_steady_state(one_coil(LAMPS, 1.5), EMF)
    alone = periodic_steady_state(circuit, EMF)
    begun = periodic_steady_state(circuit, EMF, near=far)
    # both settled to 1e-4 of the resistance at rest
    assert begun.coils["coil"].resistance_ohm == pytest.approx(
        alone.coils["coil"].resistance_ohm, rel=2e-4
    )
    assert begun.lamps[0].average_current_A == pytest.approx(
        alone.lamps[0].average_current_A, rel=5e-4
    )


def test_wire_that_is_held_keeps_its_resistance():
    result = periodic_steady_state(one_coil(Resistor(20.0), 0.0), EMF)
    assert result.coils["coil"].resistance_ohm == 50.0


def test_nothing_grows_without_end():
    result = periodic_steady_state(one_coil(Resistor(1.0), 1e3), EMF)
    assert result.coils["coil"].resistance_ohm == pytest.approx(50 * (1 + MOST_GROWTH))
    assert result.warnings == ()


def test_each_coil_warms_by_its_own_loss():
    coils = CoilSet.from_arrays(["a", "b", "c"], [40.0, 80.0, 30.0], None, [0.5, 0.1, 0.2])
    source = InSeries((CoilRef("a"), InParallel((CoilRef("b"), CoilRef("c")))))
    circuit = Circuit(coils, (Outlet("all", source, Resistor(20.0)),))
    result = periodic_steady_state(circuit, PeriodicEmf(0.02, np.outer([9, 7, 8], SINE)))
    for name, ohm, per_W in zip("abc", (40.0, 80.0, 30.0), (0.5, 0.1, 0.2), strict=True):
        coil = result.coils[name]
        assert coil.heat_W > 0.05
        assert coil.resistance_ohm == pytest.approx(ohm * (1 + per_W * coil.heat_W), rel=2e-4)


def test_an_open_coil_stays_as_it_is():
    coils = CoilSet.from_arrays(["a", "b"], [40.0, 80.0], None, 0.5)
    circuit = Circuit(coils, (Outlet("a", CoilRef("a"), Resistor(20.0)),))
    result = periodic_steady_state(circuit, PeriodicEmf(0.02, np.outer([9, 7], SINE)))
    assert result.coils["b"].resistance_ohm == pytest.approx(80.0, rel=1e-12)


def test_a_start_is_cold():
    result = start_up(one_coil(Resistor(20.0), 3.0), EMF, 0.04, 2e-4)
    assert result.coils["coil"].resistance_ohm == 50.0
