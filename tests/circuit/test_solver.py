import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldsim.cautions import Doubt
from fieldsim.circuit.emf_source import PeriodicEmf
from fieldsim.circuit.network import Circuit, CoilSet, Outlet, one_coil_circuit
from fieldsim.circuit.port_collocation import PortSystem
from fieldsim.circuit.solver import periodic_steady_state, settled_state, start_up
from fieldsim.machine.connections import CoilRef, InParallel, InSeries
from fieldsim.machine.load.circuit_parts import (
    SCHOTTKY,
    SILICON,
    Bridge,
    Capacitor,
    Load,
    Open,
    Parallel,
    Resistor,
    Series,
    Short,
    anti_parallel,
    lamp_strings,
    single_rectifier,
)
from fieldsim.machine.load.led_colours import generic_led
from fieldsim.machine_file.reader import read
from fieldsim.operation.operating_point import OperatingPoint

T = np.arange(128) / 128
WAVE = 9 * np.sin(2 * np.pi * T) + 2 * np.sin(6 * np.pi * T + 0.4)
EMF = PeriodicEmf(1 / 30, WAVE)
WHITE, RED = generic_led("white"), generic_led("red")
COILS = CoilSet.from_arrays(["a", "b"], [60.0, 50.0], [[0.05, 0.01], [0.01, 0.04]])
# the solver's aim is 5e-5 of source power and coil current; two solutions differ by twice that
SAME = 1e-4


def solve(load: Load, emf=EMF, ohm=100.0, henry=0.05):
    return periodic_steady_state(one_coil_circuit(ohm, load, henry), emf)


LOADS = {
    "open": Open(),
    "short": Short(),
    "resistor": Resistor(80.0),
    "lamp pair": anti_parallel(RED, 4),
    "lamps on a bridge": Bridge(lamp_strings(WHITE, 2, 6, 10.0)),
    "smoothed": Bridge(Parallel((lamp_strings(WHITE, 1, 24), Capacitor(470e-6, 0.2)))),
    "Schottky": Bridge(Parallel((lamp_strings(RED, 2, 3), Capacitor(1e-3, 0.05))), SCHOTTKY),
    "storage": Bridge(Capacitor(0.1, 1.0)),
    "open bridge": Bridge(Open()),
    "single diode": single_rectifier(Parallel((WHITE, Capacitor(100e-6)))),
    "two capacitors in series": Bridge(Series((Capacitor(1e-4), Capacitor(2e-4)))),
    "series capacitor": Series((Capacitor(10e-6, 0.1), anti_parallel(WHITE, 2))),
    "bridge in a bridge": Bridge(Bridge(Resistor(200.0))),
    "backward lamps": Bridge(Series((WHITE.reversed(), Resistor(100.0)))),
}


@pytest.mark.parametrize("henry", [0.0, 0.05, 1.0])
@pytest.mark.parametrize("load", LOADS.values(), ids=LOADS)
def test_every_kind_of_load_is_solved_and_its_books_close(load, henry):
    result = solve(load, henry=henry)
    assert result.warnings == ()
    assert result.balance.energy < 1e-4
    # a floating charge is only known to rounding over the nanoamperes that could move it
    assert result.balance.charge < 1e-4
    heat = sum(c.heat_W for c in result.coils.values())
    parts = sum(p.total_power_W for p in result.parts)
    assert heat + parts == pytest.approx(result.source_power_W, rel=SAME, abs=2e-9)
    assert result.load_W == pytest.approx(parts, rel=SAME, abs=2e-9)


@pytest.mark.parametrize("load", LOADS.values(), ids=LOADS)
def test_beginning_from_a_neighbour_leads_to_the_same_state(load):
    neighbour = solve(load, EMF.faster(0.9), ohm=80.0, henry=0.04)
    begun = periodic_steady_state(one_coil_circuit(100.0, load, 0.05), EMF, near=neighbour)
    alone = solve(load)
    assert begun.warnings == alone.warnings == ()
    assert begun.period_s == alone.period_s
    assert abs(begun.source_power_W - alone.source_power_W) <= SAME * max(
        alone.source_power_W, 1e-9
    )
    for one, other in zip(begun.parts, alone.parts, strict=True):
        assert abs(one.power_W - other.power_W) <= SAME * max(alone.source_power_W, 1e-9)


