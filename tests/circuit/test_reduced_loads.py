"""Loads with their users taken out or replaced."""

from __future__ import annotations

import pytest

from fieldsim.circuit.meters import with_meter_behind_bridge
from fieldsim.circuit.network import one_coil_circuit
from fieldsim.circuit.reduced_loads import has_bridge, with_resistor, without_users
from fieldsim.machine.load.circuit_parts import (
    SCHOTTKY,
    Bridge,
    Capacitor,
    Open,
    Parallel,
    Resistor,
    Series,
    anti_parallel,
    lamp_strings,
    leaves,
    single_rectifier,
)
from fieldsim.machine.load.led_colours import generic_led

LAMPS = lamp_strings(generic_led("white"), series=2, parallel=3)
SMOOTHING = Capacitor(470e-6, 0.2)


def test_a_bridge_keeps_its_diodes_and_capacitor():
    load = Bridge(Parallel((LAMPS, SMOOTHING)), SCHOTTKY)
    assert without_users(load) == Bridge(SMOOTHING, SCHOTTKY)
    assert with_resistor(load, 33.0) == Bridge(Parallel((SMOOTHING, Resistor(33.0))), SCHOTTKY)


def test_a_single_diode_stays():
    load = single_rectifier(Parallel((LAMPS, SMOOTHING)))
    kept = with_resistor(load, 33.0)
    assert isinstance(kept, Series)
    assert [type(part).__name__ for part, _ in leaves(kept)] == ["Diode", "Capacitor", "Resistor"]


def test_without_a_rectifier_the_resistor_takes_the_place_of_all():
    assert with_resistor(anti_parallel(generic_led("red")), 33.0) == Resistor(33.0)
    assert without_users(LAMPS) == Open()
    assert with_resistor(Series((LAMPS, Resistor(10.0))), 33.0) == Resistor(33.0)


def test_a_bridge_beside_something_else_is_the_one_that_counts():
    load = Parallel((Resistor(1e3), Bridge(LAMPS)))
    assert has_bridge(load)
    assert not has_bridge(LAMPS)
    assert with_resistor(load, 33.0) == Bridge(Resistor(33.0))


def test_a_capacitor_alone():
    assert with_resistor(Bridge(SMOOTHING), 33.0).load == Parallel((SMOOTHING, Resistor(33.0)))
    assert without_users(Bridge(SMOOTHING)) == Bridge(SMOOTHING)


@pytest.mark.parametrize(
    "load",
    [
        Series((Resistor(22.0), Bridge(LAMPS))),
        Series((Capacitor(1e-4), Parallel((Bridge(LAMPS), Resistor(1e3))))),
        Series((Bridge(LAMPS),), 2),
        Parallel((Bridge(LAMPS),), 2),
        Parallel((Resistor(1e3), Series((Resistor(22.0), Bridge(LAMPS)))), 3),
    ],
)
def test_a_bridge_at_any_depth_stays(load):
    for reduced, user in ((without_users(load), Open()), (with_resistor(load, 33.0), None)):
        with_meter_behind_bridge(one_coil_circuit(50.0, reduced), "coil")  # else it raises
        assert (user or Resistor(33.0)) in [leaf for leaf, _ in leaves(reduced)]
        assert not set(leaves(LAMPS)) & set(leaves(reduced))


def test_what_stands_in_front_of_a_bridge_stays():
    load = Series((Resistor(22.0), Bridge(LAMPS)))
    assert with_resistor(load, 33.0) == Series((Resistor(22.0), Bridge(Resistor(33.0))))


def test_a_bank_of_capacitors_is_kept_whole():
    bank = Parallel((SMOOTHING,), 2)
    assert without_users(Bridge(Parallel((bank, LAMPS)))) == Bridge(bank)
    assert without_users(Bridge(Parallel((SMOOTHING, LAMPS), 2))) == Bridge(bank)
    in_series = Series((SMOOTHING,), 3)
    assert without_users(Bridge(Parallel((in_series, LAMPS)))) == Bridge(in_series)
