import numpy as np
import pytest

from fieldsim.circuit.equations import many_equations
from fieldsim.circuit.network import one_coil_circuit
from fieldsim.circuit.port_network import PortNetworks
from fieldsim.machine.load.circuit_parts import (
    SCHOTTKY,
    Bridge,
    Capacitor,
    Parallel,
    Series,
    anti_parallel,
    lamp_strings,
)
from fieldsim.machine.load.led_colours import generic_led

WHITE, RED, GREEN = (generic_led(colour) for colour in ("white", "red", "green"))
LAMPS = lamp_strings(WHITE, 1, 3)
# opposite diodes carry the same, but for the insulation to ground
LOADS = {
    "bridge": (Bridge(LAMPS), ((0, 3), (1, 2), (4,))),
    "smoothed": (Bridge(Parallel((LAMPS, Capacitor(1e-4, 0.2)))), ((0, 3), (1, 2), (4,))),
    "two kinds": (Bridge(Parallel((WHITE, RED))), ((0, 3), (1, 2), (4,), (5,))),
    "to and fro": (anti_parallel(WHITE, 2), ((0,), (1,))),
    "strings of two kinds": (
        Parallel((Series((WHITE, RED)), Series((RED, WHITE)))),
        ((0, 3), (1, 2)),
    ),
    "another bridge inside": (
        Bridge(Bridge(WHITE), diode=SCHOTTKY),
        ((0, 3), (1, 2), (4, 7), (5, 6), (8,)),
    ),
}


def networks_of(*loads):
    circuits = [one_coil_circuit(80.0 + 10 * i, load, 0.04) for i, load in enumerate(loads)]
    return PortNetworks(tuple(many_equations(circuits)), np.full(len(loads), 800.0))


@pytest.mark.parametrize(("load", "alike"), LOADS.values(), ids=LOADS)
def test_junctions_that_carry_the_same_count_as_one(load, alike):
    networks = networks_of(load).with_alike_together()
    assert networks.alike == alike
    assert networks.junctions == len(alike)


@pytest.mark.parametrize("load", [load for load, _ in LOADS.values()], ids=LOADS)
def test_waves_of_alike_junctions_are_those_of_each(load):
    whole = networks_of(load)
    few = whole.with_alike_together()
    ports = few.scattering.shape[2]
    rng = np.random.default_rng(2)
    back_V, emf_V = rng.normal(size=ports), rng.normal(size=1)
    out_V = few.scattering[0] @ back_V + few.sources[0] @ emf_V
    places = [*few.place_of, *range(few.junctions, ports)]
    each_V = whole.scattering[0] @ back_V[places] + whole.sources[0] @ emf_V
    assert each_V == pytest.approx(out_V[places], abs=1e-6)


def test_what_one_circuit_of_many_does_not_share_stays_apart():
    first, second = (
        Parallel((Series((WHITE, RED)), Series((RED, other)))) for other in (WHITE, GREEN)
    )
    assert networks_of(first).with_alike_together().junctions == 2
    assert networks_of(first, second).with_alike_together().junctions == 4
