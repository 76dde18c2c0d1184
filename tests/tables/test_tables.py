"""Tables as files: nothing is lost on the way, and other readers find names and units."""

from __future__ import annotations

import csv
import math

import h5py
import numpy as np
import pytest
import xarray
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays
from machines import shipped

from fieldsim.errors import FileTroubleError
from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.studies.compare import compare
from fieldsim.studies.gap import gap_study
from fieldsim.tables.dataset import Dataset, Dimension, Variable, save_dataset
from fieldsim.tables.flux_file import load_flux_table, save_flux_table
from fieldsim.tables.result_datasets import comparison_dataset, emf_dataset, gap_dataset
from fieldsim.waveform.flux_table import FluxTable, flux_table

names = st.from_regex(r"[A-Za-zé][\w-]{0,39}", fullmatch=True)
finite = st.floats(allow_nan=False, allow_infinity=False, width=64)


@st.composite
def tables(draw) -> FluxTable:
    coils = draw(st.lists(names, min_size=1, max_size=3, unique=True))
    rotors = draw(st.lists(names, min_size=1, max_size=3, unique=True))
    shape = (len(coils), len(rotors), draw(st.integers(4, 12)))
    linkage = draw(arrays.arrays(np.float64, shape, elements=finite))
    error = draw(arrays.arrays(np.float64, shape[:2], elements=st.floats(0.0, 1e9)))
    title = draw(st.text(st.characters(exclude_categories=["C"]), max_size=20))
    return FluxTable(tuple(coils), tuple(rotors), linkage, error, title)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(table=tables())
def test_hdf5_gives_back_every_number(table, tmp_path_factory):
    path = tmp_path_factory.mktemp("h5") / "t.h5"
    save_flux_table(table, path)
    loaded = load_flux_table(path)
    assert loaded == table
    assert loaded.linkage_Wb.tobytes() == table.linkage_Wb.tobytes()  # minus zero as well
    assert loaded.title == table.title


@settings(max_examples=60, deadline=None, derandomize=True)
@given(table=tables())
def test_csv_gives_back_every_linkage(table, tmp_path_factory):
    path = tmp_path_factory.mktemp("csv") / "t.csv"
    save_flux_table(table, path)
    loaded = load_flux_table(path)
    assert (loaded.coils, loaded.rotors) == (table.coils, table.rotors)
    assert loaded.linkage_Wb.tobytes() == table.linkage_Wb.tobytes()
    assert np.isnan(loaded.relative_error).all()  # the file has no place for it


@pytest.fixture(scope="module")
def facing():
    return flux_table(shipped("two_facing_rotors"), angles=24, tolerance=1e-3)


@pytest.fixture(scope="module")
def one_rotor():
    return OperatingPoint(shipped("one_rotor"), crank_speed_rad_per_s=12.0, tolerance=1e-3)


def test_flux_csv_layout(facing, tmp_path):
    save_flux_table(facing, tmp_path / "t.csv")
    with (tmp_path / "t.csv").open(newline="") as stream:
        rows = list(csv.reader(stream))
    assert rows[0] == [
        "rotor_angle_deg",
        "linkage_Wb[pickup,upper]",
        "linkage_Wb[pickup,lower]",
    ]
    assert len(rows) == 25
    assert [float(row[0]) for row in rows[1:]] == [15.0 * i for i in range(24)]
    assert float(rows[1][1]) == facing.linkage_Wb[0, 0, 0]


def test_flux_opens_elsewhere(facing, tmp_path):
    save_flux_table(facing, tmp_path / "t.h5")
    with xarray.open_dataset(tmp_path / "t.h5", engine="h5netcdf") as opened:
        assert dict(opened.sizes) == {"coil": 1, "rotor": 2, "rotor_angle_deg": 24}
        assert opened.linkage_Wb.dims == ("coil", "rotor", "rotor_angle_deg")
        assert opened.linkage_Wb.attrs["units"] == "Wb"
        assert opened.rotor_angle_deg.attrs["units"] == "degree"
        assert opened.relative_error.dims == ("coil", "rotor")
        assert opened.coil.values.tolist() == ["pickup"]
        assert opened.rotor.values.tolist() == ["upper", "lower"]
        assert opened.attrs["title"] == facing.title
        picked = opened.linkage_Wb.sel(coil="pickup", rotor="lower").values
    assert np.array_equal(picked, facing.linkage_Wb[0, 1])


