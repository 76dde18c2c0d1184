"""The ``gears`` section: defaults, and one-line errors at the right key."""

from __future__ import annotations

from fractions import Fraction

import pytest
from fieldsim.machine_file.gears_schema import GearsSection
from pydantic import ValidationError

BIG = {"teeth": 60, "on": "crank"}


def section(**wheels):
    return GearsSection.model_validate({"wheels": wheels})


def test_several_steps_and_both_senses():
    train = GearsSection.model_validate(
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
        }
    ).train({"upper": None, "lower": Fraction(-9), "third": None})
    assert train.ratios == {"upper": 9, "lower": -9, "third": -9}
    assert train.efficiencies["upper"] == pytest.approx(0.81)
    assert train.efficiencies["lower"] == pytest.approx(0.9 * 0.98)


def test_default_efficiency_is_the_stated_one():
    train = section(big=BIG, small={"teeth": 20, "driven_by": "big", "rotors": "r"})
    assert train.train({"r": None}).efficiencies == {"r": 0.95}


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
        ({"tooth": 20, "on": "crank"}, None, 'did you mean "teeth"'),
    ],
)
def test_wrong_wheels(wheel, key, message):
    with pytest.raises(ValidationError) as caught:
        section(a=wheel)
    first = caught.value.errors()[0]
    assert message in first["msg"]
    assert "\n" not in first["msg"]
    place = ("wheels", "a") if key is None else ("wheels", "a", key)
    assert first["loc"] == place
