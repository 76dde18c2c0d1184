"""``parameters``, ``keys``, ``vary`` and ``--set``: what is printed, and what is refused."""

import csv
import json

import matplotlib.pyplot as plt
import numpy as np
import pytest
from machines import GEOMETRIES

import fieldsim as fs
from fieldsim.charts.vary_curves import draw_vary_map, save_vary_plot
from fieldsim.cli import main

RING = str(GEOMETRIES / "lamp_ring.yaml")
ONE = str(GEOMETRIES / "one_rotor.yaml")
TWO = str(GEOMETRIES / "two_coils.yaml")
GEARED = str(GEOMETRIES / "geared_pair.yaml")


@pytest.fixture
def answer(capsys):
    def run(*arguments):
        code = main(list(arguments))
        shown = capsys.readouterr()
        return code, shown.out, shown.err

    return run


def told(answer, *arguments):
    code, out, err = answer(*arguments)
    assert (code, err) == (0, "")
    return out


def refused(answer, *arguments):
    code, out, err = answer(*arguments)
    assert (code, out) == (2, "")
    assert err.startswith("fieldsim: ")
    assert err.count("\n") == 1
    return err


def test_parameters_are_those_of_the_library(answer):
    listed = json.loads(told(answer, "parameters", RING, "--json"))["parameters"]
    own = fs.parameters(fs.read(RING))
    assert [p["path"] for p in listed] == [p.path for p in own]
    gauge = next(p for p in listed if p["path"] == "coils.pickup.wire.gauge")
    assert (gauge["value"], gauge["unit"], gauge["least"], gauge["most"]) == (32, "AWG", 10, 46)
    fill = next(p for p in listed if p["path"] == "coils.pickup.wire.fill")
    assert fill["least"] is fill["step"] is None
    text = told(answer, "parameters", RING, "--under", "load.lamps")
    assert ["load.lamps.parallel", "=", "6,"] in [line.split()[:3] for line in text.splitlines()]
    assert "magnets.bar" not in text


def test_set_is_what_changed_gives(answer):
    text = told(answer, "emf", RING, "--set", "clearance=3 mm", "--set",
                "magnets.bar.remanence=1.3 T", "--json")  # fmt: skip
    machine = fs.read(RING).changed({"clearance": "3 mm", "magnets.bar.remanence": "1.3 T"})
    figures = fs.OperatingPoint(machine).figures["pickup"]
    assert json.loads(text)["coils"]["pickup"]["rms_V"] == figures.rms_V


def test_set_works_on_every_file_of_compare(answer):
    text = told(answer, "compare", ONE, RING, "--set", "magnets.bar.remanence=1 T", "--json")
    for design, file in zip(json.loads(text)["designs"], (ONE, RING), strict=True):
        machine = fs.read(file).changed({"magnets.bar.remanence": 1.0})
        figures = fs.OperatingPoint(machine).figures["pickup"]
        assert design["coils"]["pickup"]["peak_V"] == figures.peak_V


def test_set_takes_what_the_file_leaves_out(answer):
    arm = json.loads(told(answer, "effort", RING, "--set", "crank.arm=80 mm", "--json"))["crank"]
    assert arm["arm_m"] == 0.08


def test_set_takes_lists_and_keys_in_brackets(answer):
    swapped = told(answer, "emf", TWO, "--set", "connections.pair.series=[left, -right]")
    assert "pair: its coils work against each other: 0 V RMS as joined" in swapped
    assert 'with the ends of "left" swapped' in " ".join(swapped.split())
    assert "against each other" not in told(answer, "emf", TWO)
    raised = told(answer, "emf", ONE, "--set", "coils.pickup.centre=[0 mm, 26 mm, -1 mm]", "--json")
    machine = fs.read(ONE).changed({"coils.pickup.centre": ["0 mm", "26 mm", "-1 mm"]})
    figures = fs.OperatingPoint(machine).figures["pickup"]
    assert json.loads(raised)["coils"]["pickup"]["rms_V"] == figures.rms_V
    wound = told(answer, "wind", ONE, "--set", "coils.pickup.wire={gauge: AWG 36}")
    assert "AWG 36" in wound