def test_emf_files(one_rotor, tmp_path):
    waveform = one_rotor.waveform
    save_dataset(emf_dataset(waveform), tmp_path / "w.h5")
    save_dataset(emf_dataset(waveform), tmp_path / "w.csv")
    with xarray.open_dataset(tmp_path / "w.h5", engine="h5netcdf") as opened:
        assert opened.emf_V.dims == opened.linkage_Wb.dims == ("coil", "time_s")
        assert opened.emf_V.attrs["units"] == "V"
        assert opened.time_s.attrs["units"] == "s"
        assert np.array_equal(opened.emf_V.values, waveform.emf_V)
        assert opened.attrs["period_s"] == waveform.period_s
        assert opened.attrs["period_exact"] == "true"
    lines = (tmp_path / "w.csv").read_text().splitlines()
    assert lines[0] == "time_s,emf_V[pickup]"
    assert [float(x) for x in lines[5].split(",")] == [waveform.time_s[4], waveform.emf_V[0, 4]]
    assert len(lines) == 1 + len(waveform.time_s)


FIGURES = {
    "peak_V": "V",
    "rms_V": "V",
    "rectified_mean_V": "V",
    "frequency_Hz": "Hz",
    "peak_to_peak_linkage_Wb": "Wb",
}


def test_gap_files(one_rotor, tmp_path):
    study = gap_study(one_rotor, [0.002, 0.001])
    save_dataset(gap_dataset(study), tmp_path / "g.h5")
    save_dataset(gap_dataset(study), tmp_path / "g.csv")
    with xarray.open_dataset(tmp_path / "g.h5", engine="h5netcdf") as opened:
        assert opened.gap_m.values.tolist() == [0.002, 0.001]
        assert opened.gap_m.attrs["units"] == "m"
        for name, unit in FIGURES.items():
            assert opened[name].dims == ("gap_m", "coil")
            assert opened[name].attrs["units"] == unit
        assert opened.rms_V.values[1, 0] == study.rows[1].figures["pickup"].rms_V
    with (tmp_path / "g.csv").open(newline="") as stream:
        header, first, _ = csv.reader(stream)
    assert header == ["gap_m", *(f"{name}[pickup]" for name in FIGURES)]
    assert float(first[2]) == study.rows[0].figures["pickup"].rms_V


