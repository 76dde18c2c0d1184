"""When iron is past its knee, and how much too high that makes the voltage."""

from __future__ import annotations

import pytest
from machines import shipped

from fieldsim.cautions import Hazard
from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.operation.saturation import KNEE, flux_densities_T
from fieldsim.words.emf_text import emf_text


@pytest.fixture(scope="module")
def bolt():
    return shipped("bolt_beside_magnets")


def cautions(machine, **values):
    return OperatingPoint(machine.changed(values), "60 rpm").saturation


def test_a_thick_bolt_is_far_from_its_knee(bolt):
    assert flux_densities_T(bolt)["core of pickup"] < KNEE * 2.0
    assert OperatingPoint(bolt, "60 rpm").saturation == ()


def test_a_thin_one_is_past_it_and_the_voltage_too_high(bolt):
    thin = bolt.changed({"coils.pickup.core.diameter": "3 mm"})
    point = OperatingPoint(thin, "60 rpm")
    (caution,) = point.saturation
    assert caution.kind is Hazard.SATURATED_IRON
    assert caution.where == "core of pickup"
    assert caution.value == flux_densities_T(thin)["core of pickup"] > 2.0 > caution.limit == 1.5
    assert 1.0 < caution.facts["left_permeability"] < 100
    # no more than all that the bolt gives
    bare = OperatingPoint(bolt.changed({"coils.pickup.core": None}), "60 rpm")
    most = 1 - bare.figures["pickup"].rms_V / point.figures["pickup"].rms_V
    assert 0.05 < caution.facts["too_high"] < most
    words = " ".join(emf_text(point).split())
    assert f"voltage may be too high by up to {100 * caution.facts['too_high']:.2g} %" in words


@pytest.mark.parametrize(
    ("diameter", "material"),
    [("3 mm", "mild steel"), ("2 mm", "soft iron"), ("8 mm", "ferrite rod")],
)
def test_with_what_is_left_of_its_permeability_it_carries_what_saturation_allows(
    bolt, diameter, material
):
    core = "coils.pickup.core"
    thin = bolt.changed({f"{core}.diameter": diameter, f"{core}.material": material})
    (caution,) = OperatingPoint(thin, "60 rpm").saturation
    left, most = caution.facts["left_permeability"], caution.facts["saturation_T"]
    again = thin.changed({f"{core}.material": {"permeability": left}})
    carried = flux_densities_T(again)["core of pickup"]
    # M = chi H/(1 + chi H/Ms): what is left is 1 - M/Ms of what there was
    chi = caution.facts["permeability"] - 1
    assert left - 1 == pytest.approx(chi * (1 - carried / most), rel=0.3)
    assert carried < most * (1 + 1 / left)  # of B, some of which is not the iron's


def test_without_a_saturation_there_is_no_caution(bolt):
    endless = {"coils.pickup.core.diameter": "3 mm"}
    endless["coils.pickup.core.material"] = {"permeability": 500}
    assert cautions(bolt, **endless) == ()


def test_a_material_that_saturates_early(bolt):
    (caution,) = cautions(bolt, **{"coils.pickup.core.material": "ferrite rod"})
    assert caution.limit == pytest.approx(KNEE * 0.35)


def test_light_says_so_too(bolt):
    thin = bolt.changed({"coils.pickup.core.diameter": "3 mm"})
    kinds = {caution.kind for caution in OperatingPoint(thin, "60 rpm").light.cautions}
    assert Hazard.SATURATED_IRON in kinds


def test_another_speed_asks_nothing_of_the_iron_again(bolt):
    point = OperatingPoint(bolt.changed({"coils.pickup.core.diameter": "3 mm"}), "60 rpm")
    assert point.saturation
    assert point.changed({}, 2.0).saturation is point.saturation
    thick = point.changed({"coils.pickup.core.diameter": "8 mm"})
    assert thick.saturation == ()