@pytest.mark.parametrize(
    ("setting", "words"),
    [
        ("coils.pickup.centre=[0 mm, 26 mm", "check that brackets are closed"),
        ("coils.pickup.centre=[0 mm, 26 mm]", "has 2 entries; it needs 3"),
        ("coils.pickup.wire.gage=AWG 30", 'did you mean "coils.pickup.wire.gauge"?'),
        ("coils.pickup.wire.gauge=AWG 99", "coils.pickup.wire.gauge: AWG 99 is out of range"),
        ("coils.pickup.wire.gauge", "is not PATH=VALUE"),
        ("coils.other.turns=9", 'no coil is called "other"; there are: pickup'),
        ("rotors.upper.magnets[4].radius=1 mm", "has 1 entry, counted from [0]"),
        ("magnets.bar.remanence=none", "is needed and cannot be left out"),
        ("rotors.upper.magnets[0].height=3 mm", 'rotor "upper" runs into coil "pickup"'),
        ("clearance=0 mm", "allowed: 0.001 mm to 1 m"),
    ],
)
def test_bad_settings_are_one_line(answer, setting, words):
    assert words in refused(answer, "emf", RING, "--set", setting)


def test_a_geared_ratio_names_its_wheels(answer):
    said = refused(answer, "emf", GEARED, "--set", "rotors.upper.gear_ratio=3")
    for wheel in ("left", "spread", "pinion", "hand"):
        assert f"gears.wheels.{wheel}.teeth" in said


def test_keys_prints_the_section_that_one_needs(answer):
    text = told(answer, "keys", "coils.wire")
    assert (
        "gauge: size of the copper\n    AWG 10 to AWG 46, SWG 13 to SWG 48, or 0.039 to 2.6 mm; "
        "default: needed" in text
    )
    keys = json.loads(told(answer, "keys", "crank", "--json"))["keys"]
    assert [key["key"] for key in keys] == ["arm", "hand_force"]
    assert keys[1]["default"] == "60 N"
    assert 'did you mean "coils.wire"?' in refused(answer, "keys", "coil.wire")


def test_vary_gives_the_figures_of_light_and_emf(answer):
    text = told(answer, "vary", RING, "coils.pickup.wire.gauge", "--values", "31..33", "--json",
                "--crank-speed", "90 rpm")  # fmt: skip
    found = json.loads(text)
    assert found["paths"] == ["coils.pickup.wire.gauge"]
    assert [row["values"] for row in found["rows"]] == [
        {"coils.pickup.wire.gauge": gauge} for gauge in (31, 32, 33)
    ]
    own = ("--crank-speed", "90 rpm", "--json")
    light = json.loads(told(answer, "light", RING, *own))
    emf = json.loads(told(answer, "emf", RING, "--tolerance", "1e-5", *own))
    row = found["rows"][1]
    for name, figure in emf["coils"]["pickup"].items():
        assert row["coils"]["pickup"][name] == pytest.approx(figure, rel=1e-9)
    for name, figure in light["lamps"][0].items():
        if isinstance(figure, float):
            assert row["lamps"][0][name] == pytest.approx(figure, rel=1e-3)
    assert row["useful_power_W"] == pytest.approx(light["useful_power_W"], rel=1e-4)


def test_vary_prints_a_row_a_value_and_the_design(answer):
    text = told(
        answer, "vary", RING, "clearance", "--values", "1 mm..3 mm", "--crank-speed", "90 rpm"
    )
    lines = text.splitlines()
    assert lines[0] == "Two facing rotors light a ring of lamps: crank at 90 rpm"
    rows = [line.split() for line in lines if line.startswith(("1 mm", "2 mm", "3 mm"))]
    ring = fs.read(RING)
    for row, clearance in zip(rows, ("1 mm", "2 mm", "3 mm"), strict=True):
        figures = fs.OperatingPoint(ring.changed({"clearance": clearance}), "90 rpm").figures
        assert row[:3] == [*clearance.split(), f"{figures['pickup'].rms_V:.3f}"]
    assert "6 of 6" in text
    assert "The design itself: clearance = 2 mm." in lines


