"""From a machine to the steady state of its circuit."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from machines import GEOMETRIES, described, shipped

from fieldsim.cautions import Doubt, Note
from fieldsim.circuit.emf_source import PeriodicEmf
from fieldsim.circuit.machine_circuit import coil_circuit, machine_emf
from fieldsim.errors import ImpossibleError
from fieldsim.field.inductance.matrix import self_inductance
from fieldsim.machine.load.load import Load
from fieldsim.machine_file.reader import read
from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.waveform.emf import crank_speed
from fieldsim.waveform.flux_table import flux_table

RPM = 2 * math.pi / 60


def edited(tmp_path, name, *changes):
    text = (GEOMETRIES / name).read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    path = tmp_path / "g.yaml"
    path.write_text(text, encoding="utf-8")
    return read(path)


@pytest.fixture(scope="module")
def ring():
    return OperatingPoint(shipped("lamp_ring"), "90 rpm", tolerance=1e-5)


def test_resistance_and_inductance_are_those_of_the_winding(ring):
    found = coil_circuit(ring.machine)
    winding = ring.machine.windings["pickup"]
    area = math.pi / 4 * winding.wire.bare_diameter_m**2
    # IEC 60028 copper at 20 degrees, 1/58 ohm mm2/m; only rounding differs
    assert found.resistance_ohm[0] == pytest.approx(winding.wire_length_m / 58e6 / area, rel=1e-12)
    assert found.inductance_H[0, 0] == self_inductance(ring.machine.placed_coils[0]).value_H


def test_warm_wire_has_more_resistance(tmp_path, ring):
    warm = edited(tmp_path, "lamp_ring.yaml", ("title:", "temperature: 70 degC\ntitle:"))
    ratio = coil_circuit(warm).resistance_ohm / coil_circuit(ring.machine).resistance_ohm
    assert ratio[0] == pytest.approx(1 + 0.00393 * 50, rel=1e-9)


def test_steady_state_repeats_and_balances(ring):
    run = ring.steady_state
    assert run.warnings == ()
    assert run.result.balance.energy < 1e-4
    assert run.result.balance.charge < 1e-4
    assert run.crank_turns == run.turns  # 8 to 1: an eighth of a turn
    assert float(run.turns) == 1 / 8
    assert run.period_s == pytest.approx(60 / 90 / 8)
    assert run.time_s[1] * len(run.time_s) == pytest.approx(run.period_s)
    assert run.base_angle_rad[-1] < 2 * math.pi / 8
    # the uniform samples carry the same power as the solver's own points
    assert (run.emf_V * run.current_A).sum(axis=0).mean() == pytest.approx(
        run.result.source_power_W,
        rel=1e-4,  # the solver's own energy balance
    )
    assert (run.voltage_V * run.current_A).sum(axis=0).mean() == pytest.approx(
        run.result.load_W,
        rel=1e-3,  # the voltage has corners where diodes switch
    )


def test_a_resistor_takes_what_ohms_law_says(tmp_path):
    """At a slow speed the inductance does nothing: current is EMF over all the resistance."""
    geometry = edited(
        tmp_path,
        "lamp_ring.yaml",
        ("  rectifier: bridge\n  diode: schottky\n", "  resistor: 100 ohm\n"),
        ("  capacitor: {value: 470 uF, esr: 0.2 ohm, rated: 25 V, polarised: true}\n", ""),
        ("  lamps: {colour: white, parallel: 6}\n", ""),
    )
    run = OperatingPoint(geometry, "0.5 rpm").steady_state
    ohm = coil_circuit(geometry).resistance_ohm[0] + 100
    # w L / R is below 1e-3 at 0.5 rpm for the orders that matter
    assert run.current_A[0] == pytest.approx(run.emf_V[0] / ohm, abs=3e-3 * run.current_A.max())


def test_backwards_is_the_mirror_image(ring):
    forward = ring.steady_state
    back = OperatingPoint(
        ring.machine, crank_speed_rad_per_s=-90 * RPM, tolerance=1e-5
    ).steady_state
    assert back.result.lamps[0].average_current_A == pytest.approx(
        forward.result.lamps[0].average_current_A,
        rel=1e-3,  # two meshes, each good to some 1e-4
    )


def test_every_rotor_at_one_speed_has_no_crank(ring):
    run = OperatingPoint(ring.machine, rotor_speed="720 rpm", tolerance=1e-5).steady_state
    assert run.crank_turns is None
    assert run.turns == 1
    assert run.period_s == pytest.approx(60 / 720)


def test_series_coils_carry_one_current():
    run = OperatingPoint(shipped("two_coils"), "90 rpm").steady_state
    assert run.coils == ("left", "right")
    np.testing.assert_allclose(run.current_A[0], run.current_A[1], atol=1e-9)


def test_parallel_opposed_coils_drive_each_other(tmp_path):
    """Open outside, but one coil is a short across the other: a current goes round."""
    geometry = edited(
        tmp_path,
        "two_coils.yaml",
        ("series: [left, right]", "parallel: [left, -right]"),
        ("load:\n  across: pair\n  lamps: {colour: red, series: 2, polarity: both}\n", ""),
    )
    run = OperatingPoint(geometry, "60 rpm").steady_state
    assert np.abs(run.current_A).max() > 1e-3
    np.testing.assert_allclose(run.current_A[0], run.current_A[1], atol=1e-9)


def test_a_loaded_coil_needs_its_wire(tmp_path):
    geometry = edited(
        tmp_path,
        "one_rotor.yaml",
        ("title:", "load: {across: pickup, resistor: 1 kohm}\ntitle:"),
    )
    with pytest.raises(ImpossibleError, match='coil "pickup" has no wire') as caught:
        coil_circuit(geometry)
    assert "\n" not in str(caught.value)


def test_an_open_coil_does_without_wire():
    geometry = shipped("one_rotor")
    assert coil_circuit(geometry).assumed == ("pickup",)
    run = OperatingPoint(geometry, "90 rpm").steady_state
    assert np.abs(run.current_A).max() < 1e-9
    np.testing.assert_allclose(run.voltage_V, run.emf_V, atol=1e-5 * np.abs(run.emf_V).max())


def test_a_machine_made_without_a_file_has_no_wire():
    wound = shipped("lamp_ring")
    bare = described("", wound.placed_rotors, wound.placed_coils)
    assert coil_circuit(bare).assumed == ("pickup",)
    with pytest.raises(ImpossibleError, match="has no wire"):
        coil_circuit(replace(bare, load=Load("pickup", resistor=1000.0)))


def test_a_long_period_is_replaced_and_said_so(tmp_path):
    """Gears with many odd teeth: the true period is 143 turns, some 800 of a rotor."""
    geometry = edited(
        tmp_path,
        "two_facing_rotors.yaml",
        ("gear_ratio: 9\n", "gear_ratio: 5.3636363636\n"),
        ("gear_ratio: -9", "gear_ratio: -4.6923076923"),
    )
    emf = machine_emf(geometry, flux_table(geometry), crank_speed(geometry, 60 * RPM))
    assert 0 < emf.speed_shift < 1e-2
    assert emf.notes == (
        Note(Doubt.SHIFTED_SPEEDS, emf.speed_shift, None, {"turns": float(emf.turns)}),
    )
    joined = PeriodicEmf(emf.waveform.period_s, emf.waveform.emf_V)
    # the period closes: its end is its beginning, to the spline's accuracy
    assert joined([0.0])[0, 0] == pytest.approx(
        joined([emf.waveform.period_s])[0, 0], abs=1e-9 * np.abs(emf.waveform.emf_V).max()
    )
