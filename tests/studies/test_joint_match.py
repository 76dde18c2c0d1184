"""Gauge, turns and load together, against machines one by one and the matched resistor."""

import math
from dataclasses import replace

import pytest
from machines import shipped

import fieldsim as fs
from fieldsim.machine.gauge import gauges_of
from fieldsim.studies.gauges import gauge_study, rewound
from fieldsim.studies.joint_match import joint_match


def point_of(machine):
    return fs.OperatingPoint(machine, "120 rpm", tolerance=1e-4)


def test_nothing_tried_gives_more_within_the_ratings_of_the_lamps():
    point = point_of(shipped("lamp_ring"))
    study = gauge_study(point, [31, 32, 33])
    found = joint_match(point, study)

    def tried(gauge, share, series):
        machine = rewound(point.machine, ["pickup"], next(iter(gauges_of(f"AWG {gauge}", None))))
        (coil,) = machine.coils
        turns = round(share * coil.winding.turns)
        machine = replace(
            machine, coils=(replace(coil, turns=turns, wire=replace(coil.wire, fill=None)),)
        )
        wired = {"load.lamps.series": series, "load.lamps.parallel": 6 // series}
        return point_of(machine.changed(wired)).circuit_result

    results = {
        (gauge, share, series): tried(gauge, share, series)
        for gauge in (31, 32, 33)
        for share in (1.0, 0.75, 0.5)
        for series in (1, 2, 3, 6)
    }
    assert found.tried == len(results)
    light = {
        key: 6 * result.lamps[0].average_current_A
        for key, result in results.items()
        if result.lamps[0].lights and result.lamps[0].share_of_rated <= 1.0
    }
    best = max(light, key=light.get)
    assert found.gives == pytest.approx(light[best], rel=2e-3)
    own = (int(found.gauge.number), found.load["load.lamps.series"])
    assert own == (best[0], best[2])
    assert found.gives_now == pytest.approx(light[32, 1.0, 1], rel=2e-3)
    assert found.gives > max(row.gives for row in study.rows)


def test_a_resistor_is_best_as_large_as_the_coil():
    """Most power into a resistor when it equals the size of the source's impedance."""
    bare = shipped("lamp_ring")
    machine = bare.changed({"load": {"across": "pickup", "resistor": "50 ohm"}})
    point = point_of(machine)
    study = gauge_study(point, [32])
    found = joint_match(point, study)
    (coil,) = found.turns
    ohm = next(iter(found.load.values()))
    wound = point_of(machine.changed({"load.resistor": ohm}))
    coils = wound.circuit_result.circuit.coils
    omega = 2 * math.pi * wound.figures[coil].frequency_Hz
    size = math.hypot(coils.resistance_ohm[0], omega * coils.inductance_H[0][0])
    # Tried in steps of an eighth of a decade; of two that are level the coils' cooler one is taken.
    assert abs(math.log10(ohm / size)) < 1 / 8
    with_half, with_twice = (
        point_of(machine.changed({"load.resistor": factor * ohm})).circuit_result.useful_power_W
        for factor in (0.5, 2.0)
    )
    assert found.gives > max(with_half, with_twice)
    assert coil == "pickup"


def test_no_load_to_vary_is_none():
    machine = shipped("lamp_ring").changed(
        {"load": {"across": "pickup", "parts": [{"resistor": "50 ohm"}]}}
    )
    point = point_of(machine)
    assert joint_match(point, gauge_study(point, [32])) is None