def test_vary_writes_tables_by_name(answer, tmp_path):
    xarray = pytest.importorskip("xarray")
    file, sheet = tmp_path / "map.h5", tmp_path / "map.csv"
    paths = ("vary", RING, "clearance", "load.lamps.parallel", "--values", "1 mm, 2 mm, 3 mm",
             "--values", "4, 6")  # fmt: skip
    told(answer, *paths, "--out", str(file))
    told(answer, *paths, "--out", str(sheet))
    with xarray.open_dataset(file, engine="h5netcdf") as data:
        assert dict(data.sizes) == {"clearance_m": 3, "load.lamps.parallel": 2, "coil": 1}
        assert data["clearance_m"].values == pytest.approx([1e-3, 2e-3, 3e-3])
        lamp = data["lamp_current_average_A"]
        assert lamp.attrs["units"] == "A"
        assert float(lamp[1, 1]) > 0.01
        assert float(lamp[1, 0]) > float(lamp[1, 1])  # fewer lamps share the same current
        rows = list(csv.DictReader(sheet.read_text(encoding="utf-8").splitlines()))
        assert float(rows[1]["lamp_current_average_A[6.0]"]) == float(lamp[1, 1])


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("coils.pickup.turn", "--values", "9"), 'did you mean "coils.pickup.length"?'),
        (("clearance", "--values", "3 mm..1 mm"), "runs backwards"),
        (("coils.pickup.turns", "--values", "a..b"), "no range"),
        (("clearance", "--values", "1 mm, 2 V"), 'clearance: "2 V" is not a length'),
        (("clearance", "--values", "1 mm", "--values", "2 mm"), "1 paths and 2 lists"),
        (("rotors.upper.magnets[0].height", "--values", "3 mm"), "height = 3 mm: rotor"),
        (("crank_speed", "--values", "0 rpm"), "above zero"),
        (("clearance", "--values", " "), "there are no values"),
    ],
)
def test_bad_variations_are_one_line(answer, arguments, words):
    said = refused(answer, "vary", RING, *arguments)
    assert words in said or "no parameter" in said


def test_curves_show_the_rows(tmp_path):
    point = fs.OperatingPoint(fs.read(RING), "90 rpm", tolerance=1e-4)
    study = fs.vary(point, {"clearance": ["3 mm", "1 mm", "2 mm"]})
    save_vary_plot(study, point.speed, tmp_path / "curves.svg")
    assert (tmp_path / "curves.svg").stat().st_size > 5000

    from fieldsim.charts.vary_curves import draw_vary_panel

    axes = plt.figure().add_subplot()
    volts = {"pickup": np.array([row.coils["pickup"].rms_V for row in study.rows])}
    draw_vary_panel(axes, study, "open RMS voltage", "V", volts)
    (line,) = axes.get_lines()
    assert line.get_xdata() == pytest.approx([1, 2, 3])
    assert line.get_ydata() == pytest.approx(volts["pickup"][[1, 2, 0]])
    assert axes.get_xlabel() == "clearance (mm)"
    assert axes.get_ylabel() == "open RMS voltage (V)"
    plt.close("all")


def test_a_map_shows_lamp_current_by_place():
    point = fs.OperatingPoint(fs.read(RING), "90 rpm", tolerance=1e-4)
    study = fs.vary(point, {"clearance": ["1 mm", "3 mm"], "load.rectifier": ["bridge", "single"]})
    axes = plt.figure().add_subplot()
    draw_vary_map(axes, study)
    (cells,) = [c for c in axes.collections if c.get_array() is not None]
    shown = np.asarray(cells.get_array()).reshape(2, 2)
    milliamperes = [1e3 * row.brightest_lamp_A for row in study.rows]
    assert shown == pytest.approx(np.reshape(milliamperes, (2, 2)).T)
    assert axes.get_xlabel() == "clearance (mm)"
    assert axes.get_ylabel() == "load.rectifier"
    assert [t.get_text() for t in axes.get_yticklabels()] == ["bridge", "single"]
    assert axes.figure.axes[1].get_ylabel() == "lamp current (mA)"
    plt.close("all")
