"""What `effort` says of any machine: the books close, heat is shared out, magnets are held."""

from __future__ import annotations

import json

import pytest
from machines import GEOMETRIES

from fieldsim.cli import main


@pytest.fixture
def effort(capsys):
    def run(name, rpm):
        file = str(GEOMETRIES / f"{name}.yaml")
        assert main(["effort", file, "--crank-speed", f"{rpm} rpm", "--json"]) == 0
        return json.loads(capsys.readouterr().out)

    return run


@pytest.mark.parametrize("rpm", [1, 9, 90])  # on both sides of one radian a second
def test_what_the_hand_gives_is_what_all_parts_take_at_any_speed(effort, rpm):
    power = effort("geared_pair", rpm)["power"]
    parts = power["electrical_W"] + power["friction_W"] + power["gears_W"]
    assert power["hand_W"] == pytest.approx(parts, rel=1e-4)
    assert power["electrical_W"] == pytest.approx(power["load_W"] + power["wire_heat_W"], rel=1e-9)
    assert power["efficiency"] == pytest.approx(power["load_W"] / power["hand_W"], rel=1e-9)


def test_force_on_the_arm_is_torque_over_its_length(effort):
    crank = effort("geared_pair", 90)["crank"]
    assert crank["arm_m"] == 0.08
    for kind in ("average", "peak", "slow_peak"):
        assert crank[f"{kind}_force_N"] == pytest.approx(crank[f"{kind}_torque_Nm"] / 0.08)
    swing = crank["peak_torque_Nm"] - crank["least_torque_Nm"]
    assert crank["ripple"] == pytest.approx(swing / crank["average_torque_Nm"])


def test_heat_in_the_wire_is_that_of_all_coils(effort):
    found = effort("geared_pair", 90)
    heats = [coil["heat_W"] for coil in found["coils"].values()]
    assert min(heats) > 0.1
    assert sum(heats) == pytest.approx(found["power"]["wire_heat_W"], rel=1e-4)
    for coil in found["coils"].values():  # alike, so alike warm; more heat, more of it
        assert coil["temperature_rise_K"] / coil["heat_W"] == pytest.approx(42.7, rel=2e-3)


def test_magnets_of_three_rotors_feel_all_others(effort):
    """The middle one has two partners whose repeats differ; every magnet is held by something."""
    found = effort("three_rotors", 90)
    assert len(found["pairs"]) >= 2
    for rotor in found["rotors"].values():
        assert rotor["centrifugal_N"] > 0
        pull = abs(rotor["magnetic_shear_N"]) + abs(rotor["magnetic_lift_N"])
        assert pull > 0
