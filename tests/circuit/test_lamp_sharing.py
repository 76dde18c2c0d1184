"""Lamps side by side that are not alike."""

from __future__ import annotations

import numpy as np
import pytest

from fieldsim.cautions import Hazard
from fieldsim.circuit.emf_source import PeriodicEmf
from fieldsim.circuit.lamp_sharing import (
    SPREAD_V,
    lamp_strings_of,
    shared_A,
    uneven_lamp_cautions,
)
from fieldsim.circuit.network import one_coil_circuit
from fieldsim.circuit.solver import periodic_steady_state
from fieldsim.machine.load.circuit_parts import (
    Bridge,
    Capacitor,
    Led,
    Parallel,
    Resistor,
    Series,
    anti_parallel,
    lamp_strings,
)

EMF = PeriodicEmf(0.01, 9.0 * np.sin(2 * np.pi * np.arange(64) / 64))


def white(forward_V=3.2):
    """All with 16 ohm inside, so that two of them differ by their voltage alone."""
    return Led.from_data_sheet(forward_V, 0.02, series_ohm=16.0)


def behind_a_bridge(*lamps):
    load = Bridge(Parallel((*lamps, Capacitor(1e-4))))
    return periodic_steady_state(one_coil_circuit(70.0, load), EMF)


@pytest.mark.parametrize("ohm", [0.0, 20.0])
def test_it_says_what_two_such_lamps_in_the_circuit_take(ohm):
    """The circuit solved once with equal lamps, and once with lamps that differ by 0.1 V."""
    alike = behind_a_bridge(lamp_strings(white(), 1, 6, ohm))
    low, high = (lamp_strings(white(3.2 + d), 1, 3, ohm) for d in (-SPREAD_V / 2, SPREAD_V / 2))
    apart = behind_a_bridge(low, high)
    string = next(lamp_strings_of(alike.circuit.outlets[0].load))
    trace = alike.part("LED")
    more, less = shared_A(string.law, np.maximum(trace.current_A, 0.0), string.spread_V)
    # all that is left out is what the unequal lamps change in the whole circuit, a hundredth
    assert alike.average(more) == pytest.approx(apart.lamps[0].average_current_A, rel=0.01)
    assert alike.average(less) == pytest.approx(apart.lamps[1].average_current_A, rel=0.02)


def test_together_they_take_what_two_equal_ones_take():
    current = np.geomspace(1e-9, 0.1, 40)
    more, less = shared_A(white().law, current, 0.1)
    assert more + less == pytest.approx(2 * current, rel=1e-9)
    assert (more > less).all()
    assert shared_A(white().law, current, 0.0)[0] == pytest.approx(current, rel=1e-9)


def test_the_caution_has_the_current_of_the_brighter():
    result = behind_a_bridge(lamp_strings(white(), 1, 6))
    (caution,) = uneven_lamp_cautions(result)
    mean_A = result.lamps[0].average_current_A
    assert (caution.kind, caution.where) == (Hazard.UNEVEN_LAMPS, "LED")
    assert caution.limit == pytest.approx(1.2 * mean_A)
    assert caution.value > caution.limit
    assert caution.value + caution.facts["less_A"] == pytest.approx(2 * mean_A, rel=1e-6)


@pytest.mark.parametrize(
    "lamps",
    [
        lamp_strings(white(), 1, 6, 100.0),  # a resistor in each string
        lamp_strings(white(), 1, 1),  # nothing beside it
        anti_parallel(white()),  # not at the same time
        Parallel((white(2.0), white(3.2))),  # solved as they are
        Series((white(),), 2),
    ],
)
def test_none_where_they_share_well_or_do_not_share(lamps):
    result = behind_a_bridge(lamps)
    assert max(lamp.average_current_A for lamp in result.lamps) > 0.5e-3
    assert uneven_lamp_cautions(result) == []


def test_none_for_lamps_that_nobody_sees():
    emf = PeriodicEmf(0.01, 0.35 * EMF.emf_V)
    circuit = one_coil_circuit(70.0, Bridge(lamp_strings(white(), 1, 6)))
    result = periodic_steady_state(circuit, emf)
    assert 0 < result.lamps[0].average_current_A < 0.5e-3
    assert uneven_lamp_cautions(result) == []


def test_strings_in_the_order_of_the_parts():
    """A resistor before all lamps evens out none; alike parts stand side by side."""
    led, ohm = white(), Resistor(33.0)
    load = Bridge(
        Series((
            ohm,
            Parallel((lamp_strings(led, 3, 2, 47.0), led, Series((led, ohm), 2), led, led)),
        ))
    )  # fmt: skip
    found = [(s.series, s.resistance_ohm, s.alike) for s in lamp_strings_of(load)]
    assert found == [(3, 47.0, 2), (1, 0.0, 3), (2, 99.0, 1), (1, 0.0, 3), (1, 0.0, 3)]


def test_longer_strings_differ_by_chance():
    (string,) = lamp_strings_of(lamp_strings(white(), 4, 2))
    assert string.spread_V == pytest.approx(0.2)
    assert string.law.series_ohm == pytest.approx(64.0)
