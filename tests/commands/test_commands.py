"""Commands on shipped geometries: the layouts that others rely on, and text that people read."""

from __future__ import annotations

import csv
import json
import math
import re
import unicodedata

import pytest

FIGURES = {"peak_V", "rms_V", "rectified_mean_V", "frequency_Hz", "peak_to_peak_linkage_Wb"}
LOOSE = ["--tolerance", "1e-3"]


@pytest.fixture
def result(run):
    """Return a function that runs a command with ``--json`` and gives its one object."""

    def call(*arguments):
        outcome = run(*arguments, "--json")
        assert outcome.code == 0, outcome
        assert outcome.err == ""
        assert outcome.out.count("\n") == 1
        assert outcome.out.isascii()  # any terminal, pipe or file can hold it
        return json.loads(outcome.out, parse_constant=pytest.fail)

    return call


def check_figures(figures) -> None:
    assert set(figures) == FIGURES
    assert all(isinstance(v, float) and math.isfinite(v) for v in figures.values())
    assert figures["peak_V"] >= figures["rms_V"] >= figures["rectified_mean_V"] > 0


def test_flux_layout(result, geometries):
    found = result("flux", geometries / "two_facing_rotors.yaml", "--angles", 24, *LOOSE)
    assert found["rotor_angle_deg"] == [15.0 * i for i in range(24)]
    assert list(found["linkage_Wb"]) == ["pickup"]
    assert list(found["linkage_Wb"]["pickup"]) == ["upper", "lower"]
    assert all(len(curve) == 24 for curve in found["linkage_Wb"]["pickup"].values())
    assert 0 < found["relative_error"] <= 1e-3


def test_flux_lists_360_angles_by_itself(result, geometries):
    found = result("flux", geometries / "one_rotor.yaml", *LOOSE)
    assert found["rotor_angle_deg"] == list(range(360))


def test_flux_table_and_object_agree(run, result, geometries, tmp_path):
    where = [geometries / "two_facing_rotors.yaml", "--angles", 12, *LOOSE]
    found = result("flux", *where)
    run("flux", *where, "--out", tmp_path / "t.csv")
    with (tmp_path / "t.csv").open(newline="") as stream:
        columns = list(zip(*csv.reader(stream), strict=True))
    assert columns[0][0] == "rotor_angle_deg"
    for rotor, column in zip(("upper", "lower"), columns[1:], strict=True):
        assert column[0] == f"linkage_Wb[pickup,{rotor}]"
        assert [float(v) for v in column[1:]] == found["linkage_Wb"]["pickup"][rotor]


def test_emf_with_saturation(result, geometries):
    bolt = geometries / "bolt_beside_magnets.yaml"
    thin = [bolt, "--set", "coils.pickup.core.diameter=3 mm", "--exact", *LOOSE]
    found, linear = result("emf", *thin, "--saturation"), result("emf", *thin)
    told = found.pop("saturation")
    assert found == linear
    check_figures(told["coils"]["pickup"])
    (change,) = told["changes"].values()
    for name, key in (("peak_V", "peak_share"), ("rms_V", "rms_share"),
                      ("peak_to_peak_linkage_Wb", "swing_share")):  # fmt: skip
        now, before = (each["coils"]["pickup"][name] for each in (told, linear))
        assert change[key] == pytest.approx(now / before - 1)
        assert change[key] < -0.2
    assert 0 < change["rms_share_error"] < 0.01
    assert told["connections"] == {}
    assert 200 < told["cells"] <= 600
    assert told["angles"] >= 48


@pytest.mark.parametrize(
    ("machine", "changes", "words"),
    [
        ("lamp_ring", [], "there is no iron in this machine"),
        (
            "bolt_beside_magnets",
            ["--set", "coils.pickup.core.material={permeability: 200}"],
            "no iron of this machine has a saturation",
        ),
    ],
)
def test_nothing_saturates(run, geometries, machine, changes, words):
    found = run("emf", geometries / f"{machine}.yaml", "--saturation", *changes, *LOOSE)
    assert (found.code, found.out) == (2, "")
    assert words in found.err
    assert found.err.count("\n") == 1


