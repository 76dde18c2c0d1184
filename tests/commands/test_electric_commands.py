"""The commands wind, light and match: screens, JSON, tables, pictures and wrong input."""

from __future__ import annotations

import csv
import json
import math

import pytest

RPM90 = ["--crank-speed", "90 rpm"]


@pytest.fixture
def ring(geometries):
    return geometries / "lamp_ring.yaml"


@pytest.fixture
def changed(ring, tmp_path):
    """Return a function that writes the geometry with changes and gives its path."""

    def write(*changes):
        text = ring.read_text(encoding="utf-8")
        for old, new in changes:
            assert old in text
            text = text.replace(old, new)
        path = tmp_path / "changed.yaml"
        path.write_text(text, encoding="utf-8")
        return path

    return write


def keys_with_numbers(value, path=""):
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from keys_with_numbers(inner, f"{path}.{key}")
    elif isinstance(value, list):
        for inner in value:
            yield from keys_with_numbers(inner, path)
    elif isinstance(value, float):
        yield path


UNITS = ("_A", "_V", "_W", "_s", "_m", "_m2", "_kg", "_H", "_ohm", "_K", "_Hz", "_percent")
UNITS += ("rad_per_s", "_turns", "_Wb")
PURE = ("share_of_rated", "efficiency", "charge", "energy", "discretisation", "wobble")
PURE += ("copper_fill", "wire_fill", "share", "share_that_can_be", "share_all_light")
# in the unit of what they are about, which stands beside them
OF_ITS_OWN = (".cautions.value", ".cautions.limit")
OF_ITS_OWN += (".range.inputs.value", ".range.inputs.give_or_take")


def assert_units(value):
    for path in keys_with_numbers(value):
        # the ends of a range are in the unit of the figure above them
        path = path.removesuffix(".low").removesuffix(".high")
        assert path.endswith((*UNITS, *PURE)) or path in OF_ITS_OWN, path


@pytest.fixture(autouse=True)
def wide_terminal(monkeypatch):
    monkeypatch.setenv("COLUMNS", "120")


def assert_screen(text, lines):
    assert max(len(line) for line in text.splitlines()) <= 120
    assert len(text.splitlines()) <= lines
    assert "\x1b" not in text


def test_light_is_one_screen(run, ring):
    outcome = run("light", ring, *RPM90)
    assert outcome.code == 0
    assert outcome.err == ""
    assert_screen(outcome.out, 36)
    assert_screen(run("light", ring, *RPM90, "--exact").out, 35)  # without the range's lines
    assert outcome.out.splitlines()[2].startswith("6 x white LED light: ")
    for word in ("average power", "meter of 10", "bridge output", "flicker", "coil pickup"):
        assert word in outcome.out


def test_light_json(run, ring):
    found = json.loads(run("light", ring, *RPM90, "--json").out)
    assert_units(found)
    (lamp,) = found["lamps"]
    assert lamp["lights"] is True
    assert lamp["count"] == 6
    assert lamp["share_of_rated"] == pytest.approx(lamp["average_current_A"] / 0.02)
    assert found["balance"]["energy"] < 1e-4
    assert found["balance"]["charge"] < 1e-4
    assert found["efficiency"] == found["useful_power_W"] / found["source_power_W"]
    assert [(m["where"], m["loaded"]) for m in found["meters"]][-1] == ("bridge output", True)
    assert found["start_up"] is None
    assert found["warnings"] == []
    (caution,) = found["cautions"]
    assert caution["kind"] == "uneven lamps"
    assert caution["value"] > caution["limit"] == pytest.approx(1.2 * lamp["average_current_A"])


def test_light_starts_up(run, ring, tmp_path):
    arguments = ["--start-up", "0.7 s", "--ramp", "0.3 s", "--wobble", "5 %"]
    table = tmp_path / "a.csv"
    outcome = run("light", ring, *RPM90, *arguments, "--out", table)
    assert outcome.code == 0
    assert_screen(outcome.out, 40)
    assert "white LED: first lights after 0." in outcome.out
    with table.open(encoding="utf-8") as stream:
        rows = list(csv.DictReader(stream))
    assert float(rows[0]["time_s"]) == 0
    assert float(rows[-1]["time_s"]) == pytest.approx(0.7)
    assert abs(float(rows[0]["load_voltage_V[pickup]"])) < 1e-3
    found = json.loads(run("light", ring, *RPM90, *arguments, "--json").out)
    assert_units(found)
    assert 0.1 < found["start_up"]["lamps"][0]["first_lights_s"] < 0.7


