"""The distance of a coil as one number: which way it moves, and where that makes no sense."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from machines import shipped

from fieldsim.errors import ImpossibleError
from fieldsim.machine.clearance.clearance_change import clearance_m
from fieldsim.machine.clearance.clearances import check_collisions
from fieldsim.machine.clearance.coil_distance import (
    coil_distance_m,
    way_of_coil,
    with_coil_distance,
)
from fieldsim.machine.iron import Core
from fieldsim.machine.parameters import changed, parameter, parameters

MM = 1e-3


@pytest.fixture(scope="module")
def bolt():
    return shipped("bolt_beside_magnets")


def test_without_a_core_it_is_the_clearance(bolt):
    bare = replace(bolt, coils=(replace(bolt.coils[0], core=Core()),))
    assert coil_distance_m(bare, "pickup") == pytest.approx(clearance_m(bare), abs=1e-9)
    # the winding ends at z = 2 mm, the magnets begin at 9.5 mm; the bolt ends at 7 mm
    assert coil_distance_m(bare, "pickup") == pytest.approx(7.5 * MM, abs=1e-9)
    assert coil_distance_m(bolt, "pickup") == pytest.approx(2.5 * MM, abs=1e-9)


@pytest.mark.parametrize("distance_m", [0.5 * MM, 2.5 * MM, 8 * MM, 0.34])
def test_the_coil_moves_along_its_axis_and_nothing_else_does(distance_m, bolt):
    moved = with_coil_distance(bolt, distance_m, "pickup")
    assert coil_distance_m(moved, "pickup") == pytest.approx(distance_m, abs=2e-9)
    way = np.subtract(moved.coils[0].centre, bolt.coils[0].centre)
    assert way == pytest.approx([0, 0, 2.5 * MM - distance_m], abs=2e-9)
    assert replace(moved, coils=bolt.coils) == bolt
    assert with_coil_distance(moved, 2.5 * MM, "pickup").coils[0].centre == pytest.approx(
        bolt.coils[0].centre, abs=3e-9
    )


def test_a_coil_that_lies_along_the_way_of_the_magnets_moves_outwards(bolt):
    """Its axis is tangential, so it cannot leave by it; it stands farther out than the magnets."""
    rotor = bolt.rotors[0]
    level = tuple(replace(mount, height=0.0) for mount in rotor.magnets)
    coil = replace(
        bolt.coils[0], core=Core(), centre=(0, 60 * MM, 0), axis=(1, 0, 0), side=(0, 0, 1)
    )
    machine = replace(bolt, rotors=(replace(rotor, magnets=level),), coils=(coil,))
    check_collisions(machine)
    assert way_of_coil(machine, "pickup") == pytest.approx([0, 1, 0])
    moved = with_coil_distance(machine, 20 * MM, "pickup")
    assert moved.coils[0].centre[1] > 60 * MM
    assert coil_distance_m(moved, "pickup") == pytest.approx(20 * MM, abs=2e-9)


def test_a_coil_between_two_rotors_has_none():
    machine = shipped("two_facing_rotors")
    with pytest.raises(ImpossibleError, match=r"coils\.pickup.*more than one side"):
        changed(machine, {"coils.pickup.distance": "5 mm"})
    assert "coils.pickup.distance" not in {each.path for each in parameters(machine)}


def test_where_other_magnets_stand_in_the_way():
    machine = shipped("three_rotors")
    with pytest.raises(ImpossibleError, match=r"coils\.near: no straight move .* 4 mm"):
        changed(machine, {"coils.near.distance": "4 mm"})


def test_parts_that_collide_can_be_freed(bolt):
    into = changed(bolt, {"coils.pickup.core.offset": "-5 mm"})
    assert coil_distance_m(into, "pickup") < 0
    check_collisions(changed(into, {"coils.pickup.distance": "1 mm"}))


def test_it_is_a_parameter(bolt):
    found = parameter(bolt, "coils.pickup.distance")
    assert (found.text, found.unit, found.step) == ("2.5 mm", "m", 1 * MM)
    assert "core" in found.words