def test_emf_layout(result, geometries):
    found = result("emf", geometries / "three_rotors.yaml", "--crank-speed", "60 rpm", *LOOSE)
    assert list(found["coils"]) == ["near", "end"]
    for figures in found["coils"].values():
        check_figures(figures)
    turn = 2 * math.pi
    assert found["rotor_speed_rad_per_s"] == pytest.approx([3 * turn, -9 * turn, 7.5 * turn])
    assert found["period_turns"] == pytest.approx(2 / 3)
    assert found["period_s"] == pytest.approx(2 / 3)
    assert found["period_exact"] is True


def test_default_speed_is_120_rpm(result, geometries):
    one = geometries / "one_rotor.yaml"
    assert result("emf", one, *LOOSE) == result("emf", one, "--crank-speed", "2 turn/s", *LOOSE)


def test_rotor_speed_gives_every_rotor_that_speed_and_its_own_sign(result, geometries):
    found = result("emf", geometries / "three_rotors.yaml", "--rotor-speed", "600 rpm", *LOOSE)
    speed = 20 * math.pi
    assert found["rotor_speed_rad_per_s"] == pytest.approx([speed, -speed, speed])


def test_emf_is_proportional_to_speed(result, geometries):
    one = geometries / "one_rotor.yaml"
    slow = result("emf", one, "--crank-speed", "60 rpm", *LOOSE)["coils"]["pickup"]
    fast = result("emf", one, "--crank-speed", "180 rpm", *LOOSE)["coils"]["pickup"]
    back = result("emf", one, "--crank-speed", "-60 rpm", *LOOSE)["coils"]["pickup"]
    for name in ("peak_V", "rms_V", "rectified_mean_V", "frequency_Hz"):
        assert fast[name] == pytest.approx(3 * slow[name], rel=1e-12)  # rounding
        assert back[name] == pytest.approx(slow[name], rel=1e-9)  # the same curve run backwards
    assert fast["peak_to_peak_linkage_Wb"] == pytest.approx(slow["peak_to_peak_linkage_Wb"])


@pytest.mark.parametrize("samples", [8, 13, 5000])
def test_samples_are_for_the_table_not_for_the_figures(samples, result, geometries, tmp_path):
    one, table = geometries / "one_rotor.yaml", tmp_path / "w.csv"
    plain = result("emf", one, *LOOSE)
    assert result("emf", one, *LOOSE, "--samples", samples, "--out", table) == plain
    assert len(table.read_text().splitlines()) == 1 + samples


def test_compare_layout(result, geometries):
    files = [geometries / "one_rotor.yaml", geometries / "two_facing_rotors.yaml"]
    found = result("compare", *files, "--crank-speed", "60 rpm", *LOOSE)
    designs = found["designs"]
    assert [d["file"] for d in designs] == [str(f) for f in files]
    assert [d["title"] for d in designs] == [
        "One rotor beside a rectangular coil",
        "Two facing rotors around one coil",
    ]
    for design in designs:
        check_figures(design["coils"]["pickup"])
    # Two identical rotors, one on either side: linkages add. Each is good to 1e-3.
    assert designs[0]["rms_ratio_to_first"] == {"pickup": 1.0}
    assert designs[1]["rms_ratio_to_first"]["pickup"] == pytest.approx(2.0, rel=2e-3)


def test_compare_agrees_with_emf(result, geometries):
    one = geometries / "one_rotor.yaml"
    alone = result("emf", one, *LOOSE)["coils"]
    assert result("compare", one, *LOOSE)["designs"][0]["coils"] == alone


