"""Current that coils in parallel drive round through each other."""

from __future__ import annotations

import numpy as np
import pytest

from fieldsim.circuit.circulating import circulating_cautions, circulating_W
from fieldsim.circuit.emf_source import PeriodicEmf
from fieldsim.circuit.network import Circuit, CoilSet, Outlet
from fieldsim.circuit.solver import periodic_steady_state
from fieldsim.machine.connections import CoilRef, InParallel, InSeries
from fieldsim.machine.load.circuit_parts import Open, Resistor

SINE = np.sin(2 * np.pi * np.arange(64) / 64)
A, B, C = CoilRef("a"), CoilRef("b"), CoilRef("c")
NEAR = 1e-3  # of a solution


def solved(source, load, peaks_V, ohm):
    names = [*"abc"[: len(peaks_V)]]
    circuit = Circuit(CoilSet.from_arrays(names, ohm), (Outlet("all", source, load),))
    return periodic_steady_state(circuit, PeriodicEmf(0.02, np.outer(peaks_V, SINE)))


@pytest.mark.parametrize("load", [Open(), Resistor(25.0)])
@pytest.mark.parametrize(("peaks_V", "ohm"), [((9, -9), (50, 50)), ((10, 6), (40, 60))])
def test_two_coils_lose_their_difference_squared_over_both_resistances(load, peaks_V, ohm):
    """Whatever the load: by superposition the loop's current is that with nothing connected."""
    pair = InParallel((A, B))
    result = solved(pair, load, peaks_V, ohm)
    exact_W = (peaks_V[0] - peaks_V[1]) ** 2 / 2 / sum(ohm)
    assert circulating_W(result, pair) == pytest.approx(exact_W, rel=NEAR)


def test_it_is_the_rest_of_the_coils_heat():
    source = InSeries((A, InParallel((B, CoilRef("c", reverse=True)))))
    result = solved(source, Resistor(30.0), (9, 8, 4), (40, 50, 90))
    heat_W = sum(coil.heat_W for coil in result.coils.values())
    current_A = result.outlets["all"].current_A
    through_W = (40 + 1 / (1 / 50 + 1 / 90)) * result.average(current_A**2)
    assert circulating_W(result, source) == pytest.approx(heat_W - through_W, rel=NEAR)


def test_coils_that_oppose_or_differ_are_cautioned_in_watts():
    result = solved(InParallel((A, CoilRef("b", reverse=True))), Resistor(10.0), (9, 9), (50, 50))
    (caution,) = circulating_cautions(result)
    assert (caution.kind, caution.where) == ("circulating current", "all")
    assert caution.value == pytest.approx(18**2 / 2 / 100, rel=NEAR)
    assert caution.facts["heat_W"] == pytest.approx(caution.value, rel=NEAR)  # there is no other


def test_like_coils_in_parallel_or_any_in_series_need_no_word():
    for source in (InParallel((A, B)), InSeries((A, CoilRef("b", reverse=True)))):
        result = solved(source, Resistor(10.0), (9, 9), (50, 50))
        assert circulating_W(result, source) == pytest.approx(0.0, abs=1e-9)
        assert circulating_cautions(result) == ()
    nearly = solved(InParallel((A, B)), Resistor(10.0), (9, 8.9), (50, 50))
    assert circulating_W(nearly, InParallel((A, B))) > 0
    assert circulating_cautions(nearly) == ()
