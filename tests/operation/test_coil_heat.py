"""One warm wire for all that is asked of an operating point."""

from __future__ import annotations

import pytest
from machines import shipped

from fieldsim.cautions import Hazard
from fieldsim.machine.machine import Machine
from fieldsim.operation.cautions import effort_cautions
from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.studies.gauges import gauge_study
from fieldsim.studies.match import match
from fieldsim.words.emf_text import emf_text
from fieldsim.words.light_text import light_text

SETTLED = 2e-4  # of the resistance without current
ALPHA = 0.00393  # of copper at 20 degC, IEC 60028


def at(machine: Machine, speed: str = "90 rpm", **changes) -> OperatingPoint:
    paths = {path.replace("__", "."): value for path, value in changes.items()}
    return OperatingPoint(machine.changed(paths) if paths else machine, speed, tolerance=1e-4)


@pytest.fixture(scope="module")
def ring() -> OperatingPoint:
    return at(shipped("lamp_ring"))


@pytest.mark.parametrize("air_C", [-10.0, 20.0, 45.0])
def test_the_wire_is_as_much_warmer_than_the_air_as_its_loss_makes_it(air_C):
    point = at(shipped("lamp_ring"), temperature=f"{air_C} degC")
    (heat,) = point.light.coils
    surface_m2 = point.machine.windings["pickup"].surface_m2
    assert heat.temperature_rise_K == pytest.approx(heat.heat_W / (10.0 * surface_m2))
    assert heat.temperature_rise_K > 5
    warm_C = heat.wire_temperature_K - 273.15
    # what is left of the growth, in kelvin
    assert warm_C == pytest.approx(air_C + heat.temperature_rise_K, abs=1.2 * SETTLED / ALPHA)
    at_20 = point.machine.coil("pickup").resistance_ohm(293.15)
    assert heat.resistance_ohm == pytest.approx(at_20 * (1 + ALPHA * (warm_C - 20)), rel=1e-9)
    assert heat.heat_W == pytest.approx(heat.resistance_ohm * heat.rms_current_A**2)


def test_light_effort_and_match_reckon_with_one_resistance(ring):
    ohm = ring.light.coils[0].resistance_ohm
    assert ohm > 1.02 * ring.coil_circuit.resistance_ohm[0]
    (coil,) = ring.effort.electric.coils
    assert coil.heat.resistance_ohm == ohm
    found = match(ring, (32,))
    assert found.coil_resistance_ohm == pytest.approx(ohm, rel=1e-9)
    (row,) = gauge_study(ring, (32,)).rows
    assert row.resistance_ohm == pytest.approx(ohm, rel=2e-3)  # tables are solved to 1e-3
    assert row.lamp_current_average_A == pytest.approx(
        ring.light.lamps[0].average_current_A, rel=2e-3
    )
    assert abs(ring.effort.relative_imbalance) < 1e-4


def test_wire_of_a_fixed_temperature_has_its_resistance_whatever_it_carries():
    cold, hot = (at(shipped("lamp_ring"), wire_temperature=f"{t} degC") for t in (20, 80))
    for point, celsius in ((cold, 20), (hot, 80)):
        (heat,) = point.light.coils
        exact = point.machine.coil("pickup").resistance_ohm(celsius + 273.15)
        assert heat.resistance_ohm == pytest.approx(exact, rel=1e-12)
        assert heat.wire_temperature_K == pytest.approx(celsius + 273.15)
        assert point.coil_circuit.resistance_ohm[0] == heat.resistance_ohm
        assert heat.temperature_rise_K > 5  # what its loss would make of it in the end
    assert cold.light.lamps[0].average_current_A > hot.light.lamps[0].average_current_A
    kinds = {caution.kind: caution for caution in hot.light.cautions}
    assert kinds[Hazard.COIL_HEAT].value == pytest.approx(353.15)  # as hot as it is said to be


def test_without_a_load_wire_is_as_cold_as_its_surroundings():
    point = at(shipped("lamp_ring"), load="none")
    (trace,) = point.circuit_result.coils.values()
    assert trace.resistance_ohm == point.coil_circuit.resistance_ohm[0]
    assert trace.resistance_ohm == point.machine.coil("pickup").resistance_ohm(293.15)


def test_opposed_coils_in_parallel_heat_each_other_under_dark_lamps():
    point = at(shipped("two_coils"), connections={"pair": {"parallel": ["left", "-right"]}})
    assert not any(lamp.lights for lamp in point.light.lamps)
    light = {c.kind: c for c in point.light.cautions}[Hazard.CIRCULATING]
    effort = {c.kind: c for c in effort_cautions(point.machine, point.effort)}[Hazard.CIRCULATING]
    assert light == effort
    # The hand's power all goes round: half a watt, by the EMF of 5.6 V and 60 ohm.
    assert point.effort.electric.open_because == ""
    assert light.value == pytest.approx(point.effort.crank.hand_W, rel=1e-3)
    left, right = point.circuit_result.coils.values()
    assert light.value == pytest.approx(left.heat_W + right.heat_W, rel=1e-3)
    assert 0.3 < light.value < 1.0


def test_both_screens_name_the_same_repeat(ring):
    """Four alternating poles on rotors that turn eight times: a sixteenth of a crank turn."""
    repeat = "every 1/16 crank turn, 0.04167 s."
    assert repeat in light_text(ring.machine, ring.light)
    assert repeat in emf_text(ring)
    assert ring.waveform.repeats == 2
