"""Crank, friction and glue as described."""

from __future__ import annotations

import pytest
import yaml
from sections import complaint

from fieldsim.machine.magnets import North
from fieldsim.machine.mechanics import (
    DEFAULT_HAND_FORCE_N,
    Adhesive,
    Crank,
    Friction,
    NDFEB_DENSITY_kg_m3,
)
from fieldsim.machine.part import made_from


def read(kind, content):
    return made_from(kind, content, in_file=True)


def test_everything_given():
    assert read(Crank, {"arm": "8 cm", "hand_force": "40 N"}) == Crank(0.08, 40.0)
    friction = read(
        Friction,
        {"crank": "20 mN*m", "each_rotor": "2 mN*m", "each_rotor_per_speed": "1e-6 N*m*s/rad"},
    )
    assert friction == Friction(0.02, 0.002, 1e-6)
    glue = read(
        Adhesive,
        {
            "glued_on": "-shaft",
            "area": "180 mm^2",
            "shear_strength": "3 MPa",
            "peel_strength": "0.5 MPa",
            "density": "7600 kg/m^3",
        },
    )
    assert glue.glued_on is North.MINUS_SHAFT
    assert glue.area == pytest.approx(180e-6)
    assert (glue.shear_strength, glue.peel_strength) == pytest.approx((3e6, 0.5e6))
    assert glue.density == pytest.approx(7600)


def test_defaults_guess_no_strength():
    assert read(Adhesive, {}) == Adhesive(None, None, None, None, 7500.0)
    assert read(Friction, {}) == Friction(0.0, 0.0, 0.0)
    assert read(Crank, {"arm": "60 mm"}).hand_force == 60.0
    # Common practice, no published source: kept so that nobody changes them unawares.
    assert (DEFAULT_HAND_FORCE_N, NDFEB_DENSITY_kg_m3) == (60.0, 7500.0)


def test_what_is_not_described_is_false():
    assert not Crank()
    assert not Friction()
    assert not Adhesive()
    assert Crank(0.06)
    assert Friction(each_rotor=1e-3)
    assert Adhesive(density=4900.0)


@pytest.mark.parametrize(
    ("kind", "content", "message"),
    [
        (Crank, {"arm": "0 mm"}, "out of range"),
        (Crank, {"hand_force": "5 N"}, "this key is missing"),
        (Crank, {"arm": "60"}, "no unit"),
        (Crank, {"arm": "60 N"}, "is not a length"),
        (Crank, {"arm": "60 mm", "hand_force": "-5 N"}, "out of range"),
        (Friction, {"crank": "-1 mN*m"}, "out of range"),
        (Friction, {"each_rotor": "1 N"}, "is not a torque"),
        (Friction, {"each_rotors": "1 mN*m"}, 'did you mean "each_rotor"'),
        (Adhesive, {"shear_strength": "0 MPa"}, "out of range"),
        (Adhesive, {"peel_strength": "3 N"}, "is not a stress"),
        (Adhesive, {"glued_on": "below"}, "allowed: +shaft, -shaft, out, in"),
        (Adhesive, {"area": "-1 mm^2"}, "out of range"),
        (Adhesive, {"density": "75 kg/m^3"}, "out of range"),
    ],
)
def test_wrong_values(kind, content, message):
    assert message in complaint(kind, yaml.safe_dump(content)).text
