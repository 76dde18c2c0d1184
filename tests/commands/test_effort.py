"""The ``effort`` command: screen, JSON, tables, pictures, and machines that cannot be turned."""

from __future__ import annotations

import csv
import json
import math

import numpy as np
import pytest

from fieldsim.words.numbers import number

SPEED = ("--crank-speed", "90 rpm")


@pytest.fixture
def geared(geometries) -> str:
    """Return the text of the shipped geared machine."""
    return (geometries / "geared_pair.yaml").read_text(encoding="utf-8")


@pytest.fixture
def written(tmp_path):
    """Return a function that writes a geometry and gives its path."""

    def write(text: str):
        path = tmp_path / "machine.yaml"
        path.write_text(text, encoding="utf-8")
        return path

    return write


def replaced(text: str, *pairs: tuple[str, str]) -> str:
    for old, new in pairs:
        assert old in text
        text = text.replace(old, new)
    return text


def test_screen(run, geometries, tmp_path, monkeypatch):
    """One screen, with every part of the answer, and the files beside it."""
    monkeypatch.setenv("COLUMNS", "120")
    table, picture = tmp_path / "effort.csv", tmp_path / "effort.svg"
    outcome = run("effort", geometries / "geared_pair.yaml", *SPEED, "--out", table, "--plot",
                  picture)  # fmt: skip
    assert (outcome.code, outcome.err) == (0, "")
    lines = outcome.out.splitlines()
    assert len(lines) < 45
    assert max(map(len, lines)) <= 120
    for words in (
        "A geared pair of facing rotors: crank at 90 rpm",
        "A hand keeps up 60 to 120 rpm (common practice)",
        "force N on an arm of 80 mm",
        "useful in the load",
        "lost in the load",
        "gear meshes",
        "How far to trust this",
        "upper   +1080",
        "lower   -1080",
        "pull together with up to",
        "bend them with",
        "at assembly pull with",
        "The magnets want the crank to rest every 15 deg",
        "the largest open voltage is",
        "might swallow one and away from pacemakers",
        "licensed",
    ):
        assert words in " ".join(outcome.out.split()) or words in outcome.out
    cautions = [line.split(":")[0] for line in lines if line.startswith("Caution: ")]
    texts = [line for line in lines if line.startswith("Caution: ")]
    assert len(cautions) == len(texts) == len(set(texts))
    assert picture.read_text(encoding="utf-8").lstrip().startswith("<?xml")
    with table.open(encoding="utf-8") as stream:
        rows = list(csv.DictReader(stream))
    assert list(rows[0]) == [
        "crank_angle_deg",
        "crank_torque_Nm",
        "slow_crank_torque_Nm",
        "crank_torque_for_coils_Nm",
        "crank_torque_for_magnets_Nm",
        "coil_torque_Nm[upper]",
        "coil_torque_Nm[lower]",
        "magnet_torque_Nm[upper]",
        "magnet_torque_Nm[lower]",
    ]
    # Both rotors make 12 turns a crank turn: all repeats after 30 degrees.
    angle = np.array([float(row["crank_angle_deg"]) for row in rows])
    assert angle[0] == 0.0
    assert angle[-1] + angle[1] == pytest.approx(30.0)


