"""What ``check`` says of a machine, word by word where a number could go astray."""

from __future__ import annotations

import pytest
from machines import shipped

from fieldsim.tables.json_documents import check_json
from fieldsim.words.check_text import check_text


def check(name: str, changes=None) -> list[str]:
    """Return the lines, however they are folded."""
    text = check_text(shipped(name).changed(changes or {}), (), 120)
    lines: list[str] = []
    for line in text.splitlines():
        if line.startswith("      "):
            lines[-1] += f" {line.strip()}"
        else:
            lines.append(line)
    return lines


def test_a_start_angle_is_said_in_degrees():
    turned = check("lamp_ring", {"rotors.upper.start": "22.5 deg"})
    assert turned[2].endswith("8 turns per crank turn, so its angle grows, starts at 22.5 deg")
    assert "starts at" not in "".join(check("lamp_ring"))


def test_the_way_a_rotor_turns_is_said_beside_the_way_its_angle_grows():
    upper, lower = check("geared_pair")[2:4]
    assert upper.endswith("12 turns per crank turn, so its angle grows")
    assert lower.endswith("-12 turns per crank turn, so its angle falls")
    north = {"rotors.lower.magnets[0].north": "forward"}
    lines = check("geared_pair", north)
    assert "north forward is the way its angle grows: against its motion when the" in lines[4]
    north = {"rotors.upper.magnets[0].north": "back"}
    assert "with its motion when the crank turns forward" in check("geared_pair", north)[3]
    one = {"rotors.lower.gear_ratio": "-1"}
    assert check("two_facing_rotors", one)[3].endswith("-1 turn per crank turn, so its angle falls")


def test_the_whole_file_is_told():
    lines = check("geared_pair")
    text = "\n".join(lines)
    assert "    of AWG 32 single, 0.2019 mm of copper: 64.7 ohm at 20 °C" in lines
    assert "  connection both: front and rear (ends swapped) in series" in lines
    assert (
        "  load across both: a bridge of four silicon diodes, and behind it side by side: " in text
    )
    assert "  gears: each mesh passes on 94 % of the power" in lines
    wheels = {line.split()[0]: line.split()[-4:] for line in lines if line[:1].isalpha()}
    assert wheels["idler"] == ["-", "20", "9.6", "1152"]
    assert wheels["right"] == ["lower", "16", "-12", "1440"]
    assert "spread   the axle of pinion   -" in text
    assert "  crank: arm of 80 mm; the hand gives up to 60 N" in lines
    assert (
        "  friction: 10.0 mN m at the crank, 1.00 mN m at each rotor, and growing with speed, "
        "0.209 mN m more at 1000 rpm"
    ) in lines
    assert (
        "  glue: holds 5 MPa along the joint and 1 MPa across it, on the side across the shaft; "
        "magnets of 7500 kg/m3"
    ) in lines
    assert "left out" not in text


def test_what_the_file_leaves_out_is_named():
    assert "  left out in the file: wire of pickup, load, gears, crank, friction, glue" in check(
        "one_rotor"
    )
    assert "  left out in the file: gears, crank, friction, glue" in check("lamp_ring")


def test_wheels_of_other_kinds():
    lines = check(
        "geared_pair",
        {"gears.wheels.idler.sense": "same", "gears.wheels.idler.efficiency": "90 %",
         "gears.wheels.right.sense": "same", "adhesive.glued_on": "in", "adhesive.area": "50 mm^2",
         "adhesive.peel_strength": None, "adhesive.shear_strength": None},
    )  # fmt: skip
    text = "\n".join(lines)
    assert "wheel spread, the same way, passing on 90 %" in text
    assert "  glue: strength not given, on side in, 50 mm2 of it; magnets of 7500 kg/m3" in lines


def test_a_shaft_through_copper_is_a_caution():
    text = "\n".join(check("bar_inside_coil"))
    assert "Caution: Coil wound: the shaft of rotor bar has to pass through 5 mm of its" in text


def test_json_tells_as_much():
    machine = shipped("geared_pair")
    found = check_json(machine, ())
    assert found["coils"]["front"]["wire"]["wire"] == "AWG 32 single"
    assert found["coils"]["front"]["wire"]["resistance_ohm"] == machine.coils[0].resistance_ohm(
        293.15
    )
    assert found["connections"] == {"both": {"series": ["front", "-rear"]}}
    assert found["load"]["across"] == "both"
    assert found["gears"]["right"]["turns_per_crank_turn"] == -12.0
    assert found["gears"]["right"]["rotors"] == ["lower"]
    assert found["crank"] == {"arm_m": 0.08, "hand_force_N": 60.0}
    assert found["friction"]["each_rotor_Nms_per_rad"] == 2e-6
    assert found["adhesive"]["shear_strength_Pa"] == 5e6
    assert [caution["kind"] for caution in found["cautions"]] == ["strong magnets"]
    bare = check_json(shipped("bar_inside_coil"), ())
    assert bare["coils"]["wound"]["wire"] is bare["load"] is bare["crank"] is None
    assert bare["connections"] == bare["gears"] == {}
    assert [c["kind"] for c in bare["cautions"]] == ["shaft in winding", "strong magnets"]


def test_every_part_has_its_line():
    text = check_text(shipped("lamp_ring"), (), 120)
    assert text.startswith("Two facing rotors light a ring of lamps\n")
    assert "  magnet bar: block 20 x 10 x 5 mm, 1.2 T\n" in text
    assert "  coil pickup: 1364 turns, opening 14 x 20 mm, length 10 mm, build 6.929 mm;" in text


def test_the_skin_of_solid_iron_is_told():
    lines = check("bolt_beside_magnets")
    at = lines.index("  core of coil pickup: rod, diameter 8 mm, length 50 mm, mild steel")
    assert lines[at + 1] == "    flux that changes at 50 Hz keeps to a skin of 1.233 mm"
    assert check_json(shipped("bolt_beside_magnets"), ())["skin_depth_at_50_Hz_m"] == {
        "core of pickup": pytest.approx(1.2328e-3, rel=1e-4)
    }
    ferrite = check("bolt_beside_magnets", {"coils.pickup.core.material": "ferrite rod"})
    assert "skin" not in "".join(ferrite)


def test_a_slit_tube_is_told():
    core = {"shape": "tube", "outer": "8 mm", "inner": "5 mm", "length": "50 mm", "slit": True}
    (line,) = (
        line for line in check("bolt_beside_magnets", {"coils.pickup.core": core}) if "core" in line
    )
    assert "length 50 mm, slit along its axis, mild steel" in line
