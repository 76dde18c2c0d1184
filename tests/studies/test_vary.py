"""Parameters varied: rows are those of machines of their own, values are read as they are meant."""

from __future__ import annotations

import math

import pytest
from machines import shipped

from fieldsim.errors import ImpossibleError
from fieldsim.machine.parameters import parameter
from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.studies.gap import gap_study
from fieldsim.studies.gauges import gauge_study
from fieldsim.studies.vary import CRANK_SPEED, values_of, varied, vary

TOLERANCE = 1e-4
GAUGE = "coils.pickup.wire.gauge"


@pytest.fixture(scope="module")
def ring() -> OperatingPoint:
    return OperatingPoint(shipped("lamp_ring"), "90 rpm", tolerance=TOLERANCE)


@pytest.fixture(scope="module")
def one() -> OperatingPoint:
    return OperatingPoint(shipped("one_rotor"), "60 rpm", tolerance=TOLERANCE)


VARIED = {
    "clearance": ["1 mm", "4 mm"],
    GAUGE: ["AWG 30", "AWG 34"],
    "magnets.bar.remanence": [1.0, "1.3 T"],
    "load.lamps.parallel": [3, "12"],
    "rotors.lower.gear_ratio": ["-8", "16"],
    "load.rectifier": ["single"],
}


@pytest.mark.parametrize("path", VARIED)
def test_rows_are_those_of_fresh_points(path, ring):
    study = vary(ring, {path: VARIED[path]})
    assert study.title == ring.machine.title
    assert study.paths == (path,)
    assert study.parameters == (parameter(ring.machine, path),)
    assert len(study.rows) == len(VARIED[path])
    for row, value in zip(study.rows, VARIED[path], strict=True):
        machine = ring.machine.changed({path: value})
        fresh = OperatingPoint(machine, "90 rpm", tolerance=TOLERANCE)
        assert row.values == {path: parameter(machine, path).value}
        assert row.coils == fresh.figures
        # the solver stops within its tolerance, from where it starts
        slack = {"rel": 10 * fresh.circuit_tolerance, "abs": 1e-9}
        assert row.circuit.useful_power_W == pytest.approx(
            fresh.circuit_result.useful_power_W, **slack
        )
        assert row.circuit.lamps[0].average_current_A == pytest.approx(
            fresh.circuit_result.lamps[0].average_current_A, **slack
        )
        assert row.effort.crank.hand_W == pytest.approx(fresh.effort.crank.hand_W, **slack)


def test_the_speed_is_a_parameter_too(ring):
    study = vary(ring, {CRANK_SPEED: ["45 rpm", "90 rpm", 6 * math.pi]})
    rpm = [row.values[CRANK_SPEED] * 30 / math.pi for row in study.rows]
    assert rpm == pytest.approx([45, 90, 180], rel=1e-12)
    volts = [row.coils["pickup"].rms_V for row in study.rows]
    assert volts == pytest.approx([volts[1] / 2, volts[1], 2 * volts[1]], rel=1e-12)
    assert volts[1] == pytest.approx(ring.figures["pickup"].rms_V, rel=1e-12)
    (item,) = study.parameters
    assert (item.path, item.unit, item.text) == (CRANK_SPEED, "rad/s", "90 rpm")
    assert item.step == pytest.approx(10 * math.pi / 30)
    assert all(row.point.flux_table is ring.flux_table for row in study.rows)


def test_of_two_parameters_the_second_runs_fastest(one):
    calls = []
    study = vary(
        one,
        {"clearance": ["2 mm", "4 mm"], CRANK_SPEED: ["30 rpm", "60 rpm", "90 rpm"]},
        progress=lambda *done: calls.append(done),
    )
    assert study.paths == ("clearance", CRANK_SPEED)
    found = [
        (row.values["clearance"], row.values[CRANK_SPEED] * 30 / math.pi) for row in study.rows
    ]
    wanted = [(gap, rpm) for gap in (0.002, 0.004) for rpm in (30, 60, 90)]
    for pair, other in zip(found, wanted, strict=True):
        assert pair == pytest.approx(other, rel=1e-9)
    assert calls == [(done, 6) for done in range(1, 7)]
    alone = vary(one, {"clearance": ["4 mm"]}).rows[0]
    assert study.rows[4].coils["pickup"].rms_V == pytest.approx(
        alone.coils["pickup"].rms_V, rel=1e-12
    )


def test_without_wire_there_is_voltage_and_no_current(one):
    loaded = one.changed({"load.across": "pickup", "load.resistor": "100 ohm"})
    (row,) = vary(loaded, {"clearance": ["2 mm"]}).rows
    assert row.circuit is None
    assert row.coils["pickup"].rms_V > 1


def test_the_gap_study_is_the_clearance_varied(one):
    gaps = [1e-3, 2e-3, 4e-3]
    study = vary(one, {"clearance": gaps})
    for row, other in zip(study.rows, gap_study(one, gaps).rows, strict=True):
        assert row.coils == other.figures
        assert row.values["clearance"] == pytest.approx(other.gap_m, abs=1e-9)


