"""Each lever changes the one thing that it names, and leaves the clearance alone."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from fieldsim.errors import ImpossibleError
from fieldsim.machine.clearance.clearances import rotor_to_winding_m
from fieldsim.machine.machine import Machine
from fieldsim.machine.magnets import Cylinder, Sphere
from fieldsim.machine_file.reader import read
from fieldsim.studies.levers import STEP_M, STEP_SHARE, gap_follows_shaft, levers

GEOMETRIES = Path(__file__).parents[2] / "geometries"


@pytest.fixture(scope="module")
def one() -> Machine:
    return read(GEOMETRIES / "one_rotor.yaml")


@pytest.fixture(scope="module")
def pair() -> Machine:
    return read(GEOMETRIES / "two_facing_rotors.yaml")


@pytest.fixture(scope="module")
def inside() -> Machine:
    return read(GEOMETRIES / "bar_inside_coil.yaml")


def lever(geometry, name):
    return {lever.name: lever for lever in levers(geometry)}[name]


def gaps(geometry):
    return np.array([rotor_to_winding_m(r, geometry.placed_coils) for r in geometry.placed_rotors])


def test_gap_moves_every_rotor_by_a_millimetre(pair):
    for change, sign in ((lever(pair, "gap").more, -1), (lever(pair, "gap").less, 1)):
        # 1 nm: the places are found by a root finder to 0.1 nm
        assert np.allclose(gaps(change(pair)), gaps(pair) + sign * STEP_M, atol=1e-9)


def test_gap_is_refused_where_it_would_touch(one):
    near = one.changed({"rotors.upper.shaft.through[2]": "-2.5 mm"})
    with pytest.raises(ImpossibleError, match=r"magnets would touch the winding: only 0\.5"):
        lever(near, "gap").more(near)


def test_magnets_inside_a_coil_have_no_gap_along_their_shaft(inside, one):
    assert gap_follows_shaft(one)
    assert not gap_follows_shaft(inside)
    with pytest.raises(ImpossibleError, match="does not change the clearance"):
        lever(inside, "gap").less(inside)


def test_a_thin_gap_still_follows_the_shaft(one):
    near = one.changed({"rotors.upper.shaft.through[2]": "-2.5 mm"})
    assert gap_follows_shaft(near)


@pytest.mark.parametrize(("name", "edge"), [("magnet length", 0), ("magnet width", 1),
                                            ("magnet thickness", 2)])  # fmt: skip
def test_magnet_edges_grow_alone_and_keep_the_gap(pair, name, edge):
    for change, sign in ((lever(pair, name).more, 1), (lever(pair, name).less, -1)):
        changed = change(pair)
        grown = np.subtract(changed.magnets[0].size, pair.magnets[0].size)
        # rounding of sums of lengths
        assert np.allclose(grown, sign * STEP_M * np.eye(3)[edge], atol=1e-15)
        placed = [m for r in changed.placed_rotors for m in r.magnets]
        assert all(m.magnet == changed.magnets[0] for m in placed)
        assert np.allclose(gaps(changed), gaps(pair), atol=1e-9)


def test_remanence_changes_nothing_else(pair):
    changed = lever(pair, "remanence").more(pair)
    assert changed.magnets[0].remanence == pytest.approx(1.2 * (1 + STEP_SHARE))
    back = replace(changed.magnets[0], remanence=1.2)
    assert back == pair.magnets[0]
    assert [r.shaft for r in changed.rotors] == [r.shaft for r in pair.rotors]


def test_radius_moves_magnets_and_not_the_coil(pair):
    changed = lever(pair, "magnet radius").less(pair)
    assert {m.radius for r in changed.rotors for m in r.magnets} == {22e-3 - STEP_M}
    assert changed.coils == pair.coils


def test_circle_moves_both(pair):
    changed = lever(pair, "circle radius").more(pair)
    assert {m.radius for r in changed.rotors for m in r.magnets} == {22e-3 + STEP_M}
    assert np.allclose(changed.coils[0].centre, (0.0, 23e-3, 0.0), atol=1e-15)


def test_what_a_machine_lacks_is_not_offered(inside, one):
    names = {lever.name for lever in levers(inside)}
    assert not names & {"magnet radius", "circle radius", "wire gauge", "magnet diameter"}
    assert "wire gauge" not in {lever.name for lever in levers(one)}
    three = read(GEOMETRIES / "three_rotors.yaml")
    assert "circle radius" not in {lever.name for lever in levers(three)}


def test_opening_changes_one_side(one):
    for name, which in (
        ("coil opening along its side", 0),
        ("coil opening across its side", 1),
    ):
        changed = lever(one, name).more(one)
        grown = np.subtract(changed.coils[0].opening, one.coils[0].opening)
        assert np.allclose(grown, STEP_M * np.eye(2)[which], atol=1e-15)
        assert changed.coils[0].turns == one.coils[0].turns


def test_speed_leaves_the_machine_as_it_is(one):
    speed = lever(one, "crank speed")
    assert speed.more(one) is one
    assert (speed.speed_more, speed.speed_less) == (1 + STEP_SHARE, 1 - STEP_SHARE)


@pytest.mark.parametrize(
    ("shape", "name", "grown"),
    [
        (Cylinder(12e-3, 4e-3), "magnet diameter", Cylinder(13e-3, 4e-3)),
        (Cylinder(12e-3, 4e-3), "thickness of round magnets", Cylinder(12e-3, 5e-3)),
        (Sphere(9e-3), "magnet diameter", Sphere(10e-3)),
    ],
)
def test_round_magnets(one, shape, name, grown):
    kind = replace(one.magnets[0], shape=shape)
    machine = replace(one, magnets=(kind,))
    new = lever(machine, name).more(machine).magnets[0].shape
    assert type(new) is type(grown)
    assert np.allclose(new.size, grown.size, atol=1e-15)


def test_nothing_shrinks_away(one):
    thin = replace(one.magnets[0], shape=replace(one.magnets[0].shape, size=(20e-3, 10e-3, 1e-3)))
    machine = replace(one, magnets=(thin,))
    with pytest.raises(ImpossibleError, match='nothing would be left of magnet "bar"'):
        lever(machine, "magnet thickness").less(machine)