def test_json(run, geometries, tmp_path):
    table = tmp_path / "effort.h5"
    outcome = run("effort", geometries / "geared_pair.yaml", *SPEED, "--json", "--out", table)
    assert (outcome.code, outcome.err) == (0, "")
    answer = json.loads(outcome.out)
    crank, power = answer["crank"], answer["power"]
    assert answer["crank_speed_rad_per_s"] == pytest.approx(3 * math.pi)
    assert power["hand_W"] == pytest.approx(crank["average_torque_Nm"] * 3 * math.pi)
    assert crank["average_force_N"] == pytest.approx(crank["average_torque_Nm"] / 0.08)
    assert abs(power["relative_imbalance"]) < 1e-4
    parts = power["load_W"] + power["wire_heat_W"] + power["friction_W"] + power["gears_W"]
    assert parts == pytest.approx(power["hand_W"], rel=1e-4)
    # A hand turns it: within its stated force at a speed that it keeps up.
    assert crank["peak_force_N"] < crank["hand_force_N"] == 60.0
    upper = answer["rotors"]["upper"]
    assert upper["gear_ratio"] == 12.0
    assert answer["rotors"]["lower"]["gear_ratio"] == -12.0
    # 7.5 g on 25 mm at 1080 rpm: m w^2 r.
    assert upper["centrifugal_N"] == pytest.approx(0.0075 * 0.025 * (36 * math.pi) ** 2)
    assert upper["speed_margin"] > 4
    (pair,) = answer["pairs"]
    assert pair["rotors"] == ["upper", "lower"]
    assert pair["peak_pull_N"] > 1
    assert pair["assembly"]["distance_m"][0] == 0.0
    assert answer["rest"]["torque_to_pass_Nm"] > answer["rest"]["friction_holds_Nm"]
    xarray = pytest.importorskip("xarray")
    with xarray.open_dataset(table, engine="h5netcdf") as data:
        assert data["magnet_torque_Nm"].dims == ("rotor", "crank_angle_deg")
        assert data["crank_torque_Nm"].attrs["units"] == "N m"
        assert float(data["crank_torque_Nm"].mean()) == pytest.approx(crank["average_torque_Nm"])


def test_a_file_that_leaves_out_all_it_can(run, geometries, tmp_path):
    """No wire, no load, no crank, no glue: said, not guessed."""
    outcome = run("effort", geometries / "two_facing_rotors.yaml", "--plot", tmp_path / "a.png")
    assert outcome.code == 0
    assert "No current is reckoned with, as no coil has wire" in outcome.out
    assert "no glue given" in outcome.out
    assert "on an arm" not in outcome.out
    answer = json.loads(run("effort", geometries / "two_facing_rotors.yaml", "--json").out)
    assert answer["open_because"] == "no coil has wire"
    assert answer["crank"]["peak_force_N"] is None
    assert answer["crank"]["ripple"] is None
    assert answer["rotors"]["upper"]["leaves_at_rad_per_s"] is None


def test_single_rotor_rests_anywhere(run, geometries):
    assert "No magnets hold the crank" in run("effort", geometries / "one_rotor.yaml").out


def test_a_bolt_holds_the_magnets(run, geometries):
    """The nearest of four magnets wants to stand before it: every quarter turn of the rotor."""
    bolt = geometries / "bolt_beside_magnets.yaml"
    outcome = run("effort", bolt)
    assert (outcome.code, outcome.err) == (0, "")
    said = " ".join(outcome.out.split())
    assert "rest every 15 deg of its turn, first at 0 deg" in said
    answer = json.loads(run("effort", bolt, "--json").out)
    load, assembly = answer["rotors"]["wheel"]["shaft_load"], answer["assembly"]["wheel"]
    assert (
        "From all others and iron together the shaft bears up to: of wheel "
        f"{number(load['axial_N'])} N along it, {number(load['transverse_N'])} N across" in said
    )
    assert (
        f"At assembly magnets and iron pull wheel with {number(assembly['in_place_N'])} N in "
        f"place, {number(assembly['away_N'])} N from 10 mm away" in said
    )
    assert assembly["in_place_N"] == pytest.approx(load["axial_N"], rel=0.02)
    assert 0 < assembly["away_N"] < 0.2 * assembly["in_place_N"]
    iron, rotor = answer["iron"]["wheel"], answer["rotors"]["wheel"]
    assert iron["peak_torque_Nm"] == rotor["peak_magnet_torque_Nm"] > 0.03
    assert 0 < iron["error_Nm"] < 0.005 * iron["peak_torque_Nm"]
    assert answer["rest"]["torque_to_pass_Nm"] == pytest.approx(6 * iron["peak_torque_Nm"], 1e-2)
    assert abs(answer["power"]["relative_imbalance"]) < 1e-4
    assert any("hysteresis" in note for note in answer["notes"])