@pytest.mark.parametrize("henry", [0.0, 0.05, 1.0])
@pytest.mark.parametrize("load", LOADS.values(), ids=LOADS)
def test_the_slower_way_leads_to_the_same_state(load, henry):
    circuit = one_coil_circuit(100.0, load, henry)
    slow, fast = settled_state(circuit, EMF), periodic_steady_state(circuit, EMF)
    assert slow.waves is None
    assert fast.waves is not None  # found without it
    for one, other in zip(slow.parts, fast.parts, strict=True):
        # of leakage alone, a millionth of what the coil could give is near enough
        assert abs(one.power_W - other.power_W) <= SAME * max(slow.source_power_W, 1e-6)
    moved_A = slow.coils["coil"].rms_current_A
    for one, other in zip(slow.lamps, fast.lamps, strict=True):
        assert abs(one.average_current_A - other.average_current_A) <= SAME * moved_A + 1e-9


def test_a_neighbour_is_a_shorter_way_in(monkeypatch):
    solved = []  # how many time steps each Newton iteration takes together
    newton_step = PortSystem.newton_step

    def counted(system, *given):
        solved.append(system.h.size)
        return newton_step(system, *given)

    point = OperatingPoint(read("geometries/lamp_ring.yaml"), "90 rpm")
    circuit, emf = point.coil_circuit.circuit, point.circuit_emf
    neighbour = periodic_steady_state(circuit, emf.faster(0.9), tolerance=3e-4)
    monkeypatch.setattr(PortSystem, "newton_step", counted)
    alone = periodic_steady_state(circuit, emf, tolerance=3e-4)
    work = sum(solved)
    solved.clear()
    begun = periodic_steady_state(circuit, emf, tolerance=3e-4, near=neighbour)
    assert begun.load_W == pytest.approx(alone.load_W, rel=3e-4)
    assert sum(solved) < 0.8 * work


def test_what_does_not_repeat_itself_has_no_steps_to_take_over():
    coil = one_coil_circuit(100.0, LOADS["resistor"], 0.05)
    transient = start_up(coil, EMF, 0.01, 1e-3)
    with pytest.raises(ValueError, match="does not repeat itself"):
        periodic_steady_state(coil, EMF, near=transient)


def test_equal_lamps_taken_together_are_the_same_as_one_by_one():
    together = solve(Bridge(lamp_strings(WHITE, 2, 3, 22.0)))
    strings = tuple(Series((WHITE, WHITE, Resistor(22.0))) for _ in range(3))
    apart = solve(Bridge(Parallel(strings)))
    assert len(apart.lamps) == 6
    (lamp,) = together.lamps
    assert lamp.count == 6
    for other in apart.lamps:
        assert other.average_current_A == pytest.approx(lamp.average_current_A, rel=SAME)
        assert other.power_each_W == pytest.approx(lamp.power_each_W, rel=SAME)


def test_counted_bridges_in_series_and_parallel():
    # eight equal bridges as two in series, four times, are eight solved one by one
    inner = Bridge(Parallel((Resistor(300.0), Capacitor(22e-6, 0.5))))
    together = solve(Parallel((Series((inner,), 2),), 4))
    apart = solve(Parallel(tuple(Series((inner, inner)) for _ in range(4))))
    assert together.part("resistor").count == 8
    assert apart.part("resistor 5").power_W == pytest.approx(
        together.part("resistor").power_W, rel=SAME
    )


def test_identical_coils_in_parallel_are_one_of_half_the_resistance_and_inductance():
    coils = CoilSet.from_arrays(["a", "b"], [80.0, 80.0], [[0.06, 0.0], [0.0, 0.06]])
    load = LOADS["smoothed"]
    pair = Circuit(coils, (Outlet("o", InParallel((CoilRef("a"), CoilRef("b"))), load),))
    both = periodic_steady_state(pair, PeriodicEmf(EMF.period_s, np.array([WAVE, WAVE])))
    one = solve(load, ohm=40.0, henry=0.03)
    assert both.lamps[0].average_current_A == pytest.approx(
        one.lamps[0].average_current_A, rel=SAME
    )
    assert both.coils["a"].heat_W * 2 == pytest.approx(one.coils["coil"].heat_W, rel=SAME)


