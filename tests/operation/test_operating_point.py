"""The operating point: each thing made once, when it is asked for, and never a stale one."""

from __future__ import annotations

import math
import pickle
from dataclasses import replace

import numpy as np
import pytest
from machines import shipped

from fieldsim.circuit import machine_circuit, solver
from fieldsim.errors import ImpossibleError
from fieldsim.machine.load.load import Load
from fieldsim.operation import effort, light, machine_at_speed
from fieldsim.operation.light import Meter
from fieldsim.operation.operating_point import OperatingPoint

TOLERANCE = 1e-4
MADE = {
    machine_at_speed: (
        "check_collisions",
        "flux_table",
        "emf_waveform",
        "emf_figures",
    ),
    machine_circuit: ("coil_circuit", "machine_emf", "circuit_emf", "steady_run"),
    solver: ("periodic_steady_state",),
    light: ("light",),
    effort: ("effort",),
}


@pytest.fixture
def calls(monkeypatch) -> dict[str, int]:
    """Return how often each thing has been made."""
    counts: dict[str, int] = {}
    for module, names in MADE.items():
        for name in names:
            counts[name] = 0
            plain = getattr(module, name)

            def counted(*args, _name=name, _plain=plain, **named):
                counts[_name] += 1
                return _plain(*args, **named)

            monkeypatch.setattr(module, name, counted)
    return counts


def at(machine, speed="90 rpm", **more) -> OperatingPoint:
    return OperatingPoint(machine, speed, tolerance=TOLERANCE, **more)


def ask_everything(point):
    return (
        point.clearances,
        point.flux_table,
        point.waveform,
        point.figures,
        point.coil_circuit,
        point.circuit_result,
        point.steady_state,
        point.light,
        point.effort,
    )


def test_nothing_is_computed_before_it_is_asked_for(calls):
    point = at(shipped("lamp_ring"))
    assert {name for name, n in calls.items() if n} == {"check_collisions"}
    _ = point.figures
    assert {name for name, n in calls.items() if n} == {
        "check_collisions", "flux_table", "emf_waveform", "emf_figures",
    }  # fmt: skip


def test_each_distinct_thing_is_made_once(calls):
    point = at(shipped("lamp_ring"))
    first = ask_everything(point)
    again = ask_everything(point)
    assert all(one is other for one, other in zip(first, again, strict=True))
    assert calls == dict.fromkeys(calls, 1)


def test_another_speed_shares_table_and_circuit(calls):
    point = at(shipped("lamp_ring"))
    _ = point.steady_state
    fast = point.changed({}, speed_factor=2.0)
    _ = fast.steady_state
    assert fast.flux_table is point.flux_table
    assert fast.coil_circuit is point.coil_circuit
    assert fast.clearances is point.clearances
    assert (calls["flux_table"], calls["coil_circuit"], calls["check_collisions"]) == (1, 1, 1)
    assert calls["periodic_steady_state"] == 2
    assert fast.speed.base_rad_per_s == pytest.approx(2 * point.speed.base_rad_per_s)


# What is changed, whether the flux table may stay, and whether the circuit may.
CHANGES = {
    "nothing": ({}, True, True),
    "title": ({"title": "x"}, True, True),
    "start": ({"rotors.upper.start": "10 deg"}, True, True),
    "ratio": ({"rotors.lower.gear_ratio": 16}, True, True),
    "friction": ({"friction.crank": "1 mN*m"}, True, True),
    "load": ({"load.lamps.parallel": 3}, True, False),
    "no load": ({"load": None}, True, False),
    "temperature": ({"temperature": "60 degC"}, True, False),
    "enamel": ({"coils.pickup.wire.enamel": "heavy"}, False, False),
    "gauge": ({"coils.pickup.wire.gauge": "AWG 34"}, False, False),
    "turns": ({"coils.pickup.turns": 900}, False, False),
    "remanence": ({"magnets.bar.remanence": "1 T"}, False, True),
    "poles": ({"rotors.upper.magnets[0].north": "-shaft"}, False, True),
    "clearance": ({"clearance": "3 mm"}, False, True),
    "axis": ({"coils.pickup.axis": [0, 0, -1]}, False, False),
}


