"""The controls: which parameters, in what words, range, step and unit."""

import math
from pathlib import Path

import pytest

from fieldsim.live.controls import controls, offers
from fieldsim.machine.parameters import parameters
from fieldsim.machine_file.reader import read

GEOMETRIES = sorted((Path(__file__).parents[2] / "geometries").glob("*.yaml"))


def machine(name="lamp_ring"):
    return read(Path(__file__).parents[2] / "geometries" / f"{name}.yaml")


def by_label(of):
    return {control.label: control for control in controls(of)}


@pytest.mark.parametrize("file", GEOMETRIES, ids=lambda f: f.stem)
def test_every_parameter_has_a_control(file):
    made = read(file)
    reached = {path for control in controls(made) for path in control.paths}
    assert {p.path for p in parameters(made)} <= reached


@pytest.mark.parametrize("file", GEOMETRIES, ids=lambda f: f.stem)
def test_every_slider_holds_its_value_and_allows_a_step_up(file):
    made = read(file)
    for control in controls(made):
        if control.choices:
            assert control.value in control.choices
        elif not math.isnan(control.step):
            assert control.least <= control.value <= control.most, control.label
            assert 0 < control.step <= (control.most - control.least) / 2, control.label


@pytest.mark.parametrize("file", GEOMETRIES, ids=lambda f: f.stem)
def test_a_value_written_as_the_page_writes_it_is_the_same_machine(file):
    made = read(file)
    for control in controls(made):
        if control.paths[0].endswith((".clearance", ".turns")) or control.paths == ("clearance",):
            continue  # a distance worked out; turns that the section decides
        if any(word in control.paths[0] for word in (".along[", ".zero[", ".axis[", ".side[")):
            continue  # made unit vectors when they are read
        if control.choices:
            text = str(control.value)
        elif control.unit == "AWG":
            text = f"AWG {control.value:g}"
        else:
            text = f"{control.value!r} {control.unit}".strip()
            text = text.replace(".0 ", " ").removesuffix(".0")
        if text.startswith("{"):
            continue  # a group of keys
        assert made.changed(dict.fromkeys(control.paths, text)) == made, control.label


def test_one_control_moves_both_rotors():
    both = by_label(machine())["each rotor: number of magnets"]
    after = machine().changed(dict.fromkeys(both.paths, "6"))
    assert [len(rotor.magnets) for rotor in after.placed_rotors] == [6, 6]


def test_rotors_that_differ_have_controls_of_their_own():
    unlike = machine().changed({"rotors.upper.magnets[0].count": 6})
    labels = by_label(unlike)
    assert labels["upper: number of magnets"].value == 6
    assert labels["lower: number of magnets"].value == 4
    assert "each rotor: number of magnets" not in labels


def test_alternating_poles_go_by_twos():
    assert by_label(machine())["each rotor: number of magnets"].step == 2
    same = machine().changed(
        {f"rotors.{name}.magnets[0].poles": "same" for name in ("upper", "lower")}
    )
    assert by_label(same)["each rotor: number of magnets"].step == 1


def test_range_stays_while_a_value_moves_a_little():
    ranges = set()
    for clearance in ("2 mm", "2.1 mm", "2.3 mm"):
        control = by_label(machine().changed({"clearance": clearance}))[
            "clearance, magnets to winding"
        ]
        ranges.add((control.least, control.most, control.step))
    assert len(ranges) == 1


def test_turns_of_a_filled_section_can_be_set():
    turns = by_label(machine())["pickup: turns"]
    assert turns.value == machine().coil("pickup").winding.turns
    assert machine().changed({turns.paths[0]: "900"}).coil("pickup").turns == 900


@pytest.mark.parametrize("file", GEOMETRIES, ids=lambda f: f.stem)
def test_each_offer_gives_a_machine(file):
    made = read(file)
    for offer in offers(made):
        assert made.changed({offer.path: offer.value}) != made, offer.words


def test_what_is_taken_away_is_offered_again():
    without = machine().changed({"load.capacitor": None})
    assert "Add a capacitor of 470 uF" in [offer.words for offer in offers(without)]
    dark = machine().changed({"load": None})
    assert "Add lamps behind a bridge" in [offer.words for offer in offers(dark)]
