"""Grades of the trade in place of a remanence: read, remembered, written, compared by value."""

import copy
import json
import pickle
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from machines import shipped
from sections import complaint, section

import fieldsim as fs
from fieldsim.machine.machine import Machine
from fieldsim.machine.magnets import Magnet
from fieldsim.machine_file.writer import machine_text

SIZE = "name: bar\nsize: [20 mm, 10 mm, 5 mm]\n"


@pytest.mark.parametrize("name", fs.magnet_grades())
def test_a_grade_is_read_as_the_middle_of_its_range(name):
    grade = fs.magnet_grades()[name]
    for written in (name, name.lower(), name.upper()):
        magnet = section(Magnet, f"{SIZE}remanence: {written}")
        assert magnet.grade == grade.name == name
        assert magnet.remanence_range_T == (grade.least_T, grade.most_T)
        assert magnet.remanence == pytest.approx((grade.least_T + grade.most_T) / 2, abs=1e-9)


def test_neodymium_grades_follow_each_other_upwards():
    found = [grade for grade in fs.magnet_grades().values() if grade.material == "neodymium"]
    assert " ".join(grade.name for grade in found) == "N35 N38 N40 N42 N45 N48 N50 N52"
    for weaker, stronger in pairwise(found):
        assert weaker.least_T < weaker.most_T
        assert weaker.least_T < stronger.least_T
        assert weaker.most_T < stronger.most_T
        assert stronger.least_T <= weaker.most_T + 1e-9  # no remanence falls between two
    assert all("no published source" in grade.source for grade in found)


def test_ferrite_of_any_grade_covers_the_named_ones():
    kinds = fs.magnet_grades()
    for name in ("Y10T", "Y30", "Y35"):
        assert kinds["ferrite"].least_T <= kinds[name].least_T
        assert kinds[name].most_T <= kinds["ferrite"].most_T


def test_a_plain_number_has_no_grade():
    magnet = section(Magnet, f"{SIZE}remanence: 1.3 T")
    assert (magnet.grade, magnet.remanence_range_T) == ("", (1.3, 1.3))


def test_equality_is_of_the_value():
    bought, stated = (section(Magnet, f"{SIZE}remanence: {r}") for r in ("N42", "1.3 T"))
    assert bought == stated
    assert hash(bought) == hash(stated)
    assert bought != section(Magnet, f"{SIZE}remanence: N45")


def graded(grade="N42") -> Machine:
    return shipped("lamp_ring").changed({"magnets.bar.remanence": grade})


def test_the_grade_is_written_and_read_back(tmp_path):
    fs.write(graded(), tmp_path / "a.yaml")
    assert "remanence: N42" in (tmp_path / "a.yaml").read_text()
    assert fs.read(tmp_path / "a.yaml").magnets[0].grade == "N42"


@pytest.mark.parametrize(
    "copied", [copy.copy, copy.deepcopy, lambda m: pickle.loads(pickle.dumps(m)), replace]
)
def test_copies_remember_it(copied):
    magnet = copied(graded().magnets[0])
    assert (magnet.grade, magnet.remanence) == ("N42", 1.3)


def test_another_change_keeps_it_and_another_strength_does_not():
    machine = graded().changed({"clearance": "4 mm", "coils.pickup.wire.gauge": "AWG 30"})
    assert machine.magnets[0].grade == "N42"
    stronger = machine.changed({"magnets.bar.remanence": 1.3 * 1.1})
    assert stronger.magnets[0].grade == ""
    assert "remanence: N42" not in machine_text(stronger)


def test_it_is_a_parameter_with_a_number():
    (found,) = (p for p in fs.parameters(graded()) if p.path == "magnets.bar.remanence")
    assert (found.value, found.unit, found.text) == (1.3, "T", "N42")
    assert json.loads(json.dumps(found.value)) == 1.3


def test_grades_can_be_varied():
    study = fs.vary(
        fs.OperatingPoint(shipped("one_rotor"), "90 rpm", tolerance=1e-3),
        {"magnets.bar.remanence": ["N35", "N52", "1.455 T"]},
    )
    weak, strong, same = (row.coils["pickup"].rms_V for row in study.rows)
    assert strong / weak == pytest.approx(1.455 / 1.195, rel=1e-9)
    assert same == strong


@pytest.mark.parametrize(
    ("written", "words"),
    [
        ("N43", '"N43" is no grade (N35, N38, N40, N42, N45, N48, N50, N52, ferrite, Y10T,'),
        ("strong", '"strong" is no grade (N35'),
        ("N42SH", '"N42SH" is no grade; write "N42": the letters after it tell what heat it'),
        ("n38 m", '"n38 m" is no grade; write "N38": the letters'),
        ("N43SH", '"N43SH" is no grade (N35'),
        ("1.3", '1.3 has no unit; write it like "1.2 T"'),
        ("[N42]", "a list is not a flux density"),
        ("3 T", '"3 T" is out of range; allowed: 0.001 T to 2 T'),
    ],
)
def test_what_is_no_grade_is_refused(written, words):
    found = complaint(Magnet, f"{SIZE}remanence: {written}")
    assert found.path == ("remanence",)
    assert found.text.startswith(words)


@given(st.text(max_size=12))
def test_any_text_is_read_or_refused(text):
    try:
        magnet = Magnet("bar", fs.Sphere(0.01), text)
    except fs.ImpossibleError as error:
        complained = str(error)
    else:
        assert magnet.grade or 0.001 <= magnet.remanence <= 2
        return
    assert complained.startswith('magnet "bar": remanence: ')