@pytest.fixture(scope="module")
def ring() -> OperatingPoint:
    point = at(shipped("lamp_ring"))
    _ = point.steady_state
    return point


@pytest.mark.parametrize("name", CHANGES)
@pytest.mark.parametrize("speed_factor", [1.0, 1.5])
def test_a_changed_point_is_as_good_as_a_fresh_one(name, speed_factor, ring):
    changes, table_stays, circuit_stays = CHANGES[name]
    near = ring.changed(changes, speed_factor)
    fresh = at(ring.machine.changed(changes), f"{90 * speed_factor:g} rpm")
    assert near.machine == fresh.machine
    assert (near.flux_table is ring.flux_table) == table_stays
    assert (near.coil_circuit is ring.coil_circuit) == circuit_stays
    assert np.array_equal(near.flux_table.linkage_Wb, fresh.flux_table.linkage_Wb)
    for coil, figures in fresh.figures.items():
        # speeds differ by the rounding of a product
        assert near.figures[coil].rms_V == pytest.approx(figures.rms_V, rel=1e-12)
    assert near.coil_circuit.resistance_ohm == pytest.approx(
        fresh.coil_circuit.resistance_ohm, rel=1e-15
    )
    assert near.coil_circuit.inductance_H == pytest.approx(
        fresh.coil_circuit.inductance_H, rel=1e-15
    )
    if name == "poles":
        return  # the linkages cancel: currents of rounding are nothing to compare
    here, there = near.circuit_result, fresh.circuit_result
    # the solver stops within its tolerance of powers and currents, from either side
    slack = {"rel": 10 * near.circuit_tolerance, "abs": 1e-9}
    assert here.source_power_W == pytest.approx(there.source_power_W, **slack)
    assert here.useful_power_W == pytest.approx(there.useful_power_W, **slack)
    for lamp, other in zip(here.lamps, there.lamps, strict=True):
        assert lamp.average_current_A == pytest.approx(other.average_current_A, **slack)


@pytest.mark.parametrize(
    ("name", "gain"),
    [("ratio", 1.1), ("remanence", 0.9), ("clearance", 0.95), ("gauge", 1.3), ("turns", 0.8)],
)
def test_what_is_changed_shows_in_the_voltage(name, gain, ring):
    volts = ring.changed(CHANGES[name][0]).figures["pickup"].rms_V / ring.figures["pickup"].rms_V
    assert (volts > gain) if gain > 1 else (volts < gain)


def test_opposed_starts_show(ring):
    turned = ring.changed({"rotors.upper.start": "90 deg"})
    assert turned.figures["pickup"].rms_V < 1e-3 * ring.figures["pickup"].rms_V


def test_a_chain_of_changes_ends_where_one_change_does(ring):
    chain = ring
    for value in ("1 T", "0.8 T", "1.1 T"):
        chain = chain.changed({"magnets.bar.remanence": value})
        _ = chain.circuit_result
    once = ring.changed({"magnets.bar.remanence": "1.1 T"})
    assert np.array_equal(chain.flux_table.linkage_Wb, once.flux_table.linkage_Wb)
    assert chain.circuit_result.useful_power_W == pytest.approx(
        once.circuit_result.useful_power_W, rel=10 * chain.circuit_tolerance
    )


def test_a_rough_table_is_not_taken_for_a_fine_one():
    rough = at(shipped("one_rotor"))
    _ = rough.flux_table
    fine = replace(rough, tolerance=1e-6, near=rough)
    assert fine.flux_table is not rough.flux_table
    assert fine.flux_table.relative_error.max() <= 1e-6
    back = replace(fine, tolerance=TOLERANCE, near=fine)
    assert back.flux_table is fine.flux_table


def test_moved_to_another_machine(ring):
    bare = ring.moved_to(replace(ring.machine, load=Load()), 0.5)
    assert bare.circuit_result.useful_power_W == 0.0
    assert bare.crank_speed_rpm == pytest.approx(45.0)
    assert bare.meter == ring.meter
    other = ring.moved_to(shipped("one_rotor"))
    assert other.flux_table.coils == ("pickup",)
    assert other.figures == at(shipped("one_rotor")).figures


