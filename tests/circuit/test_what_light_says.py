"""What `light` says of lamps, powers, heat and starts, worked out again from its own waveforms.

The wave of each current and voltage comes from the table that the command writes; averages, peaks
and moments are taken from it here, and sizes from the file by hand.
"""

from __future__ import annotations

import csv
import json
import math

import numpy as np
import pytest
from machines import GEOMETRIES

from fieldsim.cli import main

SPEED = ["--crank-speed", "90 rpm"]
RING = (GEOMETRIES / "lamp_ring.yaml").read_text(encoding="utf-8")
LOAD = RING[RING.index("load:") :]


@pytest.fixture
def light(tmp_path, capsys):
    """Return a function from another load and options to the object and the waveforms."""

    def run(load=LOAD, *options):
        path, table = tmp_path / "g.yaml", tmp_path / "t.csv"
        path.write_text(RING.replace(LOAD, load), encoding="utf-8")
        assert main(["light", str(path), *SPEED, *options, "--json", "--out", str(table)]) == 0
        found = json.loads(capsys.readouterr().out)
        with table.open(encoding="utf-8") as stream:
            rows = list(csv.DictReader(stream))
        return found, {key: np.array([float(row[key]) for row in rows]) for key in rows[0]}

    return run


SAMPLED = 3e-3  # 512 samples of a wave that rises within a few of them


def test_the_power_of_all_equal_parts_is_their_number_times_that_of_each(light):
    found, _ = light()
    parts = {part["label"]: part for part in found["parts"]}
    assert parts["white LED"]["count"] == 6
    assert any(part["count"] == 1 for part in parts.values())
    for part in parts.values():
        assert part["power_W"] == pytest.approx(part["count"] * part["power_each_W"], rel=1e-12)
    # What the coils deliver ends in the parts, to what the books close to.
    delivered = sum(coil["delivered_W"] for coil in found["coils"].values())
    assert sum(part["power_W"] for part in parts.values()) == pytest.approx(delivered, rel=1e-4)
    heat = sum(coil["heat_W"] for coil in found["coils"].values())
    assert found["source_power_W"] == pytest.approx(delivered + heat, rel=1e-4)
    assert found["useful_power_W"] == pytest.approx(parts["white LED"]["power_W"], rel=1e-12)
    assert found["lamps"][0]["power_each_W"] == parts["white LED"]["power_each_W"]


def test_powers_are_averages_of_voltage_times_current(light):
    found, wave = light("load: {across: pickup, parts: [{resistor: 120 ohm}]}\n")
    current, voltage = wave["current_A[pickup]"], wave["voltage_V[pickup]"]
    delivered = float(np.mean(current * voltage))
    coil = found["coils"]["pickup"]
    assert coil["delivered_W"] == pytest.approx(delivered, rel=SAMPLED)
    assert coil["delivered_W"] == pytest.approx(float(np.mean(current**2)) * 120, rel=SAMPLED)
    assert coil["rms_current_A"] == pytest.approx(math.sqrt(np.mean(current**2)), rel=SAMPLED)
    assert found["efficiency"] == found["useful_power_W"] / found["source_power_W"]


def test_lamp_currents_are_those_of_the_wave(light):
    found, wave = light()
    (lamp,) = found["lamps"]
    current = wave["lamp_current_A[white LED]"]
    assert lamp["average_current_A"] == pytest.approx(current.mean(), rel=SAMPLED)
    assert lamp["peak_current_A"] == pytest.approx(current.max(), rel=SAMPLED)
    deep = (current.max() - current.min()) / (current.max() + current.min())
    assert lamp["flicker_percent"] == pytest.approx(100 * deep, abs=0.3)


def test_a_lamp_without_a_bridge_stands_the_open_voltage_backwards(light):
    """It carries nothing then, so all of the EMF is across it: a number above zero."""
    found, wave = light("load: {across: pickup, lamps: {colour: white}}\n")
    (lamp,) = found["lamps"]
    backwards = -float(wave["load_voltage_V[pickup]"].min())
    assert backwards > 9
    assert lamp["reverse_voltage_V"] == pytest.approx(backwards, rel=SAMPLED)
    # Coil and lamp are open then but for nanoamperes.
    assert backwards == pytest.approx(-float(wave["emf_V[pickup]"].min()), rel=SAMPLED)
    (caution,) = (c for c in found["cautions"] if c["kind"] == "LED reverse voltage")
    assert f"{lamp['reverse_voltage_V']:.3g} V" in caution["text"]


