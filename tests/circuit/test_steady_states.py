import numpy as np
import pytest

from fieldsim.circuit.emf_source import EmfTables, PeriodicEmf
from fieldsim.circuit.network import Circuit, CoilSet, Outlet, one_coil_circuit
from fieldsim.circuit.solver import (
    periodic_steady_state,
    periodic_steady_states,
    settled_state,
)
from fieldsim.machine.connections import CoilRef, InParallel
from fieldsim.machine.load.circuit_parts import (
    SCHOTTKY,
    Bridge,
    Capacitor,
    Parallel,
    Resistor,
    anti_parallel,
    lamp_strings,
)
from fieldsim.machine.load.led_colours import generic_led

T = np.arange(128) / 128
# alternating poles, with some of the odd harmonics that they make
ODD = 9 * np.sin(2 * np.pi * T) + 2 * np.sin(6 * np.pi * T + 0.4)
UNEVEN = ODD + np.sin(4 * np.pi * T)
WHITE = generic_led("white")
# each is within 5e-5 of source power or coil current of the truth, and so of the other
SAME = 1e-4


def ring(lamps: int, farad: float = 4.7e-4):
    return Bridge(Parallel((lamp_strings(WHITE, 1, lamps), Capacitor(farad, 0.2))))


def many(count: int, seed: int = 3):
    """Return circuits of two topologies in turn, and what drives them."""
    rng = np.random.default_rng(seed)
    circuits, emfs = [], []
    for i in range(count):
        lamps = int(rng.integers(1, 9))
        load = ring(lamps) if i % 2 else Bridge(lamp_strings(WHITE, 1, lamps))
        circuits.append(one_coil_circuit(60 + 90 * rng.random(), load, 0.03 + 0.03 * rng.random()))
        wave = ODD if i % 3 else UNEVEN
        emfs.append(PeriodicEmf(0.02 + 0.04 * rng.random(), (0.5 + rng.random()) * wave))
    return circuits, emfs


def alike(one, other):
    assert one.warnings == other.warnings == ()
    for a, b in zip(one.parts, other.parts, strict=True):
        assert abs(a.power_W - b.power_W) <= SAME * other.source_power_W
    coil_A = max(coil.rms_current_A for coil in other.coils.values())
    for a, b in zip(one.lamps, other.lamps, strict=True):
        assert abs(a.average_current_A - b.average_current_A) <= SAME * coil_A


def test_many_are_what_each_is_alone():
    circuits, emfs = many(24)
    together = periodic_steady_states(circuits, emfs)
    for circuit, emf, found in zip(circuits, emfs, together, strict=True):
        alike(found, periodic_steady_state(circuit, emf))


def test_neighbours_change_next_to_nothing():
    circuits, emfs = many(12)
    others, their_emfs = many(12, seed=8)
    alone = periodic_steady_states(circuits, emfs)
    among = periodic_steady_states(circuits + others, emfs + their_emfs)
    for one, other in zip(alone, among[:12], strict=True):
        assert one.source_power_W == pytest.approx(other.source_power_W, rel=1e-6)


def test_what_does_not_converge_is_finished_alone(monkeypatch):
    # so few iterations that only what is begun near its end gets there
    circuits, emfs = many(10)
    expected = [periodic_steady_state(c, e) for c, e in zip(circuits, emfs, strict=True)]
    monkeypatch.setattr("fieldsim.circuit.port_newton._MOST_ITERATIONS", 4)
    found = periodic_steady_states(circuits, emfs)
    ways = [result.waves is None for result in found]
    assert any(ways)
    assert not all(ways)
    for one, other in zip(found, expected, strict=True):
        alike(one, other)


def test_progress_tells_every_circuit_once():
    circuits, emfs = many(6)
    told = []
    periodic_steady_states(circuits, emfs, progress=lambda done, of: told.append((done, of)))
    assert told == [(i + 1, 6) for i in range(6)]


def test_none_at_all():
    assert periodic_steady_states([], []) == []


