"""What ``check`` says of a machine, word by word where a number could go astray."""

from __future__ import annotations

from machines import shipped

from fieldsim.words.check_text import check_text


def test_a_start_angle_is_said_in_degrees():
    machine = shipped("lamp_ring")
    turned = machine.changed({"rotors.upper.start": "22.5 deg"})
    lines = {line.split(":")[0].strip(): line for line in check_text(turned, (), 140).splitlines()}
    assert lines["rotor upper"].endswith("so its angle grows, starts at 22.5 deg")
    assert "starts at" not in check_text(machine, ())


def test_every_part_has_its_line():
    text = check_text(shipped("lamp_ring"), (), 120)
    assert text.startswith("Two facing rotors light a ring of lamps\n")
    assert "  magnet bar: block 20 x 10 x 5 mm, 1.2 T\n" in text
    assert "  coil pickup: 1364 turns, opening 14 x 20 mm, length 10 mm, build 6.929 mm;" in text