def test_comparison_files(one_rotor, tmp_path):
    inside = OperatingPoint(shipped("bar_inside_coil"), crank_speed_rad_per_s=12.0, tolerance=1e-3)
    machines = [one_rotor.machine, inside.machine]
    comparison = compare([one_rotor, inside])
    save_dataset(comparison_dataset(comparison), tmp_path / "c.h5")
    save_dataset(comparison_dataset(comparison), tmp_path / "c.csv")
    with xarray.open_dataset(tmp_path / "c.h5", engine="h5netcdf") as opened:
        assert opened.design.values.tolist() == [m.file for m in machines]
        assert opened.coil.values.tolist() == ["pickup", "wound"]
        for name, unit in FIGURES.items():
            assert opened[name].dims == ("design", "coil")
            assert opened[name].attrs["units"] == unit
        found = opened.rms_V.values
    assert found[0, 0] == comparison.designs[0].figures["pickup"].rms_V
    assert found[1, 1] == comparison.designs[1].figures["wound"].rms_V
    assert math.isnan(found[0, 1])  # a design has its own coils only
    with (tmp_path / "c.csv").open(newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert [row["design"] for row in rows] == [m.file for m in machines]
    assert float(rows[1]["peak_V[wound]"]) == comparison.designs[1].figures["wound"].peak_V


def test_scales_are_attached_by_name(tmp_path):
    data = Dataset(
        (Dimension("x_m", np.arange(3.0)), Dimension("what", ("a", "ü,[1]"))),
        (Variable("y_V", ("what", "x_m"), np.arange(6.0).reshape(2, 3), "a voltage"),),
        {"note": "µ"},
    )
    save_dataset(data, tmp_path / "d.h5")
    with h5py.File(tmp_path / "d.h5") as file:
        assert [d.label or d[0].name for d in file["y_V"].dims] == ["/what", "/x_m"]
        assert file["y_V"].attrs["long_name"] == "a voltage"
        assert file.attrs["note"] == "µ"
    save_dataset(data, tmp_path / "d.csv")
    with (tmp_path / "d.csv").open(newline="", encoding="utf-8") as stream:
        rows = list(csv.reader(stream))
    assert rows == [
        ["x_m", "y_V[a]", "y_V[ü,[1]]"],
        *([f"{i}.0", f"{i}.0", f"{i + 3}.0"] for i in range(3)),
    ]


def test_same_table_same_bytes(facing, tmp_path):
    for ending in (".csv", ".h5"):
        save_flux_table(facing, tmp_path / f"one{ending}")
        save_flux_table(facing, tmp_path / f"two{ending}")
        one, two = (tmp_path / f"{n}{ending}" for n in ("one", "two"))
        assert one.read_bytes() == two.read_bytes()


HEAD = 'rotor_angle_deg,"linkage_Wb[c,r]"\n'
GOOD = HEAD + "0,1\n90,2\n180,3\n270,4\n"


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ("", "its first line must be"),
        ("a,b\n1,2\n", "its first line must be"),
        ("rotor_angle_deg\n0\n", "its first line must be"),
        (GOOD.replace("[c,r]", "[c]"), "its first line must be"),
        (HEAD, "at least four"),
        (GOOD.replace("3", "x"), "could not convert"),
        (GOOD.replace("180,3", "180"), "as many numbers"),
        (GOOD.replace("180,3", "180,nan"), "not a finite number"),
        (GOOD.replace("180,", "181,"), "equal steps"),
        (HEAD + "0,1\n180,2\n", "at least four"),
        (GOOD.replace("\n", ",5\n").replace('r]",5', 'r]","linkage_Wb[c,r]"'), "go through all"),
        (GOOD.replace("180,3", "180,1+2j"), "could not convert"),
        (GOOD + "0,\0\n", "could not convert"),
        (HEAD + "0," + "1" * 200_000 + "\n", "field larger"),
        ("\x89PNG\udcff", "decode"),
    ],
)
def test_csv_that_is_no_flux_table(content, words, tmp_path):
    path = tmp_path / "t.csv"
    path.write_text(content, errors="surrogateescape")
    with pytest.raises(FileTroubleError, match="cannot be read as a flux table") as caught:
        load_flux_table(path)
    assert words in str(caught.value)
    assert "\n" not in str(caught.value)


def damage_hdf5(path, how):
    with h5py.File(path, "r+") as file:
        if how == "no linkage":
            del file["linkage_Wb"]
        elif how == "flat linkage":
            del file["linkage_Wb"]
            file["linkage_Wb"] = np.zeros(24)
        elif how == "group":
            del file["linkage_Wb"]
            file.create_group("linkage_Wb")
        elif how == "names as numbers":
            del file["coil"]
            file["coil"] = np.zeros(1)
        elif how == "text":
            del file["linkage_Wb"]
            file["linkage_Wb"] = "hello"


@pytest.mark.parametrize(
    "how", ["no linkage", "flat linkage", "group", "names as numbers", "text", "cut", "empty"]
)
def test_hdf5_that_is_no_flux_table(how, facing, tmp_path):
    path = tmp_path / "t.h5"
    save_flux_table(facing, path)
    if how == "cut":
        path.write_bytes(path.read_bytes()[:3000])
    elif how == "empty":
        path.write_bytes(b"")
    else:
        damage_hdf5(path, how)
    with pytest.raises(FileTroubleError, match="cannot be read as a flux table") as caught:
        load_flux_table(path)
    assert "\n" not in str(caught.value)