@pytest.mark.parametrize("ending", ["csv", "h5"])
def test_light_table(ending, run, ring, tmp_path):
    table = tmp_path / f"a.{ending}"
    assert run("light", ring, *RPM90, "--out", table).code == 0
    if ending == "h5":
        xarray = pytest.importorskip("xarray")
        with xarray.open_dataset(table, engine="h5netcdf") as found:
            assert set(found.sizes) == {"time_s", "coil", "outlet", "lamp"}
            assert found["lamp_current_A"].attrs["units"] == "A"
            average = float(found["lamp_current_A"].mean())
    else:
        with table.open(encoding="utf-8") as stream:
            rows = list(csv.DictReader(stream))
        average = sum(float(row["lamp_current_A[white LED]"]) for row in rows) / len(rows)
    assert average == pytest.approx(7.14e-3, rel=5e-3)  # as the screen says, to its digits


def test_light_without_load_or_wire(run, geometries):
    outcome = run("light", geometries / "one_rotor.yaml")
    assert outcome.code == 0
    assert "Open circuit: nothing is connected" in outcome.out
    assert "load: {across: pickup, rectifier: bridge" in outcome.out
    assert "wire: {gauge: AWG 32}" in outcome.out
    assert_units(json.loads(run("light", geometries / "one_rotor.yaml", "--json").out))


def test_light_short_circuit(run, changed):
    text = changed().read_text(encoding="utf-8")
    load = text[text.index("load:") :]
    outcome = run("light", changed((load, "load: {across: pickup, terminals: short}\n")), *RPM90)
    assert outcome.code == 0
    assert "Short circuit across pickup: " in outcome.out


def test_wind_prints_every_coil(run, geometries):
    outcome = run("wind", geometries / "two_coils.yaml")
    assert outcome.code == 0
    assert_screen(outcome.out, 25)
    for word in ("left over", "mean turn", "resistance (ohm)", "square layers", "current for long"):
        assert word in outcome.out


def test_wind_table_of_gauges(run, ring, tmp_path):
    table = tmp_path / "a.csv"
    outcome = run("wind", ring, "--gauges", "30..34", *RPM90, "--out", table)
    assert outcome.code == 0
    assert_screen(outcome.out, 40)
    assert "best: AWG 31, most light, 7.19 mA in the brightest lamp" in outcome.out
    with table.open(encoding="utf-8") as stream:
        rows = list(csv.DictReader(stream))
    assert [row["wire"] for row in rows] == [f"AWG {n} single" for n in range(30, 35)]
    assert float(rows[2]["turns[pickup]"]) == 1364


def test_wind_json(run, ring):
    found = json.loads(run("wind", ring, "--gauges", "31, AWG 33", *RPM90, "--json").out)
    assert_units(found)
    coil = found["coils"]["pickup"]
    assert coil["turns"] == 1364
    assert coil["mean_turn_m"] * coil["turns"] == pytest.approx(coil["wire_length_m"])
    assert [row["turns"]["pickup"] for row in found["gauges"]["rows"]] == [1120, 1750]
    assert found["gauges"]["best"] == found["gauges"]["most_power"] == "AWG 31 single"
    assert all(row["within_ratings"] and not row["cautions"] for row in found["gauges"]["rows"])
    assert json.loads(run("wind", ring, "--json").out)["gauges"] is None


def test_match_screen_and_json(run, ring, tmp_path):
    table = tmp_path / "a.csv"
    arguments = ["match", ring, *RPM90, "--gauges", "31..33"]
    outcome = run(*arguments, "--out", table)
    assert outcome.code == 0
    assert_screen(outcome.out, 25)
    assert "white LED: lights from 36." in outcome.out
    together = "best of 36 with turns and load varied too: AWG 31, 1120 turns in pickup, 6 x 1 lamp"
    assert together in outcome.out
    found = json.loads(run(*arguments, "--json").out)
    assert_units(found)
    assert found["together"]["lamp_current_total_A"] > found["together"]["lamp_current_total_now_A"]
    curve = found["load_curve"]
    assert max(curve["power_W"]) == found["best_load_power_W"]
    assert curve["load_resistance_ohm"] == sorted(curve["load_resistance_ohm"])
    rpm = found["lamps"][0]["lowest_crank_speed_rad_per_s"] * 30 / math.pi
    assert rpm == pytest.approx(36.8, abs=0.1)
    assert table.read_text().startswith("load_resistance_ohm,load_power_at_resistance_W\n")


