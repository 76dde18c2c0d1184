"""What each gauge gives in the same section."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest

from fieldsim.circuit.machine_circuit import machine_emf, steady_state
from fieldsim.errors import ImpossibleError
from fieldsim.machine.machine import Machine
from fieldsim.studies.gauges import enamel_like, gauge_study
from fieldsim.waveform.emf import crank_speed
from fieldsim.waveform.flux_table import flux_table
from fieldsim.wire.enamel import Enamel
from fieldsim.wire.round_wire import awg_wire, metric_wire

GEOMETRIES = Path(__file__).parents[2] / "geometries"
RPM = 2 * math.pi / 60


@pytest.fixture(scope="module")
def ring():
    geometry = Machine.from_file(GEOMETRIES / "lamp_ring.yaml")
    table = flux_table(geometry, tolerance=1e-5)
    speed = crank_speed(geometry, 90 * RPM)
    return geometry, table, speed, machine_emf(geometry, table, speed)


@pytest.fixture(scope="module")
def study(ring):
    geometry, _, _, emf = ring
    return gauge_study(geometry, emf, range(28, 39, 2))


def test_the_files_own_gauge_gives_the_files_own_figures(ring, study):
    geometry, table, speed, _ = ring
    own = next(row for row in study.rows if row.wire.name == "AWG 32 single")
    run = steady_state(geometry, table, speed)
    assert own.windings["pickup"].turns == geometry.coils[0].turns
    assert own.resistance_ohm == pytest.approx(run.circuit.resistance_ohm[0], rel=1e-12)
    # tables are solved to 1e-3
    assert own.load_power_W == pytest.approx(run.result.useful_power_W, rel=1e-3)
    assert own.lamp_current_average_A == pytest.approx(
        run.result.lamps[0].average_current_A, rel=1e-3
    )
    assert own.coil_heat_W == pytest.approx(run.result.coils["pickup"].heat_W, rel=1e-3)


def test_voltage_goes_with_turns(study):
    per_turn = [row.open_circuit_peak_V / row.turns_in_all for row in study.rows]
    # each mesh finds the peak between its points to some 1e-4
    assert per_turn == pytest.approx([per_turn[0]] * len(per_turn), rel=1e-3)


def test_more_turns_stop_helping(study):
    """There is a best gauge inside the range, and power falls to either side of it."""
    powers = [row.load_power_W for row in study.rows]
    top = powers.index(max(powers))
    assert 0 < top < len(powers) - 1
    assert powers[: top + 1] == sorted(powers[: top + 1])
    assert powers[top:] == sorted(powers[top:], reverse=True)
    assert study.best is study.rows[top]


def test_without_a_load_nothing_flows(ring):
    geometry, _, _, emf = ring
    bare = replace(geometry, fittings=replace(geometry.fittings, load=None, across=""))
    study = gauge_study(bare, emf, [32])
    assert not study.loaded
    assert study.best is None
    assert study.rows[0].load_power_W == 0
    assert study.rows[0].lamp_current_average_A is None


def test_wire_too_thick_is_left_out_and_said_so(ring, tmp_path):
    geometry, _, _, emf = ring
    study = gauge_study(geometry, emf, [10, 32])
    assert [row.wire.name for row in study.rows] == ["AWG 10 single", "AWG 32 single"]
    text = (GEOMETRIES / "lamp_ring.yaml").read_text(encoding="utf-8")
    thin = tmp_path / "thin.yaml"
    thin.write_text(text.replace("build: 7 mm", "build: 1 mm"), encoding="utf-8")
    geometry = Machine.from_file(thin)
    emf = machine_emf(geometry, flux_table(geometry, tolerance=1e-5), crank_speed(geometry, 9.0))
    study = gauge_study(geometry, emf, [16, 32])
    assert [row.wire.name for row in study.rows] == ["AWG 32 single"]
    assert study.left_out[0].startswith("AWG 16: the section, 1.00 mm thick, holds no turn")
    with pytest.raises(ImpossibleError, match="AWG 16"):
        gauge_study(geometry, emf, [16])
    with pytest.raises(ImpossibleError, match="there are no gauges"):
        gauge_study(geometry, emf, [])
    with pytest.raises(ImpossibleError, match="AWG 99 is out of range"):
        gauge_study(geometry, emf, [99])


@pytest.mark.parametrize("grade", [Enamel.SINGLE, Enamel.HEAVY])
def test_enamel_is_kept(grade):
    assert enamel_like(awg_wire(34, grade)) is grade


def test_metric_enamel_is_kept():
    assert enamel_like(metric_wire(0.2e-3, Enamel.GRADE_2)) is Enamel.GRADE_2


def test_another_gauge_is_as_if_the_file_had_it(ring, tmp_path):
    """At a speed where the inductance takes a tenth of the power, so that its scaling shows."""
    geometry, table, _, _ = ring
    fast = crank_speed(geometry, 400 * RPM)
    row = gauge_study(geometry, machine_emf(geometry, table, fast), [38]).rows[0]
    text = (GEOMETRIES / "lamp_ring.yaml").read_text(encoding="utf-8")
    path = tmp_path / "g.yaml"
    path.write_text(text.replace("AWG 32", "AWG 38"), encoding="utf-8")
    thin = Machine.from_file(path)
    run = steady_state(thin, flux_table(thin, tolerance=1e-5), fast)
    assert row.windings["pickup"].turns == thin.coils[0].turns
    assert row.coil_heat_W == pytest.approx(run.result.coils["pickup"].heat_W, rel=5e-3)
    # the layers of AWG 38 fill 0.06 mm more of the section's build than those of AWG 32
    assert row.load_power_W == pytest.approx(run.result.useful_power_W, rel=5e-3)