def test_two_outlets_coupled_only_by_mutual_inductance():
    def solved(mutual):
        coils = CoilSet.from_arrays(["a", "b"], [60.0, 50.0], [[0.5, mutual], [mutual, 0.4]])
        outlets = (
            Outlet("x", CoilRef("a"), Bridge(Resistor(50.0))),
            Outlet("y", CoilRef("b"), anti_parallel(RED)),
        )
        emf = PeriodicEmf(EMF.period_s, np.array([WAVE, 0 * WAVE]))
        return periodic_steady_state(Circuit(coils, outlets), emf)

    assert solved(0.0).lamps[0].average_current_A < 1e-9
    coupled = solved(0.3)
    assert coupled.lamps[0].average_current_A > 1e-4
    assert coupled.balance.energy < 1e-4


def test_a_reversed_coil_opposes():
    emf = PeriodicEmf(EMF.period_s, np.array([WAVE, WAVE]))

    def load_W(reverse):
        source = InSeries((CoilRef("a"), CoilRef("b", reverse=reverse)))
        circuit = Circuit(COILS, (Outlet("o", source, Resistor(100.0)),))
        return periodic_steady_state(circuit, emf).load_W

    assert load_W(True) < 1e-20 * load_W(False)


@settings(max_examples=12, deadline=None)
@given(
    st.lists(st.floats(-4, 4), min_size=3, max_size=3),
    st.floats(5, 500),
    st.floats(0, 0.5),
    st.sampled_from(["smoothed", "lamps on a bridge", "single diode", "series capacitor"]),
)
def test_energy_balance_for_any_waveform(harmonics, ohm, henry, name):
    wave = sum(a * np.sin(2 * np.pi * (k + 1) * T + k) for k, a in enumerate(harmonics))
    result = solve(LOADS[name], PeriodicEmf(0.02, wave + 3 * np.sin(2 * np.pi * T)), ohm, henry)
    assert result.warnings == ()
    heat = sum(c.heat_W for c in result.coils.values())
    parts = sum(p.total_power_W for p in result.parts)
    # nanowatts are the insulation's 1e-12 S
    assert heat + parts == pytest.approx(result.source_power_W, rel=1e-4, abs=1e-9)
    assert all(p.power_each_W >= -1e-12 for p in result.parts)


@pytest.mark.parametrize("peak_V", [0.0, 5e-324, 1e-300, 1e-30, 1e-12, 1e-7])
@pytest.mark.parametrize("name", ["smoothed", "lamps on a bridge", "series capacitor"])
def test_what_an_emf_that_cancels_leaves_is_nothing(name, peak_V):
    """Rounding leaves such EMF where coils oppose each other; the slower way never ended there."""
    wave = peak_V * np.sin(2 * np.pi * T)
    result = periodic_steady_state(
        one_coil_circuit(5.0, LOADS[name], 0.47), PeriodicEmf(0.02, wave)
    )
    assert result.waves is not None
    assert result.warnings == ()
    assert abs(result.source_power_W) < 1e-9


def test_leakage_alone_is_no_doubt():
    """A volt cannot drive two white lamps; what passes the insulation need not add up."""
    wave = 1e-9 * np.sin(4 * np.pi * T + 1) - np.sin(2 * np.pi * T)
    result = solve(LOADS["series capacitor"], PeriodicEmf(0.02, wave), 5.0, 0.414483311399021)
    assert result.source_power_W < 1e-8
    assert result.warnings == ()