PICTURES = {
    "light": [],
    "light start": ["--start-up", "0.2 s"],
    "wind": ["--gauges", "31..33"],
    "match": ["--gauges", "31,32"],
}


@pytest.mark.parametrize("what", PICTURES)
def test_pictures(what, run, ring, tmp_path):
    picture = tmp_path / "a.png"
    arguments = [what.split()[0], ring, *RPM90, *PICTURES[what], "--plot", picture]
    assert run(*arguments).code == 0
    assert picture.read_bytes().startswith(b"\x89PNG")
    assert picture.stat().st_size > 20_000


FILL = "    wire: {gauge: AWG 32, packing: square layers, fill: section}\n"
LAMPS = "  lamps: {colour: white, parallel: 6}\n"

WRONG_FILES = {
    "load on a missing coil": (
        ("across: pickup", "across: pikup"),
        'load.across: no coil or connection is called "pikup"; there are: pickup',
    ),
    "no wire": ((FILL, "    turns: 1000\n"), 'coil "pickup" has no wire'),
    "too many turns": (
        (FILL, "    turns: 1800\n    wire: {gauge: AWG 32, packing: square layers}\n"),
        "are 9.16 mm thick, the build allows 7.00 mm (1364 turns)",
    ),
    "impossible fill": (
        ("packing: square layers", "packing: {wire_fill: 99 %}"),
        "a wire fill of 99 % is not possible",
    ),
    "forward voltage zero": (
        (LAMPS, "  lamps: {forward: 0 V, at: 20 mA}\n"),
        'load.lamps.forward: "0 V" is out of range',
    ),
    "loop of groups": (
        (LAMPS, "  groups: {a: {use: b}, b: {use: a}}\n  parts: [{use: a}]\n"),
        'groups contain each other: "a" in "b" in "a"',
    ),
    "loop of connections": (
        ("load:\n", "connections: {p: {series: [q, pickup]}, q: {series: [p, pickup]}}\nload:\n"),
        '"pickup" is used twice',
    ),
    "negative capacitor": (("470 uF", "-470 uF"), "load.capacitor.value"),
    "no lamps": (("parallel: 6", "parallel: 0"), "load.lamps.parallel: 0 is out of range"),
    "too little wire": ((FILL, FILL.replace("}", ", length: 10 m}")), "1364 turns need 131 m"),
}


@pytest.mark.parametrize("name", WRONG_FILES)
def test_wrong_files_are_one_line(name, refused, changed):
    change, words = WRONG_FILES[name]
    assert words in refused("light", changed(change))


WRONG_OPTIONS = {
    "gauges backwards": (["wind", "--gauges", "40..24"], "40..24 runs backwards; write 24..40"),
    "gauges in words": (["wind", "--gauges", "thin"], '"thin" is not a gauge; write gauges like'),
    "no gauges": (["wind", "--gauges", ""], '"" is not a gauge'),
    "too many gauges": (["match", "--gauges", "1..999"], "999 gauges; at most 40 are allowed"),
    "gauge too thick": (["wind", "--gauges", "3"], "AWG 3 is out of range; allowed: AWG 10 to"),
    "picture of no gauges": (["wind", "--plot", "a.png"], "give --gauges as well"),
    "ramp without a start": (["light", "--ramp", "1 s"], "give --start-up as well"),
    "start of nothing": (["light", "--start-up", "0 s"], "a start-up of 0 s"),
    "start without a unit": (["light", "--start-up", "3"], '"3" has no unit'),
    "start without end": (["light", "--start-up", "1e9 s"], "more than 100000 steps"),
    "wobble": (["light", "--start-up", "1 s", "--wobble", "200 %"], "a wobble of 2"),
    "meter of nothing": (["light", "--meter-resistance", "0 ohm"], "a meter of 0 ohm; allowed"),
    "meter too quick": (["light", "--meter-update", "0 s"], "every 0 s; allowed: 1 ms to 100 s"),
    "both speeds": (["match", *RPM90, "--rotor-speed", "9 rpm"], "not both"),
    "table": (["match", "--out", "a.txt"], "must end in .csv or .h5"),
}


