"""What lights, what the meters show, what to heed."""

from __future__ import annotations

from pathlib import Path

import pytest

from fieldsim.machine_file.reader import read
from fieldsim.operation.light import Meter, light
from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.words.cautions import caution_text

GEOMETRIES = Path(__file__).parents[2] / "geometries"
RING = (GEOMETRIES / "lamp_ring.yaml").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def ring():
    return OperatingPoint(read(GEOMETRIES / "lamp_ring.yaml"), "90 rpm", tolerance=1e-5)


@pytest.fixture
def report(ring, tmp_path):
    """Return a function from changes of the file and a speed to a report."""

    def make(rpm, *changes, meter=None):
        text = RING
        for old, new in changes:
            assert old in text
            text = text.replace(old, new)
        path = tmp_path / "g.yaml"
        path.write_text(text, encoding="utf-8")
        point = ring.moved_to(read(path), rpm / 90)
        return light(point, point.lighting, meter)

    return make


def kinds(found):
    return [caution.kind for caution in found.cautions]


def test_slow_is_dark_and_fast_is_bright(report):
    slow, fast = report(20), report(90)
    assert not slow.result.lamps[0].lights
    assert fast.result.lamps[0].lights
    assert fast.result.lamps[0].average_current_A > 10 * slow.result.lamps[0].average_current_A
    assert kinds(fast) == ["uneven lamps"]  # six side by side without resistors


def test_energy_and_charge_balance(report):
    balance = report(90).result.balance
    assert balance.energy < 1e-4
    assert balance.charge < 1e-4


def test_parts_add_up_to_the_source(report):
    result = report(90).result
    parts = sum(trace.power_each_W * trace.count for trace in result.parts)
    coils = sum(coil.heat_W for coil in result.coils.values())
    assert parts + coils == pytest.approx(result.source_power_W, rel=1e-4)  # the energy balance


def test_meters_open_and_loaded(report, ring):
    found = report(90)
    rows = {(row.where, row.loaded): row.readings for row in found.meters}
    assert list(rows) == [
        ("pickup, ends", False),
        ("pickup, ends", True),
        ("bridge output", False),
        ("bridge output", True),
    ]
    figures = ring.figures["pickup"]
    opened = rows["pickup, ends", False]
    # 10 Mohm take 1e-5 of the voltage; the solver's mesh has the rest
    assert opened.true_rms_V == pytest.approx(figures.rms_V, rel=1e-3)
    assert opened.average_responding_V == pytest.approx(1.1107 * figures.rectified_mean_V, rel=1e-3)
    assert opened.peak_hold_most_V == pytest.approx(figures.peak_V, rel=1e-3)
    assert abs(opened.dc_V) < 1e-6
    # no lamps: the capacitor holds the peak less two Schottky drops at microamperes
    assert figures.peak_V - 0.6 < rows["bridge output", False].dc_V < figures.peak_V
    # six white lamps of some 7 mA stand near 2.9 V
    assert rows["bridge output", True].dc_V == pytest.approx(2.9, abs=0.15)
    assert rows["pickup, ends", True].true_rms_V < opened.true_rms_V


def test_a_poor_meter_pulls_the_voltage_down(report):
    good, poor = report(20), report(20, meter=Meter(input_ohm=100.0))
    # 100 ohm on 70 ohm of coil
    assert poor.meters[0].readings.true_rms_V == pytest.approx(
        good.meters[0].readings.true_rms_V * 100 / 170.28,
        rel=2e-2,  # and w L of the coil
    )


def test_meter_without_a_bridge_is_read_across_the_capacitor(report):
    found = report(90, ("rectifier: bridge", "rectifier: single"))
    assert found.meters[-1].where == "across capacitor"
    assert found.meters[-1].readings.dc_V == pytest.approx(2.9, abs=0.3)


def test_cautions_name_their_number_once(report):
    found = report(
        400,
        ("rated: 25 V", "rated: 10 V"),
        ("parallel: 6", "parallel: 1"),
        ("gauge: AWG 32", "gauge: AWG 36"),
    )
    assert kinds(found) == sorted(set(kinds(found)), key=kinds(found).index)
    assert "LED over-current" in kinds(found)
    assert "open-circuit voltage" in kinds(found)
    assert "coil current" in kinds(found)
    assert "capacitor voltage" in kinds(found)
    capacitor = next(c for c in found.cautions if c.kind == "capacitor voltage")
    assert "above its rated 10 V if its lamps come off" in caution_text(capacitor)
    assert all(c.limit is not None and c.value > c.limit for c in found.cautions)


def test_without_a_load_it_is_open(report):
    load = RING[RING.index("load:") :]
    found = report(90, (load, ""))
    assert not found.has_load
    assert found.result.lamps == ()
    assert [row.where for row in found.meters] == ["pickup, ends"]
    assert found.result.source_power_W < 1e-6
