"""Steps for iron: what grows, what stays, and what a machine without iron is not offered."""

from __future__ import annotations

from dataclasses import replace

import pytest
from machines import shipped

from fieldsim.errors import ImpossibleError
from fieldsim.machine.clearance.coil_distance import coil_distance_m
from fieldsim.machine.iron import Block, Core, Tube
from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.studies.iron_levers import iron_levers
from fieldsim.studies.sensitivity import sensitivity

MM = 1e-3


@pytest.fixture(scope="module")
def bolt():
    return shipped("bolt_beside_magnets")


def lever(machine, name):
    return {each.name: each for each in iron_levers(machine)}[name]


def with_core(machine, core):
    return replace(machine, coils=(replace(machine.coils[0], core=core),))


@pytest.mark.parametrize("sign", [1, -1])
def test_a_core_grows_away_from_the_magnets(sign, bolt):
    change = lever(bolt, "core length").more if sign > 0 else lever(bolt, "core length").less
    core = change(bolt).coils[0].core
    assert core.shape.length == pytest.approx((50 + 5 * sign) * MM)
    assert core.offset == pytest.approx((-8 - 2.5 * sign) * MM)  # the magnets are above it
    assert coil_distance_m(change(bolt), "pickup") == pytest.approx(2.5 * MM, abs=1e-9)
    assert with_core(change(bolt), bolt.coils[0].core) == bolt


def test_a_coil_turned_over_lets_it_grow_at_its_other_end(bolt):
    coil = bolt.coils[0]
    turned = replace(coil, axis=(0, 0, -1), core=replace(coil.core, offset=8 * MM))
    over = replace(bolt, coils=(turned,))
    core = lever(over, "core length").more(over).coils[0].core
    assert core.offset == pytest.approx(10.5 * MM)


def test_between_two_rotors_it_cannot_grow():
    machine = with_core(shipped("two_facing_rotors"), Core(Tube("6 mm", "4 mm", "14 mm")))
    with pytest.raises(ImpossibleError, match="magnets at both ends of its core"):
        lever(machine, "core length").more(machine)


@pytest.mark.parametrize(
    ("core", "sizes"),
    [
        (Core(Tube("8 mm", "6 mm", "40 mm")), (9 * MM, 9 * MM, 40 * MM)),
        (Core(Block(("8 mm", "6 mm", "40 mm"))), (9 * MM, 7 * MM, 40 * MM)),
    ],
)
def test_thicker(core, sizes, bolt):
    machine = with_core(bolt, core)
    thicker = lever(machine, "core thickness")
    assert thicker.more(machine).coils[0].core.shape.size == pytest.approx(sizes)
    assert lever(bolt, "core thickness").more(bolt).coils[0].core.shape.diameter == pytest.approx(
        9 * MM
    )


@pytest.mark.parametrize(
    ("core", "name"),
    [
        (Core(Tube("8 mm", "7.5 mm", "40 mm")), "core thickness"),
        (Core(Block(("1.5 mm", "6 mm", "40 mm"))), "core thickness"),
        (Core(Block(("8 mm", "6 mm", "5 mm")), offset="20 mm"), "core length"),
    ],
)
def test_nothing_is_left(core, name, bolt):
    machine = with_core(bolt, core)
    with pytest.raises(ImpossibleError, match="nothing would be left of the core"):
        lever(machine, name).less(machine)


def test_what_a_machine_lacks_is_not_offered(bolt):
    assert iron_levers(shipped("one_rotor")) == ()
    assert [each.name for each in iron_levers(bolt)] == ["core length", "core thickness", "core"]
    assert [each.name for each in iron_levers(shipped("steel_discs"))] == ["iron"]


def test_the_light_without_the_bolt_is_what_that_machine_gives(bolt):
    point = OperatingPoint(bolt, "60 rpm")
    found = {each.name: each for each in sensitivity(point).levers}
    bare = OperatingPoint(with_core(bolt, Core()), "60 rpm").figures["pickup"].rms_V
    assert found["core"].more.rms_V == pytest.approx(bare, rel=1e-3)
    assert found["core"].more.voltage_gain < -0.5
    assert found["core length"].more.voltage_gain > 0.01
    assert found["core thickness"].more.voltage_gain > 0.01
