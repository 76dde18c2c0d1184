"""The optional sections about crank, friction and glue."""

from __future__ import annotations

import pytest
from fieldsim.machine_file.mechanics_schema import AdhesiveSection, CrankSection, FrictionSection
from pydantic import ValidationError

from fieldsim.machine.magnets import North
from fieldsim.machine.mechanics import (
    DEFAULT_HAND_FORCE_N,
    Adhesive,
    Crank,
    Friction,
    NDFEB_DENSITY_kg_m3,
)


def test_everything_given():
    crank = CrankSection.model_validate({"arm": "8 cm", "hand_force": "40 N"})
    assert crank.crank_arm() == Crank(0.08, 40.0)
    friction = FrictionSection.model_validate(
        {"crank": "20 mN*m", "each_rotor": "2 mN*m", "each_rotor_per_speed": "1e-6 N*m*s/rad"}
    )
    assert friction.friction() == Friction(0.02, 0.002, 1e-6)
    glue = AdhesiveSection.model_validate(
        {
            "glued_on": "-shaft",
            "area": "180 mm^2",
            "shear_strength": "3 MPa",
            "peel_strength": "0.5 MPa",
            "density": "7600 kg/m^3",
        }
    ).adhesive()
    assert glue.glued_on is North.MINUS_SHAFT
    assert glue.area_m2 == pytest.approx(180e-6)
    assert (glue.shear_strength_Pa, glue.peel_strength_Pa) == pytest.approx((3e6, 0.5e6))
    assert glue.density_kg_m3 == pytest.approx(7600)


def test_defaults_guess_no_strength():
    assert AdhesiveSection.model_validate({}).adhesive() == Adhesive(None, None, None, None, 7500.0)
    assert FrictionSection.model_validate({}).friction() == Friction(0.0, 0.0, 0.0)
    assert CrankSection.model_validate({"arm": "60 mm"}).crank_arm().hand_force_N == 60.0
    # Common practice, no published source: kept so that nobody changes them unawares.
    assert (DEFAULT_HAND_FORCE_N, NDFEB_DENSITY_kg_m3) == (60.0, 7500.0)


@pytest.mark.parametrize(
    ("kind", "content", "message"),
    [
        (CrankSection, {"arm": "0 mm"}, "out of range"),
        (CrankSection, {"arm": "60"}, "no unit"),
        (CrankSection, {"arm": "60 N"}, "is not a length"),
        (CrankSection, {"arm": "60 mm", "hand_force": "-5 N"}, "out of range"),
        (FrictionSection, {"crank": "-1 mN*m"}, "out of range"),
        (FrictionSection, {"each_rotor": "1 N"}, "is not a torque"),
        (FrictionSection, {"each_rotors": "1 mN*m"}, 'did you mean "each_rotor"'),
        (AdhesiveSection, {"shear_strength": "0 MPa"}, "out of range"),
        (AdhesiveSection, {"peel_strength": "3 N"}, "is not a stress"),
        (AdhesiveSection, {"glued_on": "below"}, "allowed: +shaft, -shaft, out, in"),
        (AdhesiveSection, {"area": "-1 mm^2"}, "out of range"),
        (AdhesiveSection, {"density": "75 kg/m^3"}, "out of range"),
    ],
)
def test_wrong_values(kind, content, message):
    with pytest.raises(ValidationError) as caught:
        kind.model_validate(content)
    text = caught.value.errors()[0]["msg"]
    assert message in text
    assert "\n" not in text
