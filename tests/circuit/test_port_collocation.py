import numpy as np
import pytest

from fieldsim.circuit.emf_source import EmfTables, PeriodicEmf
from fieldsim.circuit.equations import many_equations
from fieldsim.circuit.half_wave import repeats, turn_of
from fieldsim.circuit.network import Circuit, CoilSet, Outlet
from fieldsim.circuit.port_collocation import PortSystem, _closed, stage_times
from fieldsim.circuit.port_network import PortNetworks
from fieldsim.circuit.port_newton import newton
from fieldsim.machine.connections import CoilRef, InParallel, InSeries
from fieldsim.machine.load.circuit_parts import Bridge, Capacitor, Parallel, lamp_strings
from fieldsim.machine.load.led_colours import generic_led

T = np.arange(128) / 128
ODD = 9 * np.sin(2 * np.pi * T) + 2 * np.sin(6 * np.pi * T + 0.4)
WAVES = {"odd": ODD, "uneven": ODD + np.sin(4 * np.pi * T)}
SCALE_V = np.array([10.0, 12.0])
REFS = CoilRef("a"), CoilRef("b")


def system_of(wave, load, source, mutual_H):
    """Return the equations of two circuits of two coils, on 40 steps."""
    circuits = []
    for k in (1.0, 1.1):
        henry = np.array([[0.05, mutual_H], [mutual_H, 0.04]]) * k**2
        coils = CoilSet.from_arrays(["a", "b"], np.array([60.0, 50.0]) * k**2, henry)
        circuits.append(Circuit(coils, (Outlet("both", source, load),)))
    networks = PortNetworks(tuple(many_equations(circuits)), np.full(2, 500.0))
    networks = networks.with_alike_together()
    emfs = [PeriodicEmf(0.04, k * np.stack([wave, 0.9 * wave])) for k in (1.0, 1.2)]
    turn = turn_of(networks, *repeats(emfs[0]))
    times_s = np.linspace(0.0, 0.04 / turn.stretches, 41) * np.ones((2, 1))
    emf_V = EmfTables(emfs).at(np.arange(2), stage_times(times_s))
    return PortSystem(networks, times_s, emf_V, turn)


LAMPS = lamp_strings(generic_led("white"), 1, 4)
SYSTEMS = {
    "series": (Bridge(LAMPS), InSeries(REFS), 0.0),
    "smoothed": (Bridge(Parallel((LAMPS, Capacitor(4.7e-4, 0.2)))), InParallel(REFS), 0.02),
}


@pytest.fixture(params=SYSTEMS.values(), ids=SYSTEMS)
def given(request):
    return request.param


@pytest.fixture(params=WAVES.values(), ids=WAVES)
def system(request, given):
    return system_of(request.param, *given)


def solved(system):
    b, n = system.h.shape
    t = np.zeros((system.d, b, 2, n)) + system.networks.at_rest(1.0)[..., None, None]
    found = newton(system, t, np.zeros((system.r, b, 2, n)), SCALE_V, 1e-10)
    assert found.converged.all()
    return found.state


def test_a_step_leads_back_from_beside_the_solution(system):
    state = solved(system)
    rng = np.random.default_rng(5)
    # so little that only the slopes tell
    dt, dback_V = (1e-5 * rng.normal(size=x.shape) for x in (state.t, state.back_V))
    steps = system.newton_step(system.at(state.t + dt, state.back_V + dback_V))
    assert steps[1] == pytest.approx(-dback_V, abs=1e-9)
    assert steps[0] == pytest.approx(-dt, abs=1e-7)


def test_what_newton_starts_from_stays(system):
    state = solved(system)
    t, back_V = state.t + 1.0, state.back_V + 0.1
    given = t.copy(), back_V.copy()
    assert newton(system, t, back_V, SCALE_V, 1e-10).converged.all()
    assert np.array_equal(t, given[0])
    assert np.array_equal(back_V, given[1])


def test_junctions_alone_go_where_the_waves_bring_them(system):
    state = solved(system)
    rng = np.random.default_rng(6)
    straight = np.maximum(state.t + 1.0, 1.0)  # as far as laws hardly bend
    away = state.t + 3.0 * straight * (rng.random(state.t.shape) < 0.1)
    left = np.abs(system.at(away, state.back_V).junction_V).max()
    brought = system.at(away, state.back_V, 1.0, 20)
    assert np.abs(brought.junction_V).max() < 0.1 * left
    assert np.abs((brought.t - state.t) / straight).max() < 0.4  # of 3: nearer is for all together
    # all that is kept of the state fits together
    again = system.at(brought.t, state.back_V)
    for name in ("out_V", "moved", "junction_V", "rate_V"):
        assert getattr(brought, name) == pytest.approx(getattr(again, name), abs=1e-9)
    for wave, same in zip(brought.waves, again.waves, strict=True):
        assert wave == pytest.approx(same, abs=1e-12)


def test_some_circuits_step_as_among_all(system):
    state = solved(system)
    which = np.array([1])
    beside = system.at(state.t, state.back_V + 0.1)
    few = system.chosen(which)
    alone = few.at(state.t[:, which], state.back_V[:, which] + 0.1)
    expected = system.newton_step(beside)
    for given in (alone, beside.chosen(which)):
        for step, other in zip(few.newton_step(given), expected, strict=True):
            assert step == pytest.approx(other[:, which], rel=1e-9, abs=1e-9)


@pytest.mark.parametrize("count", [1, 2, 3, 7, 12])
def test_a_ring_of_steps_is_closed(count):
    rng = np.random.default_rng(count)
    steps = rng.normal(size=(2, 3, 4, count))
    turned = np.array([-1.0, 1.0])
    start = _closed(steps, np.ones((4, 2)), turned)
    for b in range(4):
        for k in range(count):
            end = steps[:, :2, b, k] @ start[:, b, k] + steps[:, 2, b, k]
            last = k == count - 1
            expected = turned * start[:, b, 0] if last else start[:, b, k + 1]
            assert end == pytest.approx(expected, rel=1e-6, abs=1e-6)