def test_gap_layout(result, geometries):
    one = geometries / "one_rotor.yaml"
    found = result("gap", one, "--values", "1 mm, 2 mm,0.16 in", "--crank-speed", "60 rpm")
    assert [row["gap_m"] for row in found["rows"]] == pytest.approx([0.001, 0.002, 0.004064])
    for row in found["rows"]:
        check_figures(row["coils"]["pickup"])
        assert row["rms_change_percent_per_0.1_mm"]["pickup"] < 0
    assert found["rotors"] == ["upper"]
    assert set(found["fits"]["pickup"]) == {
        "rms_at_zero_gap_V",
        "decay_length_m",
        "largest_relative_misfit",
    }


def test_gap_as_built_agrees_with_emf(result, geometries):
    one = geometries / "one_rotor.yaml"
    row = result("gap", one, "--values", "3 mm", "--tolerance", "1e-7")["rows"][0]
    built = result("emf", one, "--tolerance", "1e-7")["coils"]["pickup"]
    for name, value in row["coils"]["pickup"].items():
        assert value == pytest.approx(built[name], rel=1e-6)


def test_check_layout(result, geometries):
    found = result("check", geometries / "three_rotors.yaml")
    assert found["magnets"]["coin"]["shape"] == "cylinder"
    assert found["magnets"]["coin"]["size_m"] == [0.012, 0.012, 0.004]
    assert found["rotors"]["arm"]["magnets"] == 2
    assert found["rotors"]["arm"]["gear_ratio"] == -9.0
    # 2 (22 + 14) + 4 * 5 = 92 mm a turn, 1500 of them.
    assert found["coils"]["near"]["wire_length_m"] == pytest.approx(138.0)
    pairs = {(c["first"], c["second"]): c["distance_m"] for c in found["clearances"]}
    assert pairs['rotor "wheel"', 'coil "near"'] == pytest.approx(0.003)
    assert pairs['rotor "wheel"', 'rotor "arm"'] == pytest.approx(0.017)


TEXTS = {
    "check": ["clearance", "wire 187.2 m", "mean turn 104 mm", "Caution: 2 magnets"],
    "flux": ["swing", "mWb", "66.0", "computed to"],
    "emf": ["peak V", "RMS V", "rectified mean V", "Hz", "18.00", "repeats every 1/9 crank turn"],
    "compare": ["design", "ratios are better than the voltages", "1.000"],
    "gap": ["gap mm", "RMS % per 0.1 mm", "falls to 37 % every", "3.000"],
}


@pytest.mark.parametrize("command", TEXTS)
def test_text(command, run, geometries):
    extra = ["--values", "1 mm, 2 mm, 3 mm"] if command == "gap" else []
    extra += [] if command == "check" else LOOSE
    outcome = run(command, geometries / "one_rotor.yaml", *extra)
    assert outcome.code == 0
    assert outcome.err == ""
    for words in TEXTS[command]:
        assert words in " ".join(outcome.out.split())  # wherever a line is folded
    assert outcome.out.endswith("\n")


def columns(line: str) -> int:
    """How many columns of a terminal a line takes."""
    return sum(2 if unicodedata.east_asian_width(c) in "WF" else 1 for c in line)


@pytest.mark.parametrize("width", [40, 60, 80, 140])
@pytest.mark.parametrize("command", TEXTS)
def test_text_fits_whatever_the_names(command, width, run, geometries, tmp_path, monkeypatch):
    monkeypatch.setenv("COLUMNS", str(width))
    text = (geometries / "three_rotors.yaml").read_text(encoding="utf-8")
    long = "a_name_of_forty_letters_that_one_may_use"
    title = "title: [red]bold[/red] :smile: \\[x] 磁石 " + "very " * 20 + "long"
    text = text.replace(
        "title: Three rotors with different ratios", title.replace("title: ", "title: '") + "'"
    )
    text = text.replace("  near:", f"  {long}:").replace("  wheel:", f"  w{long[1:]}:")
    path = tmp_path / "names.yaml"
    path.write_text(text, encoding="utf-8")
    extra = ["--values", "1 mm, 2 mm, 3 mm", "--rotor", "arm"] if command == "gap" else []
    extra += [] if command == "check" else ["--tolerance", "1e-2"]
    outcome = run(command, path, *extra)
    assert outcome.code == 0, outcome
    assert max(columns(line) for line in outcome.out.splitlines()) <= width
    for word in ("[red]", ":smile:", "磁石"):  # letter by letter, however folded
        assert word in outcome.out


