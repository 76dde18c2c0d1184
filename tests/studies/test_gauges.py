"""What each gauge gives in the same section."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from machines import shipped

from fieldsim.cautions import Hazard
from fieldsim.errors import ImpossibleError
from fieldsim.machine.gauge import gauges_of
from fieldsim.machine.load.load import Load
from fieldsim.machine_file.reader import read
from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.studies.gauges import enamel_like, gauge_in_use, gauge_study, gauges_about
from fieldsim.wire.enamel import Enamel
from fieldsim.wire.round_wire import awg_wire, metric_wire

GEOMETRIES = Path(__file__).parents[2] / "geometries"


def point_of(file, speed="90 rpm"):
    return OperatingPoint(read(file), speed, tolerance=1e-5)


@pytest.fixture(scope="module")
def ring():
    return point_of(GEOMETRIES / "lamp_ring.yaml")


@pytest.fixture(scope="module")
def study(ring):
    return gauge_study(ring, range(28, 39, 2))


def test_the_files_own_gauge_gives_the_files_own_figures(ring, study):
    own = next(row for row in study.rows if row.wire.name == "AWG 32 single")
    run = ring.steady_state
    assert own.windings["pickup"].turns == ring.machine.placed_coils[0].turns
    assert own.resistance_ohm > 1.02 * run.circuit.resistance_ohm[0]  # the wire is warm
    assert own.resistance_ohm == pytest.approx(run.result.coils["pickup"].resistance_ohm, rel=1e-3)
    # tables are solved to 1e-3
    assert own.load_power_W == pytest.approx(run.result.useful_power_W, rel=1e-3)
    assert own.lamp_current_average_A == pytest.approx(
        run.result.lamps[0].average_current_A, rel=1e-3
    )
    assert own.coil_heat_W == pytest.approx(run.result.coils["pickup"].heat_W, rel=1e-3)


def test_voltage_goes_with_turns(ring, study):
    for row, gauge in zip(study.rows, range(28, 39, 2), strict=True):
        wound = ring.changed({"coils.pickup.wire.gauge": f"AWG {gauge}"})
        alone = wound.figures["pickup"]
        # each mesh finds the peak between its points to some 1e-4
        assert row.open_circuit_peak_V == pytest.approx(alone.peak_V, rel=1e-3)
        assert row.open_circuit_rms_V == pytest.approx(alone.rms_V, rel=1e-3)
    per_turn = [row.open_circuit_peak_V / row.turns_in_all for row in study.rows]
    # whole layers leave up to one layer of the section's 7 mm, which moves the mean turn
    assert per_turn == pytest.approx([per_turn[0]] * len(per_turn), rel=2e-3)


def test_more_turns_stop_helping(study):
    """There is a best gauge inside the range, and power falls to either side of it."""
    powers = [row.load_power_W for row in study.rows]
    top = powers.index(max(powers))
    assert 0 < top < len(powers) - 1
    assert powers[: top + 1] == sorted(powers[: top + 1])
    assert powers[top:] == sorted(powers[top:], reverse=True)
    assert study.best is study.rows[top]


def test_without_a_load_nothing_flows(ring):
    bare = ring.moved_to(replace(ring.machine, load=Load()))
    study = gauge_study(bare, [32])
    assert not study.loaded
    assert study.best is None
    assert study.rows[0].load_power_W == 0
    assert study.rows[0].lamp_current_average_A is None


def test_wire_too_thick_is_left_out_and_said_so(ring, tmp_path):
    study = gauge_study(ring, [10, 32])
    assert [row.wire.name for row in study.rows] == ["AWG 10 single", "AWG 32 single"]
    text = (GEOMETRIES / "lamp_ring.yaml").read_text(encoding="utf-8")
    thin = tmp_path / "thin.yaml"
    thin.write_text(text.replace("build: 7 mm", "build: 1 mm"), encoding="utf-8")
    point = point_of(thin)
    study = gauge_study(point, [16, 32])
    assert [row.wire.name for row in study.rows] == ["AWG 32 single"]
    assert study.left_out[0].startswith("AWG 16: the section, 1.00 mm thick, holds no turn")
    with pytest.raises(ImpossibleError, match="AWG 16"):
        gauge_study(point, [16])
    with pytest.raises(ImpossibleError, match="there are no gauges"):
        gauge_study(point, [])
    with pytest.raises(ImpossibleError, match="AWG 99 is out of range"):
        gauge_study(point, [99])


@pytest.mark.parametrize("grade", [Enamel.SINGLE, Enamel.HEAVY])
def test_enamel_is_kept(grade):
    assert enamel_like(awg_wire(34, grade)) is grade


def test_metric_enamel_is_kept():
    assert enamel_like(metric_wire(0.2e-3, Enamel.GRADE_2)) is Enamel.GRADE_2


def test_a_metric_file_is_wound_with_metric_wires_its_own_included(ring):
    metric = ring.changed({"coils.pickup.wire.gauge": "0.21 mm"})
    sizes = gauges_of("30..32", gauge_in_use(metric.machine))
    study = gauge_study(metric, [*sizes, "AWG 31"])
    assert [row.wire.name for row in study.rows] == [
        "0.25 mm grade 1", "0.224 mm grade 1", "0.21 mm grade 1", "AWG 31 single",
    ]  # fmt: skip
    assert [row.own for row in study.rows] == [False, False, True, False]
    assert study.rows[2].windings == metric.machine.windings


def test_the_files_own_wire_keeps_its_measured_diameter(ring):
    thick = ring.changed(
        {"coils.pickup.wire.gauge": "0.2 mm", "coils.pickup.wire.overall": "0.26 mm"}
    )
    study = gauge_study(thick, ["0.2 mm", "0.18 mm"])
    assert [row.wire.name for row in study.rows] == ["0.2 mm, 0.26 mm overall", "0.18 mm grade 2"]
    assert study.rows[0].windings == thick.machine.windings


def test_gauge_in_use_is_that_of_the_loaded_coil():
    assert str(gauge_in_use(read(GEOMETRIES / "two_coils.yaml"))) == "AWG 32"
    assert gauge_in_use(read(GEOMETRIES / "one_rotor.yaml")) is None


@pytest.fixture(scope="module")
def fast():
    """Fast enough to kill the lamps with the wires that give them most."""
    point = OperatingPoint(read(GEOMETRIES / "lamp_ring.yaml"), "200 rpm", tolerance=1e-4)
    return gauge_study(point, range(24, 36))


def test_the_best_wire_lets_lamps_and_wire_live(fast):
    """The light grows up to AWG 29, where each lamp of 20 mA gets 28.6 mA."""
    lamps = {row.wire.name[:6]: row.lamp_current_average_A for row in fast.rows}
    assert fast.brightest.wire.name == "AWG 29 single"
    assert lamps["AWG 29"] > 1.4 * 20e-3
    for row in fast.rows:
        kinds = {caution.kind for caution in row.overdriven}
        assert (Hazard.LED_CURRENT in kinds) == (row.lamp_current_average_A > 20e-3)
        assert row.overloaded == (row.coil_current_rms_A > row.recommended_current_A)
        assert row.within_ratings == (not kinds and not row.overloaded)
    best = fast.best
    assert best.wire.name == "AWG 25 single"
    assert best.within_ratings
    assert all(row.lamp_current_average_A <= best.lamp_current_average_A for row in fast.rows
               if row.within_ratings)  # fmt: skip
    # AWG 34 and 35 leave the lamps below 20 mA, but carry more than they bear themselves.
    thin = fast.rows[-1]
    assert not thin.overdriven
    assert thin.overloaded
    assert fast.most_power.wire.name == "AWG 29 single"


def test_light_is_of_all_lamps_and_says_how_many_glow(study):
    for row in study.rows:
        assert row.lamp_current_total_A == pytest.approx(6 * row.lamp_current_average_A)
        assert row.lit == (6 if row.lamp_current_average_A >= 0.5e-3 else 0)


def test_level_rows_go_to_the_cooler_coil(study):
    """Rows that differ by less than they are solved to are level."""
    best = study.best
    hot = replace(best, lamp_current_total_A=1.0005 * best.gives, coil_heat_W=2 * best.coil_heat_W)
    assert replace(study, rows=(best, hot)).best is best
    brighter = replace(hot, lamp_current_total_A=1.002 * best.gives)
    assert replace(study, rows=(best, brighter)).best is brighter


def test_without_lamps_it_is_power_within_ratings(ring):
    load = Load("pickup", parts=[{"resistor": 100.0, "rated": 0.1}])
    study = gauge_study(ring.moved_to(replace(ring.machine, load=load)), range(28, 37, 2))
    assert not study.lamps
    assert study.best.load_power_W <= 0.1 < study.most_power.load_power_W
    assert {c.kind for row in study.rows for c in row.overdriven} == {Hazard.RESISTOR_POWER}


def test_where_all_that_light_overload_there_is_no_best(ring):
    frail = ring.changed({"load.lamps.rated": "1 mA", "load.lamps.peak": "1 mA"})
    study = gauge_study(frail, [30, 31, 32])
    assert study.best is None
    assert study.brightest is not None


def test_another_gauge_is_as_if_the_file_had_it(ring, tmp_path):
    """At a speed where the inductance takes a tenth of the power, so that its scaling shows."""
    row = gauge_study(ring.changed({}, speed_factor=400 / 90), [38]).rows[0]
    text = (GEOMETRIES / "lamp_ring.yaml").read_text(encoding="utf-8")
    path = tmp_path / "g.yaml"
    path.write_text(text.replace("AWG 32", "AWG 38"), encoding="utf-8")
    thin = point_of(path, "400 rpm")
    result = thin.steady_state.result
    assert row.windings["pickup"].turns == thin.machine.placed_coils[0].turns
    # the row is of a machine wound with that wire, solved to 1e-3
    assert row.coil_heat_W == pytest.approx(result.coils["pickup"].heat_W, rel=1e-3)
    assert row.load_power_W == pytest.approx(result.useful_power_W, rel=1e-3)


@pytest.mark.parametrize(
    ("gauge", "about"),
    [
        ("AWG 32", [f"AWG {n}" for n in range(29, 36)]),
        ("AWG 45", [f"AWG {n}" for n in range(42, 47)]),  # there is no AWG 47
        ("AWG 11", [f"AWG {n}" for n in range(10, 15)]),
        ("SWG 15", [f"SWG {n}" for n in range(13, 19)]),
        ("0.21 mm", [f"{d} mm" for d in (0.28, 0.25, 0.224, 0.21, 0.2, 0.18, 0.16)]),
    ],
)
def test_gauges_about_a_wire(gauge, about):
    machine = shipped("lamp_ring").changed({"coils.pickup.wire.gauge": gauge})
    assert [str(each) for each in gauges_about(machine)] == about
