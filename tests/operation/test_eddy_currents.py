"""Machines with solid iron: what is asked at each speed anew."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import numpy as np
import pytest
from machines import shipped

from fieldsim.cautions import Doubt
from fieldsim.cli import main
from fieldsim.field.iron.screened_bodies import of_complex
from fieldsim.operation.electric_side import electric_side
from fieldsim.operation.iron_loss import iron_loss
from fieldsim.operation.many_points import operating_points
from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.studies.lamp_start import lamp_start
from fieldsim.tables.json_documents import effort_json, emf_json, light_json
from fieldsim.words.effort_text import effort_text
from fieldsim.words.emf_text import emf_text
from fieldsim.words.light_text import light_text

SLOW_RPM = 1.0


@pytest.fixture(scope="module")
def dark():
    """Return a machine whose lamps stay dark."""
    return OperatingPoint(shipped("bolt_beside_magnets"), f"{SLOW_RPM} rpm")


def test_lamps_light_from_the_speed_that_is_told(dark):
    (lamp,) = dark.lamp_speeds
    ratio = lamp.lowest_speed_rad_per_s / dark.speed.base_rad_per_s
    for factor, lights in ((0.99, False), (1.01, True)):
        assert dark.changed({}, factor * ratio).circuit_result.lamps[0].lights is lights


def test_a_start_takes_iron_as_at_rest_and_says_so(dark):
    point = dark.changed({}, 300 / SLOW_RPM)
    start = lamp_start(point, 0.3, 0.1)
    assert Doubt.STILL_IRON in {note.kind for note in start.notes}
    ferrite = point.changed({"coils.pickup.core.material": "ferrite rod"})
    assert Doubt.STILL_IRON not in {n.kind for n in lamp_start(ferrite, 0.3, 0.1).notes}
    assert point.resting_emf.waveform.emf_V.max() > 1.01 * point.machine_emf.waveform.emf_V.max()


def test_samples_asked_for_are_of_the_same_emf(tmp_path, capsys):
    path = tmp_path / "emf.csv"
    asked = ["emf", "geometries/bolt_beside_magnets.yaml", "--crank-speed", "500 rpm", "--samples",
             "2000", "--out", str(path), "--json", "--exact"]  # fmt: skip
    assert main(asked) == 0
    peak = json.loads(capsys.readouterr().out)["coils"]["pickup"]["peak_V"]
    listed = max(abs(float(line.split(",")[1])) for line in path.read_text().splitlines()[1:])
    assert listed == pytest.approx(peak, rel=1e-3)


@pytest.mark.parametrize("rpm", [SLOW_RPM, 120.0, -120.0, 1500.0])
def test_the_hand_gives_what_load_wire_and_iron_take(dark, rpm):
    point = dark.changed({}, rpm / SLOW_RPM)
    found, loss = point.effort, point.iron_loss
    assert abs(found.relative_imbalance) < 1e-4
    electric = found.electric
    assert found.crank.hand_W == pytest.approx(
        electric.load_W + electric.wire_W + loss.total_W, rel=1e-4
    )
    assert electric.wire_W == pytest.approx(sum(coil.heat_W for coil in electric.coils), rel=1e-3)
    assert loss.total_W > 0
    assert loss.currents_W >= 0
    assert sum(loss.pieces_W.values()) == pytest.approx(sum(loss.magnets_W.values()), rel=1e-6)


def test_without_a_load_the_iron_alone_brakes(dark):
    point = dark.changed({"load": None}, 120 / SLOW_RPM)
    loss = point.iron_loss
    assert point.effort.crank.hand_W == pytest.approx(loss.magnets_W["wheel"], rel=1e-4)
    assert loss.together_W == loss.currents_W == 0.0


def test_currents_keep_flux_out_of_the_core(dark):
    loss = dark.changed({}, 120 / SLOW_RPM).iron_loss
    assert loss.together_W < -0.1 * loss.magnets_W["wheel"]


def test_inductance_and_resistance_are_those_of_the_principal_frequency(dark):
    point = dark.changed({}, 120 / SLOW_RPM)
    circuit, figures = point.coil_circuit, point.figures["pickup"]
    assert circuit.frequency_Hz == pytest.approx(figures.frequency_Hz)
    omega = 2 * math.pi * figures.frequency_Hz
    change_H = point.eddies.inductance_change_H(omega)[0, 0]
    still_H = point.resting_circuit.inductance_H[0, 0]
    assert circuit.inductance_H[0, 0] == pytest.approx(still_H + change_H.real)
    assert circuit.iron_ohm[0] == pytest.approx(-omega * change_H.imag)
    assert point.resting_circuit.frequency_Hz is None
    trace = point.circuit_result.coils["pickup"]
    assert trace.iron_W == pytest.approx(circuit.iron_ohm[0] * trace.rms_current_A**2)
    assert dark.coil_circuit.iron_ohm[0] < 1e-3 * circuit.iron_ohm[0]


def test_many_at_once_are_each_alone(dark):
    points = operating_points([dark.machine] * 2, ["120 rpm", "300 rpm"])
    alone = dark.changed({}, 300 / SLOW_RPM)
    assert points.rms_V[1, 0] == pytest.approx(alone.figures["pickup"].rms_V, rel=1e-6)
    assert points.load_W[1] == pytest.approx(alone.circuit_result.load_W, rel=1e-3)
    assert points.inductance_H[0, 0, 0] > points.inductance_H[1, 0, 0]


def test_screens_and_json_tell_what_eddy_currents_take(dark):
    point = dark.changed({}, 120 / SLOW_RPM)
    loss = point.iron_loss
    lit, felt = (
        light_text(point.machine, point.light, 120),
        effort_text(point.machine, point.effort),
    )
    besides = f"{loss.from_rotors_W * 1e3:.3g} mW from the hand besides; hysteresis"
    assert f"Eddy currents in core of pickup take {besides}" in lit
    (row,) = (line for line in lit.splitlines() if line.startswith("iron, by currents"))
    assert float(row.split()[3]) == pytest.approx(1e3 * loss.currents_W, rel=0.01)
    (row,) = (line for line in felt.splitlines() if line.startswith("eddy currents in iron"))
    assert float(row.split()[4]) == pytest.approx(loss.total_W, rel=0.01)
    assert "hysteresis, which is not modelled, takes more" in felt.replace("\n    ", " ")
    share = point.eddy_shares["pickup"]
    assert f"take of the RMS at this speed: {100 * share:.1f} % of pickup" in emf_text(point, 120)

    found = light_json(point.light)
    assert found["iron_loss"]["pieces_W"] == {"core of pickup": loss.pieces_W["core of pickup"]}
    assert found["iron_loss"]["total_W"] == pytest.approx(loss.total_W)
    assert found["coil_circuit"]["frequency_Hz"] == pytest.approx(24.0)
    assert found["coil_circuit"]["iron_ohm"] == point.coil_circuit.iron_ohm.tolist()
    assert found["coil_circuit"]["inductance_H"] == point.coil_circuit.inductance_H.tolist()
    assert found["coils"]["pickup"]["iron_W"] == pytest.approx(loss.currents_W)
    assert effort_json(point.machine, point.effort)["power"]["iron_W"] == loss.total_W
    assert emf_json(point)["eddy_currents_share_of_rms"] == {"pickup": share}


def test_without_eddy_currents_nothing_is_told(dark):
    ferrite = dark.changed({"coils.pickup.core.material": "ferrite rod"}, 120 / SLOW_RPM)
    assert not ferrite.iron_loss
    assert "ddy currents" not in light_text(ferrite.machine, ferrite.light)
    assert "ddy currents" not in emf_text(ferrite)
    assert light_json(ferrite.light)["iron_loss"] is None
    assert emf_json(ferrite)["eddy_currents_share_of_rms"] == {}


@pytest.mark.parametrize("phase", [0.0, 1.1, 2.5, 4.0])
def test_magnets_and_current_together_lose_what_their_fields_do(dark, phase):
    """By the charge that both draw at once, at the frequency of both."""
    point = dark.changed({"load": None}, 120 / SLOW_RPM)
    order, circuit, eddies = 2, point.coil_circuit, point.eddies
    (rotor,) = point.machine.placed_rotors
    omega = order * point.speed.rotors_rad_per_s[0]
    open_ = electric_side(point)
    turned = np.arange(open_.current_A.shape[1]) / open_.current_A.shape[1] * float(open_.turns)
    wave = 0.05 * np.exp(1j * phase)  # coefficient of the current
    times = 2 * math.pi * turned / point.speed.base_rad_per_s
    current_A = 2 * (wave * np.exp(1j * omega * times)).real
    iron_W = circuit.iron_ohm[0] * 2 * abs(wave) ** 2
    found = iron_loss(point, replace(open_, current_A=current_A[None], iron_W=iron_W))

    level, mu0 = eddies.level, 4e-7 * math.pi
    start = np.exp(1j * order * rotor.start)
    by_magnets = eddies.potential(rotor)[order] * start, eddies.outward(rotor)[order] * start / mu0
    normal = np.einsum("pif,pi->pf", level.fields, level.system.normals)[:, 0]
    by_current = mu0 * level.potentials[0], normal

    def lost_W(share):
        potential, outward = (m + share * c for m, c in zip(by_magnets, by_current, strict=True))
        applied = (outward[:, None] * level.system.normals)[:, :, None]
        late = level.system.screened(omega).charges(applied)
        still = of_complex(level.system.charges, applied)
        return 2 * omega * float(((late - still)[:, 0] @ potential.conj()).imag)

    both = lost_W(wave) - lost_W(0.0)
    assert found.together_W + found.currents_W == pytest.approx(both, rel=0.01)