@pytest.mark.parametrize("name", WRONG_OPTIONS)
def test_wrong_options_are_one_line(name, refused, ring, tmp_path, monkeypatch):
    (command, *options), words = WRONG_OPTIONS[name]
    monkeypatch.chdir(tmp_path)
    assert words in refused(command, ring, *options)
    assert list(tmp_path.iterdir()) == []


def test_nothing_to_match_and_nothing_wound(refused, geometries):
    assert "there is no load to match" in refused("match", geometries / "one_rotor.yaml")
    assert "no coil has wire" in refused("wind", geometries / "one_rotor.yaml")


def test_wires_that_kill_the_lamps_are_marked_and_not_advised(run, ring):
    fast = ["--crank-speed", "200 rpm", "--gauges", "25,29,32,34"]
    for command in ("wind", "match"):
        found = json.loads(run(command, ring, *fast, "--json").out)["gauges"]
        assert (found["best"], found["most_power"]) == ("AWG 25 single", "AWG 29 single")
        rows = {row["wire"][:6]: row for row in found["rows"]}
        assert rows["AWG 29"]["cautions"][0]["kind"] == "LED over-current"
        assert rows["AWG 29"]["cautions"][0]["limit"] == 0.02
        assert [rows[g]["within_ratings"] for g in ("AWG 25", "AWG 29")] == [True, False]
        assert not rows["AWG 34"]["cautions"]  # its lamps live, but not its wire for long
        assert not rows["AWG 34"]["within_ratings"]
        assert [row["own"] for row in found["rows"]] == [False, False, True, False]
        text = run(command, ring, *fast).out
        marks = {line[:6]: line.split("   ")[-1].strip() for line in text.splitlines()}
        assert [marks[f"AWG {n}"] for n in (25, 29, 32, 34)] == [
            "best",
            "over",
            "over, now",
            "over",
        ]
        assert "best: AWG 25, most light within the ratings, 9.80 mA in the brightest" in text
        assert "Caution: AWG 29 (over): white LED: 28.6 mA on average, above its rated 20" in text


def test_a_file_in_mm_gets_metric_wires(run, ring):
    metric = ["--set", "coils.pickup.wire.gauge=0.22 mm", *RPM90]
    found = json.loads(run("match", ring, *metric, "--json").out)["gauges"]["rows"]
    assert [row["wire"] for row in found][:3] == [
        "0.5 mm grade 1",
        "0.45 mm grade 1",
        "0.4 mm grade 1",
    ]
    assert [row["wire"] for row in found if row["own"]] == ["0.22 mm grade 1"]
    assert len(found) == 21
    text = run("wind", ring, *metric, "--gauges", "0.2 mm..0.25 mm").out
    assert [line[:8].strip() for line in text.splitlines() if line[:2] == "0."] == [
        "0.2 mm", "0.22 mm", "0.224 mm", "0.25 mm",
    ]  # fmt: skip


def test_wind_says_what_shared_spools_have_left(run, geometries):
    shared = ["--set", "spools={red: {mass: 100 g, used: 20 %}}"]
    for coil in ("left", "right"):
        shared += ["--set", f"coils.{coil}.wire.spools=[red]"]
    where = ["wind", geometries / "two_coils.yaml", *shared]
    found = json.loads(run(*where, "--json").out)
    (use,) = found["shared_spools"]
    lengths = [coil["wire_length_m"] for coil in found["coils"].values()]
    assert use["used_m"] == pytest.approx(sum(lengths))
    assert use["leftover_m"] == pytest.approx(use["supply_m"] - use["used_m"], abs=1e-9)
    assert (use["spools"], use["coils"]) == (["red"], ["left", "right"])
    text = run(*where).out
    assert "spool red: 271.3 m, of which left, right take 271." in text
    assert "left over (m; g)" not in text
    assert (
        json.loads(run("wind", geometries / "two_coils.yaml", "--json").out)["shared_spools"] == []
    )


def test_what_only_the_program_keeps_is_no_key(run, ring, changed):
    outcome = run("check", changed(("title:", "file: a\ntitle:")))
    assert outcome.code == 2
    assert "file: unknown key" in outcome.err
    outcome = run("check", changed(("    length: 10 mm", "    length: 10 mm\n    share_m: 3")))
    assert "coils.pickup.share_m: unknown key" in outcome.err