@settings(max_examples=8, deadline=None)
@given(
    st.sampled_from(["smoothed", "lamps on a bridge", "lamp pair", "Schottky"]), st.floats(0, 0.3)
)
def test_symmetric_loads_do_not_feel_the_sign(name, henry):
    forward, backward = (
        solve(LOADS[name], henry=henry),
        solve(LOADS[name], EMF.scaled(-1.0), henry=henry),
    )
    assert backward.source_power_W == pytest.approx(forward.source_power_W, rel=SAME)
    currents = sorted(lamp.average_current_A for lamp in forward.lamps)
    assert sorted(lamp.average_current_A for lamp in backward.lamps) == pytest.approx(
        currents, rel=3 * SAME
    )


@settings(max_examples=10, deadline=None)
@given(st.floats(0.01, 100), st.floats(1, 1000), st.floats(0, 0.5))
def test_linear_circuits_scale(factor, ohm, henry):
    load = Series((Resistor(ohm), Capacitor(100e-6, 1.0)))
    one, more = solve(load, henry=henry), solve(load, EMF.scaled(factor), henry=henry)
    assert more.source_power_W == pytest.approx(factor**2 * one.source_power_W, rel=1e-7)
    times, values = one.sampled(one.coils["coil"].current_A)
    assert more.sampled(more.coils["coil"].current_A)[1] == pytest.approx(
        factor * values, rel=1e-6, abs=1e-9 * factor
    )
    assert len(times) == 512


def test_tighter_tolerance_comes_closer():
    circuit = one_coil_circuit(100.0, LOADS["lamps on a bridge"], 0.05)
    coarse, fine, finest = (
        periodic_steady_state(circuit, EMF, tolerance=t) for t in (1e-2, 5e-5, 1e-7)
    )

    def error(result):
        return abs(result.lamps[0].average_current_A / finest.lamps[0].average_current_A - 1)

    assert fine.steps > coarse.steps
    assert error(fine) < 1e-4
    assert error(coarse) > error(fine)


def test_steady_state_is_where_the_start_up_settles():
    load = Bridge(Parallel((lamp_strings(WHITE, 1, 6), Capacitor(47e-6, 0.2))))
    circuit = one_coil_circuit(100.0, load, 0.05)
    steady = periodic_steady_state(circuit, EMF)
    # the capacitor empties through the lamps in some 10 ms; four periods are 130 ms
    result = start_up(circuit, EMF, 4 * EMF.period_s, EMF.period_s / 100)
    assert result.warnings == ()
    last = result.time_s > (3 + 1e-9) * EMF.period_s
    weights = result.weight_s[last]
    average = weights @ result.part("white LED").current_A[last] / weights.sum()
    assert average == pytest.approx(steady.lamps[0].average_current_A, rel=SAME)
    assert result.balance.energy < 1e-4


def test_start_up_from_a_charged_capacitor_discharges_it():
    # no EMF: the capacitor empties through the resistor alone, V exp(-t/RC)
    load = Bridge(Parallel((Capacitor(100e-6, initial_V=5.0), Resistor(1000.0))))
    circuit = one_coil_circuit(100.0, load)
    result = start_up(circuit, lambda t: np.zeros((1, len(t))), 0.1, 1e-3)
    exact = 5.0 * np.exp(-result.time_s / 0.1)
    # (h/RC)^3 = 1e-6 a step at the ends, an order less between; and 5 nA of leakage in the diodes
    assert result.part("capacitor").voltage_V == pytest.approx(exact, rel=2e-5)
    assert result.balance.energy < 1e-4


def test_start_up_does_not_depend_on_how_it_is_cut_into_windows():
    circuit = one_coil_circuit(100.0, LOADS["smoothed"], 0.05)
    long, short = (start_up(circuit, EMF, 3 * EMF.period_s, EMF.period_s / n) for n in (100, 170))
    assert long.lamps[0].average_current_A == pytest.approx(
        short.lamps[0].average_current_A, rel=5e-4, abs=1e-9
    )
    assert long.part("capacitor").voltage_V[-1] == pytest.approx(
        short.part("capacitor").voltage_V[-1], rel=1e-4
    )


def test_no_emf_gives_nothing():
    result = solve(LOADS["smoothed"], PeriodicEmf(0.02, np.zeros(16)))
    assert result.warnings == ()
    assert result.source_power_W == 0.0
    assert result.efficiency == 0.0
    assert not result.lamps[0].lights