@pytest.mark.parametrize(
    ("given", "rpm"),
    [
        ({}, 120.0),
        ({"crank_speed": "90 rpm"}, 90.0),
        ({"crank_speed": "1.5 turn/s"}, 90.0),
        ({"crank_speed": "-90 rpm"}, -90.0),
        ({"crank_speed_rad_per_s": 3 * math.pi}, 90.0),
    ],
)
def test_speeds_of_the_crank(given, rpm):
    point = OperatingPoint(shipped("one_rotor"), **given)
    assert point.crank_speed_rpm == pytest.approx(rpm, rel=1e-14)
    assert point.speed.given_as == "crank"
    assert point.speed.rotors_rad_per_s[0] == pytest.approx(9 * rpm * math.pi / 30, rel=1e-14)


@pytest.mark.parametrize(
    "given", [{"rotor_speed": "900 rpm"}, {"rotor_speed_rad_per_s": 30 * math.pi}]
)
def test_speeds_of_the_rotors(given):
    point = OperatingPoint(shipped("two_facing_rotors"), **given)
    assert point.speed.rotors_rad_per_s == pytest.approx((30 * math.pi, -30 * math.pi), rel=1e-14)
    faster = point.changed({}, speed_factor=2.0)
    assert faster.speed.given_as == "rotor"
    assert faster.speed.rotors_rad_per_s == pytest.approx((60 * math.pi, -60 * math.pi), rel=1e-14)


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"crank_speed": "90"}, "has no unit"),
        ({"crank_speed": "90 Hz"}, "is not a rotation speed"),
        ({"crank_speed": "0 rpm"}, "the speed must be above zero and finite"),
        ({"crank_speed_rad_per_s": 0.0}, "the speed must be above zero and finite"),
        ({"crank_speed_rad_per_s": math.nan}, "the speed must be above zero and finite"),
        ({"crank_speed": "1 rpm", "rotor_speed": "1 rpm"}, "give one speed"),
        ({"crank_speed": "1 rpm", "crank_speed_rad_per_s": 1.0}, "give one speed"),
    ],
)
def test_speeds_that_cannot_be(given, words):
    with pytest.raises(ImpossibleError) as caught:
        OperatingPoint(shipped("one_rotor"), **given)
    assert words in str(caught.value)
    assert "\n" not in str(caught.value)


def test_errors_come_when_what_they_are_about_is_asked_for():
    point = OperatingPoint(shipped("one_rotor"), rotor_speed="900 rpm", tolerance=1e-2)
    with pytest.raises(ImpossibleError, match="needs a crank speed"):
        _ = point.effort
    loaded = shipped("one_rotor").changed({"load.across": "pickup", "load.resistor": "10 ohm"})
    with pytest.raises(ImpossibleError, match='coil "pickup" has no wire'):
        _ = at(loaded).circuit_result
    assert at(loaded).figures["pickup"].rms_V > 0.1


def test_the_meter_is_the_one_that_was_given(ring):
    poor = replace(ring, meter=Meter(input_ohm=100.0), near=ring)
    loaded, good = poor.light.meters[0].readings, ring.light.meters[0].readings
    assert loaded.true_rms_V < 0.7 * good.true_rms_V
    assert poor.flux_table is ring.flux_table


def test_points_are_shown_short_and_compared_by_identity(ring):
    assert repr(ring).startswith("OperatingPoint('Two facing rotors light a ring of lamps'")
    assert ring != at(ring.machine)
    assert ring in {ring}


def test_a_point_with_iron_can_be_sent_with_what_is_light_of_it():
    """Processes send each other points; what they worked out beside stays where it is."""
    point = OperatingPoint(shipped("bolt_beside_magnets"), "120 rpm")
    before = point.figures["pickup"].rms_V
    _ = point.light, point.effort
    sent = pickle.loads(pickle.dumps(point))
    assert sent.machine == point.machine
    assert vars(sent)["figures"]["pickup"].rms_V == before
    assert sent.light.lamps[0].average_current_A == pytest.approx(
        point.light.lamps[0].average_current_A, rel=1e-3
    )