def test_gauges_are_the_gauge_of_a_filled_coil_varied(ring):
    study = vary(ring, {GAUGE: ["AWG 30", "AWG 32", "AWG 34"]})
    table = gauge_study(ring, [30, 32, 34])
    for row, other in zip(study.rows, table.rows, strict=True):
        assert row.values[GAUGE] == int(other.wire.name.split()[1])
        assert row.point.machine.windings == other.windings
        # tables are solved to 1e-3, meshes find peaks to 1e-3
        assert row.circuit.useful_power_W == pytest.approx(other.load_power_W, rel=2e-3)
        assert row.coils["pickup"].rms_V == pytest.approx(other.open_circuit_rms_V, rel=1e-3)


@pytest.mark.parametrize(
    ("path", "text", "values"),
    [
        (GAUGE, "24..28", ["AWG 24", "AWG 25", "AWG 26", "AWG 27", "AWG 28"]),
        (GAUGE, "AWG 30..AWG 32", ["AWG 30", "AWG 31", "AWG 32"]),
        (GAUGE, "AWG 30, AWG 34", ["AWG 30", "AWG 34"]),
        (GAUGE, "0.2..0.25 mm", ["0.2 mm", "0.224 mm", "0.25 mm"]),
        ("load.lamps.parallel", "2..4", ["2", "3", "4"]),
        ("clearance", "1 mm..4 mm", ["1 mm", "2 mm", "3 mm", "4 mm"]),
        ("clearance", "1..3 mm", ["1 mm", "2 mm", "3 mm"]),
        ("clearance", "1 mm .. 1 mm", ["1 mm"]),
        ("clearance", "0.5 mm .. 2.9 mm", ["0.5 mm", "1.5 mm", "2.5 mm"]),
        ("clearance", "2 mm, 0.1 in, 2 mm", ["2 mm", "0.1 in"]),
        ("rotors.upper.start", "0 deg..10 deg", ["0 deg", "5 deg", "10 deg"]),
        ("load.rectifier", "single, bridge", ["single", "bridge"]),
        (CRANK_SPEED, "80 rpm..100 rpm", ["80 rpm", "90 rpm", "100 rpm"]),
        ("temperature", "20 degC..30 degC", ["20 degC", "25 degC", "30 degC"]),
    ],
)
def test_lists_and_ranges(path, text, values, ring):
    assert values_of(varied(ring, path), text) == values


@pytest.mark.parametrize(
    ("path", "text", "words"),
    [
        (GAUGE, "40..24", "40..24 runs backwards; write 24..40"),
        (GAUGE, "24-30", '"24-30" is not a gauge; write 24..30'),
        (GAUGE, "24.5..30", '"24.5" has no unit; write the gauge like'),
        ("clearance", "4 mm..1 mm", "runs backwards; write 1 mm..4 mm"),
        ("clearance", "1 T..4 T", "is not a length"),
        ("clearance", "1 mm..1000 m", "1000000 values; at most 1000 are allowed"),
        ("clearance", "a..b", '"a" is not a number with a unit'),
        ("clearance", "", "there are no values"),
        ("clearance", " , ", "there are no values"),
        ("load.rectifier", "none..bridge", "load.rectifier is a word and has no range"),
        ("load.lamps.parallel", "1..5000", "5000 values; at most 1000"),
    ],
)
def test_values_that_cannot_be(path, text, words, ring):
    with pytest.raises(ImpossibleError) as caught:
        values_of(varied(ring, path), text)
    assert words in str(caught.value)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({}, "0 parameters; one or two can be varied"),
        ({"clearance": [1e-3], "temperature": [300], CRANK_SPEED: [1]}, "3 parameters"),
        ({"coils.pickup.wire.guage": ["AWG 30"]}, f'did you mean "{GAUGE}"?'),
        ({GAUGE: ["AWG 30", "AWG 99"]}, f"{GAUGE}: AWG 99 is out of range"),
        ({"clearance": ["1 mm", "0 mm"]}, 'clearance: "0 mm" is out of range'),
        ({"clearance": ["1 mm", "20 T"]}, "clearance: "),
        ({CRANK_SPEED: ["90"]}, "crank_speed: "),
        ({CRANK_SPEED: ["0 rpm"]}, "with crank_speed = 0 rpm: the speed must be above zero"),
        (
            {"rotors.upper.magnets[0].height": ["9 mm", "5 mm"]},
            'with rotors.upper.magnets[0].height = 5 mm: rotor "upper" runs into coil "pickup"',
        ),
        (
            {"clearance": ["2 mm"], "rotors.upper.magnets[0].radius": ["5 mm"]},
            "with clearance = 2 mm, rotors.upper.magnets[0].radius = 5 mm: ",
        ),
        ({"clearance": [1e-3 + i * 1e-6 for i in range(1001)]}, "1001 rows; at most 1000"),
    ],
)
def test_what_cannot_be_varied_is_one_line(values, words, ring):
    with pytest.raises(ImpossibleError) as caught:
        vary(ring, values)
    assert words in str(caught.value)
    assert "\n" not in str(caught.value)
    assert ring.machine.file not in str(caught.value)


def test_geared_ratios_name_the_wheels():
    geared = OperatingPoint(shipped("geared_pair"), tolerance=1e-2)
    with pytest.raises(ImpossibleError, match=r"change gears\.wheels\.left\.teeth or"):
        vary(geared, {"rotors.upper.gear_ratio": [10]})
