import numpy as np
import pytest

from fieldsim.circuit.emf_source import PeriodicEmf
from fieldsim.circuit.network import Circuit, CoilSet, Outlet, one_coil_circuit
from fieldsim.circuit.port_network import PortNetworks
from fieldsim.circuit.solver import periodic_steady_state
from fieldsim.circuit.steady_figures import figures_of, steady_figures
from fieldsim.machine.connections import CoilRef, InSeries
from fieldsim.machine.load.circuit_parts import (
    Bridge,
    Capacitor,
    Open,
    Parallel,
    Resistor,
    Series,
    anti_parallel,
    lamp_strings,
    single_rectifier,
)
from fieldsim.machine.load.led_colours import generic_led

T = np.arange(128) / 128
ODD = 9 * np.sin(2 * np.pi * T) + 2 * np.sin(6 * np.pi * T + 0.4)
WAVES = {"odd": ODD, "uneven": ODD + np.sin(4 * np.pi * T), "thrice": np.tile(ODD, 3)}
WHITE, RED = generic_led("white"), generic_led("red")
LOADS = {
    "open": Open(),
    "resistor": Resistor(80.0),
    "weak resistor": Resistor(1e6),
    "lamp pair": anti_parallel(RED, 4),
    "lamps on a bridge": Bridge(lamp_strings(WHITE, 2, 6, 10.0)),
    "smoothed": Bridge(Parallel((lamp_strings(WHITE, 1, 24), Capacitor(470e-6, 0.2)))),
    "single diode": single_rectifier(Parallel((WHITE, Capacitor(100e-6)))),
    "series capacitor": Series((Capacitor(10e-6, 0.1), anti_parallel(WHITE, 2))),
    "two kinds": Bridge(Parallel((lamp_strings(WHITE, 1, 2), lamp_strings(RED, 1, 3, 100.0)))),
}
# of source power and coil current: the aim of 5e-5 in both ways of averaging
SAME = 1e-4


def agree(found, expected):
    """The same state by its moments and by its waveforms."""
    assert (found.lamps, found.outlets) == (expected.lamps, expected.outlets)
    watt = max(expected.source_power_W, 1e-9)
    ampere = max(expected.coil_current_A.max(), 1e-9)
    for name in ("source_power_W", "load_W", "useful_power_W", "coil_heat_W"):
        assert getattr(found, name) == pytest.approx(getattr(expected, name), abs=SAME * watt)
    for name in ("coil_current_A", "lamp_current_A"):
        assert getattr(found, name) == pytest.approx(getattr(expected, name), abs=SAME * ampere)
    assert found.lamp_peak_current_A == pytest.approx(expected.lamp_peak_current_A, rel=0.01)
    assert found.visible_current_A.tolist() == expected.visible_current_A.tolist()
    assert found.rated_current_A.tolist() == expected.rated_current_A.tolist()
    for name in ("terminal_rms_V", "dc_voltage_V"):
        assert getattr(found, name) == pytest.approx(getattr(expected, name), rel=SAME, nan_ok=True)


@pytest.mark.parametrize("wave", WAVES.values(), ids=WAVES)
@pytest.mark.parametrize("load", LOADS.values(), ids=LOADS)
def test_moments_tell_what_waveforms_tell(load, wave):
    circuit, emf = one_coil_circuit(100.0, load, 0.05), PeriodicEmf(1 / 30, wave)
    (found,) = steady_figures([circuit], [emf])
    agree(found, figures_of(periodic_steady_state(circuit, emf)))


def test_coils_in_the_order_of_the_circuit():
    # joined the other way round than they are listed
    coils = CoilSet.from_arrays(["a", "b"], [60.0, 50.0], [[0.05, 0.01], [0.01, 0.04]])
    source = InSeries((CoilRef("b"), CoilRef("a", reverse=True)))
    circuit = Circuit(coils, (Outlet("both", source, LOADS["smoothed"]),))
    emf = PeriodicEmf(1 / 30, np.stack([ODD, -0.6 * ODD]))
    (found,) = steady_figures([circuit], [emf])
    agree(found, figures_of(periodic_steady_state(circuit, emf)))
    # one current through both
    assert found.coil_heat_W[0] / found.coil_heat_W[1] == pytest.approx(60.0 / 50.0)
    assert found.source_power_W > 0.01


def test_what_is_finished_alone_has_the_same_figures(monkeypatch):
    circuits = [one_coil_circuit(ohm, LOADS["smoothed"], 0.05) for ohm in (80.0, 120.0)]
    emfs = [PeriodicEmf(1 / 30, ODD)] * 2
    expected = steady_figures(circuits, emfs)
    monkeypatch.setattr("fieldsim.circuit.port_newton._MOST_ITERATIONS", 1)
    for one, other in zip(steady_figures(circuits, emfs), expected, strict=True):
        agree(one, other)
        assert one.source_power_W != other.source_power_W  # by another way


def test_many_kinds_together_are_what_each_is():
    loads = [LOADS[name] for name in ("lamps on a bridge", "resistor", "two kinds", "open")]
    circuits = [one_coil_circuit(80.0 + i, loads[i % 4], 0.05) for i in range(12)]
    emfs = [PeriodicEmf(1 / 30, (1 + 0.1 * i) * ODD) for i in range(12)]
    together = steady_figures(circuits, emfs)
    for circuit, emf, found in zip(circuits, emfs, together, strict=True):
        agree(found, steady_figures([circuit], [emf])[0])


@pytest.mark.parametrize("load", LOADS.values(), ids=LOADS)
def test_junctions_taken_together_change_nothing(load, monkeypatch):
    circuit, emf = one_coil_circuit(100.0, load, 0.05), PeriodicEmf(1 / 30, ODD)
    (found,) = steady_figures([circuit], [emf])
    monkeypatch.setattr(PortNetworks, "with_alike_together", lambda networks: networks)
    (apart,) = steady_figures([circuit], [emf])
    agree(found, apart)
    assert found.lamp_peak_current_A == pytest.approx(apart.lamp_peak_current_A, rel=1e-5)
