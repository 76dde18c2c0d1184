"""The numbers of a report's tables against what the other commands compute, units and all."""

from __future__ import annotations

import csv
import json
import math
import re
from itertools import pairwise

import pytest
from machines import GEOMETRIES
from pages import number, pictures_of, tables_of, words_of

from fieldsim.cli import main

RING = str(GEOMETRIES / "lamp_ring.yaml")
GEARED = str(GEOMETRIES / "geared_pair.yaml")
SPEED = ["--crank-speed", "90 rpm"]
THREE = 6e-3  # three digits are shown: half a unit of 1.00 is 5e-3


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    place = tmp_path_factory.mktemp("report") / "out"
    assert main(["report", RING, GEARED, *SPEED, "--out", str(place)]) == 0
    return place


@pytest.fixture(scope="module")
def tables(folder):
    found = {}
    for table in tables_of(folder / "index.html"):
        found.setdefault(table.caption, []).append(table)
    return found


@pytest.fixture
def of_command(capsys):
    def call(*arguments):
        assert main([*arguments, "--json"]) == 0
        return json.loads(capsys.readouterr().out)

    return call


def assert_shown(cell, value, factor=1.0):
    """Compare a cell with a value in SI units, shown in a unit that is ``factor`` times smaller."""
    assert number(cell) == pytest.approx(value * factor, rel=THREE, abs=1e-9), cell


@pytest.mark.parametrize(("design", "file"), [(0, RING), (1, GEARED)])
def test_linkage_swings_are_in_milliwebers(design, file, tables, of_command, folder):
    table = tables["Flux linkage of every coil with every rotor"][design]
    flux = of_command("flux", file)
    shown = table.column("swing, mWb")
    for coil, rotors in flux["linkage_Wb"].items():
        for rotor, curve in rotors.items():
            swing_Wb = max(curve) - min(curve)
            assert_shown(shown[f"{coil} with {rotor}"], swing_Wb, 1e3)
            steps = [b - a for a, b in pairwise(curve)]
            steepest = max(map(abs, steps)) * len(curve) / (2 * math.pi)
            cell = table.column("steepest, mWb/rad")[f"{coil} with {rotor}"]
            assert number(cell) == pytest.approx(1e3 * steepest, rel=0.02)  # by differences
    with (folder / f"design{design + 1}_linkage.csv").open(newline="") as stream:
        for row in csv.DictReader(stream):
            assert_shown(shown[row["pair"]], float(row["swing_Wb"]), 1e3)


@pytest.mark.parametrize(("design", "file"), [(0, RING), (1, GEARED)])
def test_what_is_said_beside_the_linkage_curves_is_the_swing_too(design, file, folder, of_command):
    flux = of_command("flux", file)
    swings = [max(c) - min(c) for rotors in flux["linkage_Wb"].values() for c in rotors.values()]
    said = words_of(folder / "index.html").split("The largest swing is ")[1:]
    assert any(math.isclose(1e3 * max(swings), number(n), rel_tol=THREE) for n in said), said
    assert len(said) == 5  # two coils in all, and one sum a design
    assert all(part.split(maxsplit=2)[1].startswith("mWb") for part in said)


@pytest.mark.parametrize(("design", "file"), [(0, RING), (1, GEARED)])
def test_voltages(design, file, tables, of_command):
    table = tables["EMF with nothing connected"][design]
    for coil, figures in of_command("emf", file, *SPEED)["coils"].items():
        assert_shown(table.column("peak, V")[coil], figures["peak_V"])
        assert_shown(table.column("RMS, V")[coil], figures["rms_V"])
        assert_shown(table.column("rectified mean, V")[coil], figures["rectified_mean_V"])
        assert_shown(table.column("frequency, Hz")[coil], figures["frequency_Hz"])
        form = figures["rms_V"] / figures["rectified_mean_V"]
        assert_shown(table.column("form factor")[coil], form)


@pytest.mark.parametrize(("design", "file"), [(0, RING), (1, GEARED)])
def test_lamps_are_in_milliamperes_and_flicker(design, file, tables, of_command):
    table = tables["Lamps, each of them"][design]
    (lamp,) = of_command("light", file, *SPEED)["lamps"]
    (name,) = table.column("lights")
    assert name == f"{lamp['count']} × {lamp['label']}"
    assert table.column("lights")[name] == "yes"
    assert_shown(table.column("average mA")[name], lamp["average_current_A"], 1e3)
    assert_shown(table.column("peak mA")[name], lamp["peak_current_A"], 1e3)
    assert_shown(table.column("seen from mA")[name], lamp["visible_current_A"], 1e3)
    assert_shown(table.column("rated mA")[name], lamp["rated_current_A"], 1e3)
    assert_shown(table.column("flicker Hz")[name], lamp["flicker_Hz"])
    assert number(table.column("depth")[name]) == pytest.approx(lamp["flicker_percent"], abs=0.6)