def test_a_lamp_behind_a_bridge_never_stands_backwards(light):
    assert light()[0]["lamps"][0]["reverse_voltage_V"] == 0.0


def surface_by_hand_m2(build_m):
    """Outside and both ends of a winding round 14 mm x 20 mm, 10 mm long."""
    a, b = 14e-3 + 2 * build_m, 20e-3 + 2 * build_m
    return 2 * (a + b) * 10e-3 + 2 * (a * b - 14e-3 * 20e-3)


def test_a_coil_gets_warmer_by_its_heat_over_ten_watts_a_square_metre_and_kelvin(
    light, tmp_path, capsys
):
    found, _ = light()
    path = str(tmp_path / "g.yaml")
    assert main(["wind", path, "--json"]) == 0
    build_m = json.loads(capsys.readouterr().out)["coils"]["pickup"]["build_m"]
    coil = found["coils"]["pickup"]
    rise_K = coil["heat_W"] / (10.0 * surface_by_hand_m2(build_m))
    assert rise_K > 5
    assert coil["temperature_rise_K"] == pytest.approx(rise_K, rel=1e-9)
    # The hand's screen and object say the same of the same coil.
    assert main(["effort", path, *SPEED, "--json"]) == 0
    other = json.loads(capsys.readouterr().out)["coils"]["pickup"]
    assert other["temperature_rise_K"] == pytest.approx(rise_K, rel=1e-3)  # solved once more
    assert main(["effort", path, *SPEED]) == 0
    assert f"pickup {rise_K:.2g} K" in capsys.readouterr().out
    assert main(["light", path, *SPEED]) == 0
    (row,) = (
        line for line in capsys.readouterr().out.splitlines()
        if line.split()[:1] == ["pickup"] and len(line.split()) == 6
    )  # fmt: skip
    assert float(row.split()[-2]) == pytest.approx(rise_K, abs=0.006)


def first_seen_s(times, current, visible_A, window_s):
    """Return when the mean of the current over the last ``window_s`` first is visible.

    The table holds even samples, so that the running integral is a sum of trapezia.
    """
    steps = (current[1:] + current[:-1]) / 2 * np.diff(times)
    charge = np.concatenate([[0.0], np.cumsum(steps)])
    mean = (charge - np.interp(times - window_s, times, charge)) / window_s
    return float(times[np.argmax(mean >= visible_A)])


def test_a_lamp_is_seen_once_a_tenth_of_a_second_is_bright_on_average(light):
    """Half the time would see it sooner by more than what the samples leave open."""
    start = ["--start-up", "0.5 s", "--ramp", "0.2 s", "--wobble", "0 %"]
    # No capacitor: the current comes in pulses whose share of light grows slowly with the speed.
    bare = "load: {across: pickup, rectifier: bridge, lamps: {colour: white, parallel: 6}}\n"
    for load in (LOAD, bare):
        found, wave = light(load, *start)
        (lamp,) = found["start_up"]["lamps"]
        current = wave["lamp_current_A[white LED]"].clip(0)
        step_s = wave["time_s"][1]
        seen = first_seen_s(wave["time_s"], current, 0.5e-3, 0.1)
        assert lamp["first_lights_s"] == pytest.approx(seen, abs=4 * step_s)
        sooner = first_seen_s(wave["time_s"], current, 0.5e-3, 0.05)
        assert seen - sooner > 6 * step_s


def test_the_last_average_of_a_start_is_over_whole_periods_at_full_speed(light):
    found, wave = light(LOAD, "--start-up", "0.5 s", "--ramp", "0.2 s", "--wobble", "0 %")
    (lamp,) = found["start_up"]["lamps"]
    period_s = 1 / 1.5 / 8  # 90 rpm, four like magnets on rotors of eight turns: see below
    stretch_s = period_s * math.ceil(0.1 / period_s)
    late = wave["time_s"] > 0.5 - stretch_s
    mean = wave["lamp_current_A[white LED]"][late].mean()
    assert lamp["average_at_end_A"] == pytest.approx(mean, rel=0.01)  # by some 170 samples