def replaced(name, values):
    """Return a change of an HDF5 file that puts other values in place of an array."""

    def change(file):
        del file[name]
        file[name] = values

    return change


def huge(name, shape):
    """Return a change that makes an array huge on paper; nothing of it is stored."""

    def change(file):
        del file[name]
        file.create_dataset(name, shape=shape, dtype="f8", chunks=(1,) * len(shape))

    return change


def linked_to(name, target):
    def change(file):
        del file[name]
        file[name] = h5py.SoftLink(target)

    return change


ERROR = "relative_error"


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (huge("linkage_Wb", (1, 2, 10**12)), "linkage_Wb has 2000000000000 numbers"),
        (huge("linkage_Wb", (10**6, 10**6, 24)), "linkage_Wb has shape (1000000, 1000000, 24)"),
        (huge("coil", (10**12,)), "coil must be a list of names"),
        (huge("rotor_angle_deg", (10**12,)), "rotor_angle_deg has shape (1000000000000,)"),
        (linked_to("linkage_Wb", "/linkage_Wb"), "linkage_Wb cannot be opened"),
        (linked_to("coil", "/coil"), "coil cannot be opened"),
        (linked_to(ERROR, "/nowhere"), "relative_error cannot be opened"),
        (replaced(ERROR, np.zeros(2)), "relative_error has shape (2,); it needs (1, 2)"),
        (replaced(ERROR, np.zeros((2, 1))), "relative_error has shape (2, 1); it needs (1, 2)"),
        (replaced(ERROR, 0.0), "relative_error has shape (); it needs (1, 2)"),
        (replaced(ERROR, [[0.0, math.nan]]), "relative_error is not a finite number"),
        (replaced(ERROR, [[0.0, math.inf]]), "relative_error is not a finite number"),
        (replaced(ERROR, [[0.0, -1e-9]]), "relative_error is below zero"),
        (replaced(ERROR, [[0.0, 1e-9j]]), "relative_error must be real numbers"),
        (replaced("rotor", ["upper", "upper"]), 'two rotors are called "upper"'),
        (replaced("rotor", ["a", "b", "c"]), "it needs (coils, rotors, angles)"),
        (replaced("rotor_angle_deg", np.zeros((1, 24))), "rotor_angle_deg has shape (1, 24)"),
        (replaced("rotor_angle_deg", np.zeros(24)), "equal steps from 0 over one turn"),
        (replaced("linkage_Wb", np.full((1, 2, 24), 1j)), "linkage_Wb must be real numbers"),
        (replaced("linkage_Wb", np.full((1, 2, 24), np.nan)), "a linkage is not a finite number"),
        (replaced("linkage_Wb", np.full((1, 2, 24), b"1")), "linkage_Wb"),
    ],
)  # fmt: skip
def test_hdf5_whose_arrays_do_not_fit(change, words, tmp_path):
    path = tmp_path / "t.h5"
    table = FluxTable(("c",), ("upper", "lower"), np.ones((1, 2, 24)), np.zeros((1, 2)))
    save_flux_table(table, path)
    with h5py.File(path, "r+") as file:
        change(file)
    with pytest.raises(FileTroubleError, match=r"t\.h5: cannot be read as a flux table") as caught:
        load_flux_table(path)
    assert words in str(caught.value)
    assert "\n" not in str(caught.value)


def test_hdf5_with_an_array_larger_than_any_table(tmp_path):
    path = tmp_path / "t.h5"
    table = FluxTable(("c",), ("r",), np.ones((1, 1, 24)), np.zeros((1, 1)))
    save_flux_table(table, path)
    with h5py.File(path, "r+") as file:
        huge("linkage_Wb", (1, 1, 10**12))(file)
        huge("rotor_angle_deg", (10**12,))(file)
    with pytest.raises(FileTroubleError, match="linkage_Wb has 1000000000000 numbers; at most"):
        load_flux_table(path)


def test_missing_table(tmp_path):
    with pytest.raises(FileTroubleError, match="No such file"):
        load_flux_table(tmp_path / "none.csv")