@pytest.mark.parametrize(("design", "file"), [(0, RING), (1, GEARED)])
def test_the_lowest_speed_at_which_lamps_light(design, file, folder, of_command):
    (lamp,) = of_command("match", file, *SPEED)["lamps"]
    rpm = lamp["lowest_crank_speed_rad_per_s"] * 30 / math.pi
    said = re.findall(r"lights from ([\d.]+)\xa0rpm of the crank", words_of(folder / "index.html"))
    assert number(said[design]) == pytest.approx(rpm, rel=THREE)


@pytest.mark.parametrize(("design", "file"), [(0, RING), (1, GEARED)])
def test_coils_with_the_load_on(design, file, tables, of_command):
    table = tables["Coils with the load on"][design]
    for name, coil in of_command("light", file, *SPEED)["coils"].items():
        assert_shown(table.column("RMS mA")[name], coil["rms_current_A"], 1e3)
        assert_shown(table.column("wire bears mA")[name], coil["recommended_current_A"], 1e3)
        assert_shown(table.column("heat mW")[name], coil["heat_W"], 1e3)
        assert_shown(table.column("warmer than air K")[name], coil["temperature_rise_K"])
        assert_shown(table.column("warm ohm")[name], coil["resistance_ohm"])


def test_the_coils_power_adds_up(tables):
    shown = {
        row: number(cell)
        for row, cell in tables["Where the coils' power goes"][1].column("mW").items()
    }
    parts = [mW for row, mW in shown.items() if row not in ("from the magnets", "useful")]
    assert sum(parts) == pytest.approx(shown["from the magnets"], rel=THREE)


def test_rotors_rest_angles_and_glue(tables, folder, of_command):
    (_, table) = tables["Rotors, and the glue under the magnet that leaves first"]
    effort = of_command("effort", GEARED, *SPEED)
    for name, rotor in effort["rotors"].items():
        rpm = rotor["speed_rad_per_s"] * 30 / math.pi
        assert_shown(table.column("rpm")[name], rpm)
        assert_shown(table.column("gears %")[name], rotor["gear_efficiency"], 100)
        assert_shown(table.column("coils mN m")[name], rotor["average_coil_torque_Nm"], 1e3)
        assert_shown(table.column("magnets mN m")[name], rotor["peak_magnet_torque_Nm"], 1e3)
        assert_shown(table.column("margin")[name], rotor["speed_margin"])
        leaves = rotor["leaves_at_rad_per_s"] * 30 / math.pi
        assert_shown(table.column("leaves at rpm")[name], leaves)
    with (folder / "design2_rotors.csv").open(newline="") as stream:
        for row in csv.DictReader(stream):
            for key in ("speed_margin", "glue_load", "average_coil_torque_Nm"):
                assert float(row[key]) == pytest.approx(effort["rotors"][row["rotor"]][key])
    with (folder / "design1_rotors.csv").open(newline="") as stream:
        assert all(row["speed_margin"] == "" for row in csv.DictReader(stream))  # no glue is given
    words = words_of(folder / "index.html").replace("\xa0", " ")
    (pair,) = effort["pairs"]
    assert f"upper and lower pull together with up to {pair['peak_pull_N']:.3g} N" in words
    step = math.degrees(effort["rest"]["stable_crank_rad"][1])
    assert f"The magnets want the crank to rest every {step:.4g} deg of its turn" in words


@pytest.mark.parametrize(("design", "file"), [(0, RING), (1, GEARED)])
def test_gauges(design, file, folder, of_command):
    wire = "29..35"  # three on each side of its own AWG 32
    study = of_command("wind", file, "--gauges", wire, *SPEED)["gauges"]
    page = tables_of(folder / "index.html")
    table = [t for t in page if t.caption.startswith("Each gauge filling")][design]
    assert [row[0] for row in table.rows] == [
        " ".join(r["wire"].split()[:2]) for r in study["rows"]
    ]
    for row, of in zip(table.rows, study["rows"], strict=True):
        cells = dict(zip(table.header, row, strict=True))
        assert_shown(cells["ohm"], of["resistance_ohm"])
        assert_shown(cells["open RMS V"], of["open_circuit_rms_V"])
        assert_shown(cells["lamp mA"], of["lamp_current_average_A"], 1e3)
        assert_shown(cells["load mW"], of["load_power_W"], 1e3)


def test_meters(tables, of_command):
    (table, *_) = tables["What a meter of 10 MΩ shows"]
    names = {"DC, V": "dc_V", "AC averaging, V": "average_responding_V"}
    names |= {"AC true RMS, V": "true_rms_V", "peak hold, V": "peak_hold_most_V"}
    for reading in of_command("light", RING, *SPEED)["meters"]:
        place = f"{reading['where']}, load {'on' if reading['loaded'] else 'off'}"
        for column, key in names.items():
            shown = number(table.column(column)[place])
            # What a display of a tenth of a millivolt shows as nothing is nothing.
            assert shown == pytest.approx(reading[key], rel=THREE, abs=6e-5)


def test_the_hand(tables, of_command):
    table = tables["What the hand gives"][1]
    crank = of_command("effort", GEARED, *SPEED)["crank"]
    rows = {"average": "average", "most": "peak", "most, turned slowly": "slow_peak"}
    for row, key in rows.items():
        assert_shown(table.column("torque, N m")[row], crank[f"{key}_torque_Nm"])
        arm = f"force on the {1e3 * crank['arm_m']:.4g} mm arm, N"
        assert_shown(table.column(arm)[row], crank[f"{key}_force_N"])
    assert_shown(table.column("torque, N m")["least"], crank["least_torque_Nm"])