def test_iron_that_is_not_magnetic_holds_nothing(run, geometries):
    bare = ["--set", "coils.pickup.core.material={permeability: 1}"]
    outcome = run("effort", geometries / "bolt_beside_magnets.yaml", *bare)
    assert "No magnets hold the crank" in outcome.out


def test_cautions_of_a_strong_fast_machine(run, written, geared):
    """Big magnets, weak glue, a fast crank, many turns: each caution once, with its number."""
    text = replaced(
        geared,
        ("size: [20 mm, 10 mm, 5 mm]", "size: [25 mm, 25 mm, 8 mm]"),
        ("height: 10.5 mm", "height: 12 mm"),
        ("height: -10.5 mm", "height: -12 mm"),
        ("shear_strength: 5 MPa", "shear_strength: 0.3 MPa"),
        ("peel_strength: 1 MPa", "peel_strength: 0.3 MPa"),
    )
    outcome = run("effort", written(text), "--crank-speed", "200 rpm")
    assert outcome.code == 0
    for kind in ("Pinch: rotors upper and lower pull", "Flying magnets: at 2400 rpm",
                 "Crank: 200 rpm is above", "An open coil reaches", "4 magnets, the strongest",
                 "Coil "):  # fmt: skip
        assert outcome.out.count(f"Caution: {kind}") == 1, kind
    assert max(map(len, outcome.out.splitlines())) <= 120


BIG = "hand: {teeth: 60, on: crank}"

# What a case replaces in geometries/geared_pair.yaml, and the words that its one line must hold.
BAD = {
    "no teeth": ((BIG, BIG.replace("60", "0")), "wheels.hand.teeth: a wheel cannot have 0 teeth"),
    "half a tooth": (
        (BIG, BIG.replace("60", "59.5")), "wheels.hand.teeth: a wheel cannot have 59.5 teeth"
    ),
    "teeth below zero": ((BIG, BIG.replace("60", "-60")), "a wheel cannot have -60 teeth"),
    "teeth in words": ((BIG, BIG.replace("60", "many")), '"many" is not a number of teeth'),
    "contradicting ratio": (
        ("  upper:\n", "  upper:\n    gear_ratio: -12\n"),
        "rotors.upper.gear_ratio: is -12, but the gears make it 12 (2 meshes)",
    ),
    "loop of wheels": (
        (BIG, "hand: {teeth: 60, driven_by: pinion}"), "hang on each other in a loop"
    ),
    "peel strength missing": (
        (", peel_strength: 1 MPa", ""),
        'magnet "bar" loads its glue in peel, but adhesive.peel_strength is not given',
    ),
    "shear strength missing": (
        ("shear_strength: 5 MPa, ", ""),
        'magnet "bar" loads its glue in shear, but adhesive.shear_strength is not given',
    ),
    "friction beyond the hand": (
        ("crank: 10 mN*m", "crank: 6 N*m"),
        "on a crank arm of 80 mm, at any speed; the hand gives 60 N",
    ),
    "friction beyond the hand, over the gears": (
        ("each_rotor: 1 mN*m", "each_rotor: 250 mN*m"), "friction alone asks for"
    ),
    "negative friction": (("crank: 10 mN*m", "crank: -1 mN*m"), "friction.crank"),
}  # fmt: skip


@pytest.mark.parametrize("name", BAD)
def test_one_line(name, refused, written, geared, tmp_path):
    change, words = BAD[name]
    message = refused("effort", written(replaced(geared, change)), "--out", tmp_path / "a.csv")
    assert words in message
    assert not (tmp_path / "a.csv").exists()


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--crank-speed", "0 rpm"), "the speed must not be zero"),
        (("--crank-speed", "90"), "has no unit"),
        (("--rotor-speed", "90 rpm"), "No such option '--rotor-speed'"),
        (("--tolerance", "2"), "tolerance 2 is out of range"),
        (("--out", "a.txt"), ".txt"),
        (("--plot", "a.csv"), ".csv"),
    ],
)
def test_wrong_options(arguments, words, refused, geometries):
    assert words in refused("effort", geometries / "geared_pair.yaml", *arguments)
