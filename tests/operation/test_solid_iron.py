"""Cautions about solid iron whose eddy currents are left out though they matter."""

from __future__ import annotations

from dataclasses import replace

import pytest
from machines import shipped

from fieldsim.cautions import Hazard
from fieldsim.field.iron.skin_effect import skin_depth_m
from fieldsim.machine.iron import Ball, Disc, IronPiece, Rod, Tube
from fieldsim.machine.materials import MATERIALS
from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.operation.solid_iron import solid_iron_cautions

BOLTED = shipped("bolt_beside_magnets")
TUBE = Tube("8 mm", "4 mm", "50 mm")


def with_core(**keys):
    (coil,) = BOLTED.coils
    return replace(BOLTED, coils=(replace(coil, core=replace(coil.core, **keys)),))


def beside(piece):
    return replace(BOLTED.changed({"coils.pickup.core": None}), iron=(piece,))


def cautioned(machine, speed="120 rpm"):
    return solid_iron_cautions(OperatingPoint(machine, speed, tolerance=1e-3))


@pytest.mark.parametrize(
    ("machine", "due"),
    [
        (BOLTED, False),
        (with_core(shape=TUBE), True),
        (with_core(shape=replace(TUBE, slit=True)), False),
        (with_core(shape=TUBE, material="laminated steel"), False),
        (with_core(shape=TUBE, material="ferrite rod"), False),
        (beside(IronPiece("piece", Ball("12 mm"), (0, 0.052, 0.0))), True),
        (beside(IronPiece("piece", Rod("8 mm", "40 mm"), (0, 0.03, 0.037), (0, 0, 1))), False),
        (beside(IronPiece("piece", Rod("8 mm", "40 mm"), (0, 0.3, 0.037), (0, 0, 1))), False),
        (beside(IronPiece("piece", Disc("84 mm", "6 mm"), (0, 0, 0.024), (0, 0, 1))), True),
        (beside(IronPiece("piece", Disc("84 mm", "6 mm"), (0, 0, 0.024), on="wheel")), False),
    ],
    ids=["bolt", "tube", "slit tube", "sheets", "ferrite", "ball", "rod on end", "far off",
         "disc that stands", "disc that turns"],
)  # fmt: skip
def test_what_is_left_out_is_cautioned(machine, due):
    found = cautioned(machine)
    assert [caution.kind for caution in found] == [Hazard.SOLID_IRON] * due


def test_a_rod_across_the_field_is_cautioned():
    """Between unlike poles, its middle where the field is across."""
    lying = IronPiece("piece", Rod("8 mm", "20 mm"), (0.03, 0, 0.0), (1, 0, 0))
    (caution,) = cautioned(beside(lying))
    assert caution.where == "piece"


def test_it_tells_skin_and_half_thickness():
    (caution,) = cautioned(with_core(shape=TUBE))
    assert caution.limit == pytest.approx(2e-3)
    assert caution.facts["frequency_Hz"] == pytest.approx(24.0)
    slow = cautioned(with_core(shape=TUBE), "2 rpm")
    assert slow == ()


def test_the_skin_is_that_of_the_frequency():
    piece = IronPiece("piece", Ball("12 mm"), (0, 0.052, 0.0))
    (caution,) = cautioned(beside(piece))
    omega = 2 * 3.14159265 * caution.facts["frequency_Hz"]
    assert caution.value == pytest.approx(float(skin_depth_m(MATERIALS["mild steel"], omega)))


def test_screens_tell_it():
    point = OperatingPoint(with_core(shape=TUBE), "120 rpm", tolerance=1e-3)
    assert Hazard.SOLID_IRON in {caution.kind for caution in point.light.cautions}
    assert {caution.kind for caution in point.effort.solid_iron} == {Hazard.SOLID_IRON}