def test_steps_left_too_coarse_are_named(monkeypatch):
    monkeypatch.setattr("fieldsim.circuit.solver._MOST_ROUNDS", 2)
    circuit = one_coil_circuit(100.0, LOADS["lamps on a bridge"], 0.05)
    result = settled_state(circuit, EMF, tolerance=1e-7)
    (warning,) = result.warnings
    assert warning.kind is Doubt.COARSE_STEPS
    assert warning.value == result.balance.discretisation > warning.limit == 5e-7
    # the estimate in it is no smaller than what is really missing
    fine = solve(LOADS["lamps on a bridge"]).source_power_W
    assert result.balance.discretisation > 0.1 * abs(result.source_power_W / fine - 1)


def test_a_newton_iteration_cut_short_is_named(monkeypatch):
    monkeypatch.setattr("fieldsim.circuit.newton._MOST_STEPS", 1)
    monkeypatch.setattr("fieldsim.circuit.newton._WARM_STEPS", 1)
    monkeypatch.setattr("fieldsim.circuit.newton._SOFTENINGS", ())
    monkeypatch.setattr("fieldsim.circuit.solver._MOST_ROUNDS", 1)
    circuit = one_coil_circuit(100.0, LOADS["lamps on a bridge"], 0.05)
    warnings = settled_state(circuit, EMF).warnings
    assert warnings[0].kind is Doubt.NOT_CONVERGED
    assert warnings[0].value > 0


@pytest.mark.parametrize(("duration", "step"), [(0.0, 1e-3), (1.0, 0.0), (-1.0, 1e-3), (1e6, 1e-3)])
def test_impossible_transients(duration, step):
    with pytest.raises(ValueError):
        start_up(one_coil_circuit(1.0, Open()), EMF, duration, step)


def test_emf_of_the_wrong_number_of_coils():
    circuit = Circuit(COILS, ())
    with pytest.raises(ValueError, match="EMF of 1 coils for a circuit of 2"):
        periodic_steady_state(circuit, EMF)
    with pytest.raises(ValueError, match="EMF of 1 coils for a circuit of 2"):
        start_up(circuit, EMF, 0.1, 1e-3)


def test_silicon_takes_more_than_schottky():
    schottky = solve(Bridge(lamp_strings(WHITE, 1, 6), SCHOTTKY))
    silicon = solve(Bridge(lamp_strings(WHITE, 1, 6), SILICON))
    assert schottky.useful_power_W > silicon.useful_power_W


@pytest.mark.parametrize("load", [Open(), Resistor(50.0)])
def test_a_period_of_very_many_pulses_has_an_error_to_state(load):
    # So many pulses that the first steps are as many as may be: each has few.
    pulses = 4000
    t = np.arange(16 * pulses) / (16 * pulses)
    emf = PeriodicEmf(2.0, 10.0 * np.sin(2 * np.pi * pulses * t))
    result = periodic_steady_state(one_coil_circuit(50.0, load), emf)
    assert np.isfinite(result.balance.discretisation)
    assert all(np.isfinite(note.value) for note in result.warnings)


@pytest.mark.parametrize("load", LOADS.values(), ids=LOADS)
def test_a_neighbour_of_another_kind_is_no_beginning(load):
    """With more or fewer capacitors and junctions its unknowns are others."""
    alone = solve(load)
    for other in LOADS.values():
        begun = periodic_steady_state(one_coil_circuit(100.0, load, 0.05), EMF, near=solve(other))
        assert begun.load_W == pytest.approx(alone.load_W, rel=SAME, abs=2e-9)


def test_what_is_known_already_leaves_room_to_state_an_error():
    pulses = 4000
    t = np.arange(16 * pulses) / (16 * pulses)
    emf = PeriodicEmf(2.0, 10.0 * np.sin(2 * np.pi * pulses * t))
    circuit = one_coil_circuit(50.0, Resistor(50.0))
    first = periodic_steady_state(circuit, emf)
    again = periodic_steady_state(circuit, emf, near=first)
    assert np.isfinite(again.balance.discretisation)
    assert again.load_W == pytest.approx(first.load_W, rel=1e-9)  # the same steps
