"""What ``vary`` prints and writes, read back and compared with the rows."""

from __future__ import annotations

import math

import numpy as np
import pytest
from machines import shipped

from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.studies.vary import vary
from fieldsim.tables.result_datasets import vary_dataset
from fieldsim.words.vary_text import vary_text

POINT = OperatingPoint(shipped("lamp_ring"), "90 rpm", tolerance=1e-3)
TWO = OperatingPoint(shipped("two_coils"), "90 rpm", tolerance=1e-3)


@pytest.fixture(scope="module")
def speeds():
    return vary(POINT, {"crank_speed": ["30 rpm", "120 rpm"]})


@pytest.fixture(scope="module")
def grid():
    return vary(POINT, {"clearance": ["2 mm", "4 mm"], "crank_speed": ["30 rpm", "120 rpm"]})


def cells(text):
    lines = text.splitlines()
    rule = next(i for i, line in enumerate(lines) if line.startswith("─"))
    end = lines.index("", rule)
    return lines[rule - 1], [line.rsplit(maxsplit=7) for line in lines[rule + 1 : end]]


def test_every_figure_in_its_column(speeds):
    text = vary_text(speeds, POINT.speed, 120)
    heading, rows = cells(text)
    names = ["crank_speed", "V RMS, open", "lamp mA", "lamps lit", "useful mW", "wire mW"]
    assert [name in heading for name in [*names, "crank N m"]] == [True] * 7
    assert text.splitlines()[0] == POINT.machine.title
    assert "The design itself: crank_speed = 90 rpm." in text.splitlines()
    lines = text.splitlines()[4:6]
    for line, row, rpm in zip(lines, speeds.rows, ("30 rpm", "120 rpm"), strict=True):
        assert line.startswith(rpm)
        shown = line.removeprefix(rpm).replace(" of ", "/").split()
        lit = sum(lamp.count for lamp in row.circuit.lamps if lamp.lights)
        assert shown[2] == f"{lit}/6"
        figures = [shown[0], shown[1], shown[3], shown[4], shown[5]]
        exact = [
            row.coils["pickup"].rms_V,
            1e3 * row.brightest_lamp_A,
            1e3 * row.useful_power_W,
            1e3 * row.coil_heat_W,
            row.average_torque_Nm,
        ]
        for said, value in zip(figures, exact, strict=True):
            assert float(said) == pytest.approx(value, rel=6e-3, abs=6e-3)
    assert len(rows) == 2


def test_several_coils_are_named_and_the_speed_stands_above():
    study = vary(TWO, {"magnets.bar.remanence": ["1 T"]})
    text = vary_text(study, TWO.speed, 140)
    assert text.splitlines()[0] == f"{TWO.machine.title}: crank at 90 rpm"
    heading, _ = cells(text)
    assert "left V RMS, open" in heading
    assert "right V RMS, open   pair V RMS, open" in heading
    assert f"{study.rows[0].coils['right'].rms_V:.3f}"[:4] in text.splitlines()[4]


def test_columns_without_any_figure_are_left_out():
    open_coil = OperatingPoint(shipped("one_rotor"), "90 rpm", tolerance=1e-3)
    text = vary_text(vary(open_coil, {"clearance": ["3 mm"]}), open_coil.speed)
    assert "V RMS, open" in text
    for name in ("lamp mA", "lamps lit", "load mW", "wire mW"):
        assert name not in text


def test_the_table_of_a_map(grid):
    data = vary_dataset(grid)
    found = {each.name: each for each in data.variables}
    assert [d.name for d in data.dimensions] == ["clearance_m", "crank_speed_rad_per_s", "coil"]
    assert np.allclose(data.dimensions[0].values, [2e-3, 4e-3], rtol=1e-12)
    assert np.allclose(data.dimensions[1].values, [math.pi, 4 * math.pi], rtol=1e-12)
    rms = found["rms_V"]
    assert tuple(rms.dimensions) == ("clearance_m", "crank_speed_rad_per_s", "coil")
    assert rms.values.shape == (2, 2, 1)
    assert rms.values.ravel().tolist() == [row.coils["pickup"].rms_V for row in grid.rows]
    for name, attribute in (
        ("lamp_current_average_A", "brightest_lamp_A"),
        ("load_power_W", "useful_power_W"),
        ("coil_heat_W", "coil_heat_W"),
        ("crank_torque_average_Nm", "average_torque_Nm"),
    ):
        column = found[name]
        assert tuple(column.dimensions) == ("clearance_m", "crank_speed_rad_per_s")
        assert column.values.ravel().tolist() == [getattr(row, attribute) for row in grid.rows]
