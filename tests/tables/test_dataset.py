"""Columns from results: names stay, the unit follows from the name."""

from __future__ import annotations

import math

import h5py
import numpy as np
import pytest

from fieldsim.tables.dataset import columns_of, labelled_dataset, save_dataset, unit_of


@pytest.mark.parametrize(
    ("name", "unit"),
    [
        ("peak_V", "V"), ("resistance_ohm", "ohm"), ("torque_Nm", "N m"), ("mass_kg", "kg"),
        ("crank_angle_deg", "degree"), ("speed_rad_per_s", "rad/s"), ("frequency_Hz", "Hz"),
        ("steepest_Wb_per_rad", "Wb/rad"), ("turns", "1"), ("wire_fill", "1"), ("form_factor", "1"),
        ("leaves_V_per", "1"),
    ],
)  # fmt: skip
def test_units_follow_from_names(name, unit):
    assert unit_of(name) == unit


def test_columns_of_results():
    columns = columns_of([1 + 2j, None, complex(0.0, math.inf)], ["real", "imaginary_V=imag"])
    assert list(columns) == ["real", "imaginary_V"]
    assert columns["real"].tolist()[::2] == [1.0, 0.0]
    assert columns["imaginary_V"][0] == 2.0
    assert math.isnan(columns["real"][1])
    data = labelled_dataset("row", ("a", "b", "c"), columns, "title")
    assert data.columns()[0] == ["row", "real", "imaginary_V"]


def test_what_does_not_apply_is_an_empty_cell(tmp_path):
    values = np.array([1.5, math.nan, math.inf])
    data = labelled_dataset("row", ("nan", "b", "c"), {"a_V": values, "b_V": values[::-1]}, "t")
    save_dataset(data, tmp_path / "t.csv")
    lines = (tmp_path / "t.csv").read_text(encoding="utf-8").splitlines()
    assert lines == ["row,a_V,b_V", "nan,1.5,inf", "b,,", "c,inf,1.5"]
    read = np.genfromtxt(tmp_path / "t.csv", delimiter=",", skip_header=1, usecols=1)
    np.testing.assert_array_equal(read, values)
    save_dataset(data, tmp_path / "t.h5")
    with h5py.File(tmp_path / "t.h5") as file:
        np.testing.assert_array_equal(file["a_V"][:], values)