@pytest.mark.parametrize(("design", "file"), [(0, RING), (1, GEARED)])
def test_power_is_in_milliwatts_and_adds_up(design, file, tables, of_command):
    table = tables["Where the hand's power goes"][design]
    power = of_command("effort", file, *SPEED)["power"]
    shown = table.column("mW")
    for row, key in {
        "useful in the load": "useful_W", "heat in the wire": "wire_heat_W",
        "friction": "friction_W", "gear meshes": "gears_W", "all: the hand": "hand_W",
    }.items():  # fmt: skip
        if file == RING and key in ("friction_W", "gears_W"):  # the file says nothing of them
            assert (shown[row], table.column("share")[row]) == ("left out", "–")
            continue
        assert_shown(shown[row], power[key], 1e3)
        share = number(table.column("share")[row])
        assert share == pytest.approx(100 * power[key] / power["hand_W"], abs=0.06)
    parts = [
        number(cell) for row, cell in shown.items() if row != "all: the hand" and cell != "left out"
    ]
    assert sum(parts) == pytest.approx(number(shown["all: the hand"]), rel=THREE)


def test_windings(tables, of_command):
    table = tables["Windings"][0]
    wound = of_command("wind", RING)["coils"]["pickup"]
    assert table.column("turns")["pickup"] == f"{wound['turns']:.0f}"
    for column, key, factor, unit in (
        ("length", "wire_length_m", 1, " m"),
        ("mass", "mass_kg", 1e3, " g"),
        ("resistance", "resistance_ohm", 1, " Ω"),
        ("inductance", "inductance_H", 1e3, " mH"),
    ):
        cell = table.column(column)["pickup"]
        assert_shown(cell, wound[key], factor)
        assert cell.replace("\N{NO-BREAK SPACE}", " ").endswith(unit)


def test_clearances_are_in_millimetres(tables, of_command):
    table = tables["Clearances over a whole turn"][1]
    shown = table.column("mm")
    found = of_command("check", GEARED)["clearances"]
    for row in found:
        (cell,) = (c for name, c in shown.items() if row["first"] in name and row["second"] in name)
        assert_shown(cell, row["distance_m"], 1e3)


def test_every_picture_has_words_that_name_its_unit(folder):
    said = [
        svg.split('aria-label="')[1].split('"')[0] for svg in pictures_of(folder / "index.html")
    ]
    assert len(said) > 15
    for words in said:
        assert len(words) > 20


def test_at_a_wild_speed_every_danger_is_said_once(tmp_path):
    """Coils that overheat and open ends that bite are known to two commands, told by one."""
    assert main(["report", RING, "--crank-speed", "500 rpm", "--out", str(tmp_path / "out")]) == 0
    lines = words_of(tmp_path / "out" / "index.html").splitlines()
    last = max(i for i, line in enumerate(lines) if line == "Cautions")
    said = lines[last + 1 : lines.index("What helps most", last)]
    said = [line.replace("\xa0", " ") for line in said]
    assert len(said) == 9
    dangers = ["500 rpm is above", "wear eye protection", "105 °C", "An open coil reaches 55.6 V"]
    dangers += ["8 magnets", "above its rated 20 mA", "231 mA RMS"]
    for words in [*dangers, "above its rated 25 V", "Estimates for a hobby bench"]:
        assert sum(words in line for line in said) == 1, words


def test_iron_is_in_the_legend_and_in_the_model(tmp_path):
    iron, none = (
        words_of_report(GEOMETRIES / f"{name}.yaml", tmp_path / name)
        for name in ("bolt_beside_magnets", "one_rotor")
    )
    assert "Iron" in iron.splitlines()
    assert "Core of coil pickup: rod, diameter 8 mm" in iron
    assert "in free space, and iron of constant permeability; windings" in iron
    assert "no current in the coil, iron left out." in iron
    assert "Iron" not in none.splitlines()
    assert "in free space, no iron; windings" in none
    assert "no current in the coil." in none


def words_of_report(file, place):
    assert main(["report", str(file), *SPEED, "--out", str(place)]) == 0
    return words_of(place / "index.html")


@pytest.mark.parametrize("command", ["emf", "light", "effort"])
def test_how_sure_an_answer_is_stands_beside_it_as_on_the_screen(command, folder, capsys):
    assert main([command, RING, *SPEED]) == 0
    screen = " ".join(capsys.readouterr().out.split())
    said = re.findall(r"(?:pickup|white LED|average torque): [^;(]*? in nine of ten[^(]*", screen)
    words = words_of(folder / "index.html")
    assert said
    for each in said:
        # two seeds of the search may differ in the last digit, so names and the cause count
        name, cause = each.split(":")[0], each.rsplit("mostly from", 1)[-1].strip()
        assert re.search(rf"{name}: \S+\s[^;]*? in nine of ten machines built like this", words)
        assert cause in words
