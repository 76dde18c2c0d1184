"""Gears as described: defaults, ratios, and one-line errors at the right key."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
import yaml
from machines import shipped
from sections import complaint

from fieldsim.errors import ImpossibleError
from fieldsim.machine.gearing import Gears, GearWheel
from fieldsim.machine.machine import Machine
from fieldsim.machine.part import PartError, made_from

BIG = {"teeth": 60, "on": "crank"}


def geared(gears: dict, **ratios: Fraction | None) -> Machine:
    """Return a machine with gears and rotors, each far from the others."""
    one = shipped("one_rotor")
    rotors = tuple(
        replace(
            one.rotors[0],
            name=name,
            gear_ratio=ratio,
            shaft=replace(one.rotors[0].shaft, through=(0.0, 0.0, 0.1 * place)),
        )
        for place, (name, ratio) in enumerate(ratios.items())
    )
    return replace(one, rotors=rotors, gears=made_from(Gears, gears, in_file=True))


def test_several_steps_and_both_senses():
    train = geared(
        {
            "mesh_efficiency": "90 %",
            "wheels": {
                "big": BIG,
                "small": {"teeth": 20, "driven_by": "big"},
                "next": {"teeth": 45, "on": "small"},
                "left": {"teeth": 15, "driven_by": "next", "rotors": "upper"},
                "right": {
                    "teeth": 15,
                    "driven_by": "next",
                    "sense": "same",
                    "efficiency": "98 %",
                    "rotors": ["lower", "third"],
                },
            },
        },
        upper=None,
        lower=Fraction(-9),
        third=None,
    ).train
    assert train.ratios == {"upper": 9, "lower": -9, "third": -9}
    assert train.efficiencies["upper"] == pytest.approx(0.81)
    assert train.efficiencies["lower"] == pytest.approx(0.9 * 0.98)


def test_default_efficiency_is_the_stated_one():
    wheels = {"big": BIG, "small": {"teeth": 20, "driven_by": "big", "rotors": "r"}}
    assert geared({"wheels": wheels}, r=None).train.efficiencies == {"r": 0.95}


def test_a_ratio_that_wheels_make_is_kept_by_the_wheels_alone():
    """A stated ratio that agrees is dropped, so that changed teeth change the ratio."""
    wheels = {"big": BIG, "small": {"teeth": 20, "driven_by": "big", "rotors": "r"}}
    machine = geared({"wheels": wheels}, r=Fraction(-3))
    assert machine == geared({"wheels": wheels}, r=None)
    assert machine.rotor("r").gear_ratio is None
    assert machine.placed_rotor("r").gear_ratio == -3
    assert machine.changed({"gears.wheels.big.teeth": 80}).placed_rotor("r").gear_ratio == -4


def test_a_ratio_that_contradicts_the_wheels_is_refused():
    wheels = {"big": BIG, "small": {"teeth": 20, "driven_by": "big", "rotors": "r"}}
    with pytest.raises(PartError) as caught:
        geared({"wheels": wheels}, r=Fraction(3))
    assert caught.value.path[:2] == ("rotors", "r")
    assert "\n" not in str(caught.value)


def test_one_rotor_needs_no_list():
    one = GearWheel("small", 14, driven_by="big", rotors="upper")
    assert one == GearWheel("small", 14, driven_by="big", rotors=("upper",))


def test_no_gears_are_false_and_each_rotor_keeps_its_ratio():
    assert not Gears()
    machine = replace(shipped("one_rotor"), gears=Gears())
    assert machine.train.ratios == {"upper": 9}


@pytest.mark.parametrize(
    ("wheels", "message"),
    [
        ({"small": {"teeth": 20, "driven_by": "none"}}, 'no wheel is called "none"'),
        ({"a": {"teeth": 9, "on": "b"}, "b": {"teeth": 9, "on": "a"}}, "in a loop"),
        ({"a": {"teeth": 9, "on": "crank", "rotors": "nobody"}}, "nobody"),
        ({"crank": {"teeth": 9, "on": "crank"}}, "stands for the crank's axle"),
    ],
)
def test_trains_that_cannot_be(wheels, message):
    with pytest.raises(ImpossibleError) as caught:
        geared({"wheels": wheels}, r=None)
    assert message in str(caught.value)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("wheel", "key", "message"),
    [
        ({"teeth": 0, "on": "crank"}, "teeth", "cannot have 0 teeth; allowed: a whole number"),
        ({"teeth": -20, "on": "crank"}, "teeth", "cannot have -20 teeth"),
        ({"teeth": 12.5, "on": "crank"}, "teeth", "cannot have 12.5 teeth"),
        ({"teeth": float("nan"), "on": "crank"}, "teeth", "cannot have nan teeth"),
        ({"teeth": float("inf"), "on": "crank"}, "teeth", "cannot have inf teeth"),
        ({"teeth": 10**9, "on": "crank"}, "teeth", "cannot have 1000000000 teeth"),
        ({"teeth": True, "on": "crank"}, "teeth", "bool is not a number of teeth"),
        ({"teeth": "many", "on": "crank"}, "teeth", '"many" is not a number of teeth'),
        ({"teeth": 20}, None, 'has neither of "on" and "driven_by"'),
        ({"teeth": 20, "on": "crank", "driven_by": "b"}, None, 'has both of "on" and "driven_by"'),
        ({"teeth": 20, "on": "crank", "sense": "same"}, None, '"sense" belongs to a mesh'),
        ({"teeth": 20, "on": "crank", "efficiency": "90 %"}, None, '"efficiency" belongs to'),
        ({"teeth": 20, "driven_by": "b", "sense": "left"}, "sense", "is one of: opposite"),
        ({"teeth": 20, "driven_by": "b", "efficiency": "0 %"}, "efficiency", "out of range"),
        ({"teeth": 20, "driven_by": "b", "efficiency": "101 %"}, "efficiency", "out of range"),
        ({"teeth": 20, "driven_by": "b", "efficiency": 0.9}, "efficiency", "no unit"),
        ({"teeth": 20, "on": "two words"}, "on", "cannot be a name"),
        ({"tooth": 20, "on": "crank"}, "tooth", 'did you mean "teeth"'),
    ],
)
def test_wrong_wheels(wheel, key, message):
    first = complaint(Gears, yaml.safe_dump({"wheels": {"a": wheel}}))
    assert message in first.text
    assert first.path == (("wheels", "a") if key is None else ("wheels", "a", key))