@pytest.mark.parametrize(
    ("command", "ending"),
    [("flux", "png"), ("emf", "svg"), ("compare", "pdf"), ("gap", "png"), ("draw", "svg")],
)
def test_pictures(command, ending, run, geometries, tmp_path):
    start = {"png": b"\x89PNG", "svg": b"<?xml", "pdf": b"%PDF"}[ending]
    extra = {"gap": ["--values", "1 mm, 2 mm", *LOOSE], "draw": []}.get(command, LOOSE)
    option = "--out" if command == "draw" else "--plot"
    place = tmp_path / f"a.{ending}"
    outcome = run(command, geometries / "one_rotor.yaml", *extra, option, place)
    assert outcome.code == 0, outcome
    assert outcome.err == ""
    assert place.read_bytes().startswith(start)


def test_three_designs_with_titles_that_look_like_formulas(run, one_rotor, tmp_path):
    for i, title in enumerate(["$x^2$", "50 % more_", "\\alpha {a}"]):
        text = one_rotor.replace("One rotor beside a rectangular coil", f"'{title}'")
        (tmp_path / f"{i}.yaml").write_text(text)
    files = [tmp_path / f"{i}.yaml" for i in range(3)]
    outcome = run("compare", *files, *LOOSE, "--plot", tmp_path / "a.svg")
    assert outcome.code == 0, outcome


def test_coil_that_sees_nothing_by_symmetry(run, result, one_rotor, tmp_path):
    """Round the shaft, turned by the rotor: the linkage never changes; only rounding is left."""
    path = tmp_path / "round.yaml"
    text = one_rotor.replace("centre: [0 mm, 22 mm, 0 mm]", "centre: [0 mm, 0 mm, 0 mm]")
    path.write_text(text.replace("[24 mm, 16 mm]", "[90 mm, 90 mm]"))
    found = result("emf", path)["coils"]["pickup"]
    assert found["peak_V"] < 1e-12
    other = tmp_path / "other.yaml"
    other.write_text(one_rotor)
    designs = result("compare", path, other)["designs"]
    assert [d["rms_ratio_to_first"]["pickup"] for d in designs] == [None, None]
    assert run("compare", path, other).out.count(" -\n") == 2
    for arguments in (
        ["flux", path],
        ["emf", path],
        ["gap", path, "--values", "13 mm, 14 mm, 16 mm"],
    ):
        outcome = run(*arguments, "--plot", tmp_path / "a.png")
        assert outcome.code == 0, outcome


@pytest.mark.parametrize("name", ["lamp_ring", "two_coils", "geared_pair", "three_rotors"])
def test_a_wire_has_one_length_wherever_it_is_told(name, run, result, geometries):
    path = geometries / f"{name}.yaml"
    told = result("check", path)["coils"]
    unfolded = re.sub(r"\n {6}", " ", run("check", path).out)
    shown = re.findall(r"coil (\w+): .*, wire ([\d.]+) m", unfolded)
    assert [coil for coil, _ in shown] == list(told)
    if name == "three_rotors":  # without wire: turns times the mean turn
        wound = {coil: c["turns"] * c["mean_turn_m"] for coil, c in told.items()}
    else:
        wound = {coil: c["wire_length_m"] for coil, c in result("wind", path)["coils"].items()}
    for coil, length in shown:
        assert told[coil]["wire_length_m"] == pytest.approx(wound[coil], rel=1e-14)
        assert float(length) == pytest.approx(wound[coil], rel=5e-4)  # four digits are shown
        assert told[coil]["turns"] * told[coil]["mean_turn_m"] == pytest.approx(wound[coil])