@pytest.mark.parametrize("wave", [ODD, UNEVEN, np.tile(ODD, 3)], ids=["odd", "uneven", "thrice"])
def test_repeats_within_the_period_are_alike(wave):
    period_s = 0.04 * len(wave) / 128
    found = periodic_steady_state(
        one_coil_circuit(80.0, ring(4), 0.04), PeriodicEmf(period_s, wave)
    )
    current = found.sampled(found.coils["coil"].current_A, 384 * len(wave) // 128)[1]
    pieces = current.reshape(-1, 192)
    if wave is UNEVEN:
        assert np.abs(pieces[0] + pieces[1]).max() > 0.01 * np.abs(current).max()
    else:
        assert np.abs(pieces[0] + pieces[1]).max() < 1e-9 * np.abs(current).max()
        assert np.abs(pieces[::2] - pieces[0]).max() < 1e-9 * np.abs(current).max()


def test_half_a_period_is_not_enough_where_a_circuit_has_a_side():
    # two lamps share what flows forwards, one takes all that flows backwards
    lamps = Parallel((lamp_strings(WHITE, 1, 2), WHITE.reversed()))
    found = periodic_steady_state(one_coil_circuit(80.0, lamps, 0.04), PeriodicEmf(0.04, ODD))
    forward, backward = found.lamps
    assert backward.average_current_A > 1.5 * forward.average_current_A
    evened = periodic_steady_state(
        one_coil_circuit(80.0, anti_parallel(WHITE, 2), 0.04), PeriodicEmf(0.04, ODD)
    )
    one, other = evened.lamps
    assert one.average_current_A == pytest.approx(other.average_current_A, rel=1e-9)


def test_coupled_coils_of_many():
    def circuit(k):
        henry = np.array([[0.05, 0.02], [0.02, 0.04]]) * k**2
        coils = CoilSet.from_arrays(["a", "b"], np.array([60.0, 50.0]) * k**2, henry)
        source = InParallel((CoilRef("a"), CoilRef("b")))
        return Circuit(coils, (Outlet("both", source, ring(4)),))

    factors = [0.8, 1.0, 1.3]
    emfs = [PeriodicEmf(0.04, k * np.stack([ODD, 0.9 * ODD])) for k in factors]
    found = periodic_steady_states([circuit(k) for k in factors], emfs)
    for k, emf, result in zip(factors, emfs, found, strict=True):
        alike(result, periodic_steady_state(circuit(k), emf))
    assert found[2].lamps[0].average_current_A > found[0].lamps[0].average_current_A


def test_emfs_at_their_own_times_are_what_each_is():
    emfs = [PeriodicEmf(0.03, ODD), PeriodicEmf(0.05, UNEVEN)]
    time_s = np.array([[0.0, 0.011, 0.03], [0.001, 0.02, 0.05]])
    which = np.array([1, 0])
    found = EmfTables(emfs).at(which, time_s[which])
    for k, place in enumerate(which):
        assert found[:, k] == pytest.approx(emfs[place](time_s[place]), abs=1e-11)


def test_resistors_have_nothing_to_iterate():
    found = periodic_steady_states(
        [one_coil_circuit(50.0, Resistor(r)) for r in (25.0, 50.0, 100.0)],
        [PeriodicEmf(0.02, 10 * np.sin(2 * np.pi * T))] * 3,
    )
    # I^2 R with I = 10 V / sqrt(2) over both resistances
    expected = [50.0 * r / (50.0 + r) ** 2 for r in (25.0, 50.0, 100.0)]
    assert [result.load_W for result in found] == pytest.approx(expected, rel=1e-5)


@pytest.mark.parametrize(
    ("ohm", "henry", "peak_V", "period_s"),
    [(43.0, 0.1, 5.4, 0.01), (20.0, 0.2, 5.3, 0.01)],
)
def test_strong_inductance_behind_leaking_diodes_is_found(ohm, henry, peak_V, period_s):
    """Steps of junctions alone and of all could undo each other there for ever."""
    wave = peak_V * (np.sin(2 * np.pi * T) + 0.2 * np.sin(6 * np.pi * T + 0.4))
    load = Bridge(lamp_strings(WHITE, 1, 1), diode=SCHOTTKY)
    circuit, emf = one_coil_circuit(ohm, load, henry), PeriodicEmf(period_s, wave)
    found = periodic_steady_state(circuit, emf)
    assert found.waves is not None
    alike(found, settled_state(circuit, emf))
