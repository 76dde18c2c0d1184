"""What a load gets with weak and with strong magnets."""

from __future__ import annotations

import pytest
from machines import shipped

from fieldsim.machine.assumptions import REMANENCE, USUAL
from fieldsim.machine.parameters import parameters
from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.operation.spread import load_ranges

RING = OperatingPoint(shipped("lamp_ring"), "90 rpm", tolerance=1e-4)


def test_lamps_range_as_with_other_magnets():
    (found,) = load_ranges(RING)
    remanence = RING.machine.magnets[0].remanence
    for factor, said in ((0.95, found.least), (1.05, found.most)):
        other = RING.changed({"magnets.bar.remanence": factor * remanence})
        # both are solved to about 1e-3 of the lamps' current
        assert said == pytest.approx(other.light.lamps[0].average_current_A, rel=2e-3)
    assert found.label == "white LED"
    assert found.least < RING.light.lamps[0].average_current_A < found.most


def test_power_of_a_resistor_goes_with_the_square():
    plain = RING.machine.changed(
        {"load.rectifier": None, "load.diode": None, "load.capacitor": None, "load.lamps": None,
         "load.resistor": "100 ohm"}
    )  # fmt: skip
    (found,) = load_ranges(OperatingPoint(plain, "90 rpm", tolerance=1e-4))
    assert found.label == ""
    assert found.most / found.least == pytest.approx((1.05 / 0.95) ** 2, rel=1e-3)


def test_nothing_to_say_without_load_or_voltage():
    assert load_ranges(OperatingPoint(shipped("one_rotor"), tolerance=1e-3)) == ()
    against = RING.machine.changed({"rotors.lower.magnets[0].north": "-shaft"})
    assert load_ranges(OperatingPoint(against, tolerance=1e-3)) == ()


def test_assumptions_are_about_parameters_and_in_their_units():
    known = {each.path: each for each in parameters(shipped("lamp_ring"))}
    assert REMANENCE.path.replace("*", "bar") in known
    for each in USUAL:
        assert each.within > 0
        found = known.get(each.path.replace("*", "bar"))
        assert found is None or each.unit in ("", found.unit)
