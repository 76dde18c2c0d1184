"""The clearance as one number: what moves, by how much, and where that makes no sense."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from machines import GEOMETRIES, ball, block, disc, magnet, shipped

from fieldsim.errors import ImpossibleError
from fieldsim.machine.clearance.clearance_change import clearance_m, ways, with_clearance
from fieldsim.machine.clearance.clearances import rotor_to_winding_m
from fieldsim.machine.coil_wire import CoilWire
from fieldsim.machine.iron import Disc, IronPiece
from fieldsim.machine.parameters import parameter
from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.studies.gap import gap_study

MM = 1e-3
SHIPPED = sorted(path.stem for path in GEOMETRIES.glob("*.yaml"))


def as_one_rotor(machine):
    """Return two facing rotors' magnets on one rotor, turning as the first does."""
    upper, lower = machine.rotors
    both = replace(upper, magnets=(*upper.magnets, *lower.magnets))
    return replace(machine, rotors=(both,))


@pytest.fixture(scope="module")
def two():
    machine = shipped("two_facing_rotors")
    same_way = tuple(replace(rotor, gear_ratio=9) for rotor in machine.rotors)
    return replace(machine, rotors=same_way)


@pytest.mark.parametrize("clearance", [0.5, 2.5, 4.0, 10.0])
def test_magnets_above_and_below_on_one_rotor_move_as_two_rotors_do(clearance, two):
    one = as_one_rotor(two)
    apart, together = (with_clearance(machine, clearance * MM) for machine in (two, one))
    assert as_one_rotor(apart) == together
    heights = [mount.height for mount in together.rotors[0].magnets]
    assert heights == pytest.approx([(8.5 + clearance) * MM, -(8.5 + clearance) * MM], abs=1e-9)
    assert together.coils == one.coils


def test_their_voltages_are_the_same_at_every_gap(two):
    gaps = [1 * MM, 3 * MM, 4 * MM]
    studies = [
        gap_study(OperatingPoint(machine, "60 rpm", tolerance=1e-6), gaps)
        for machine in (two, as_one_rotor(two))
    ]
    for row, other in zip(studies[0].rows, studies[1].rows, strict=True):
        # both tables are good to 1e-6 of their swing
        assert row.figures["pickup"].rms_V == pytest.approx(other.figures["pickup"].rms_V, rel=4e-6)
        assert row.percent_per_tenth_mm["pickup"] == pytest.approx(
            other.percent_per_tenth_mm["pickup"], abs=1e-3
        )
        assert -3 < row.percent_per_tenth_mm["pickup"] < -1


@pytest.mark.parametrize("name", SHIPPED)
def test_at_its_own_clearance_a_design_stays_as_it_is(name):
    machine = shipped(name)
    assert with_clearance(machine, clearance_m(machine)) is machine
    for rotor in machine.rotors:
        own = clearance_m(machine, [rotor.name])
        assert with_clearance(machine, own, [rotor.name]) is machine
    assert machine.changed({"clearance": parameter(machine, "clearance").text}) == machine


@pytest.mark.parametrize("name", SHIPPED)
@pytest.mark.parametrize("more", [-0.3, 0.7, 2.0])
def test_the_smallest_clearance_comes_to_what_is_asked(name, more):
    machine = shipped(name)
    asked = clearance_m(machine) + more * MM
    moved = machine.changed({"clearance": asked})
    assert clearance_m(moved) == pytest.approx(asked, abs=1e-9)
    if name == "bar_inside_coil":
        return
    # All others have shifted by as much, each away from its own winding face.
    for rotor in machine.rotors:
        before, after = (clearance_m(m, [rotor.name]) for m in (machine, moved))
        assert after - before == pytest.approx(more * MM, abs=1e-9)
    assert moved.coils == machine.coils


def test_one_rotors_clearance_moves_that_alone():
    machine = shipped("two_facing_rotors")
    moved = machine.changed({"rotors.lower.clearance": "1 mm"})
    assert moved.rotor("upper") == machine.rotor("upper")
    assert moved.rotor("lower").magnets[0].height == pytest.approx(-9.5 * MM, abs=1e-12)
    assert parameter(moved, "rotors.lower.clearance").value == pytest.approx(1 * MM, abs=1e-12)
    assert parameter(moved, "rotors.upper.clearance").value == pytest.approx(3 * MM, abs=1e-12)
    assert parameter(moved, "clearance").value == pytest.approx(1 * MM, abs=1e-12)
    both = machine.changed({"rotors.lower.clearance": "1 mm", "rotors.upper.clearance": "2 mm"})
    assert [both.rotor(n).magnets[0].height for n in ("upper", "lower")] == pytest.approx(
        [10.5 * MM, -9.5 * MM], abs=1e-12
    )


def test_other_changes_come_before_the_clearance():
    machine = shipped("one_rotor")
    thick = machine.changed({"clearance": "2 mm", "magnets.bar.size[2]": "9 mm"})
    # The winding's face is at 6 mm, half of the magnet is 4.5 mm.
    assert thick.rotors[0].magnets[0].height == pytest.approx(12.5 * MM, abs=1e-12)


@pytest.mark.parametrize("more", [-0.4, 1.0, 3.0])
def test_inside_a_coil_the_opening_widens_by_twice_the_change(more):
    machine = shipped("bar_inside_coil")
    moved = with_clearance(machine, clearance_m(machine) + more * MM)
    before, after = machine.coils[0], moved.coils[0]
    # The bar turns about x and passes the sides that lie across it: the second dimension.
    assert after.opening[0] == before.opening[0]
    assert after.opening[1] - before.opening[1] == pytest.approx(2 * more * MM, abs=1e-9)
    assert (after.build, after.turns) == (before.build, before.turns)
    assert moved.rotors == machine.rotors


def test_inside_a_filled_coil_turns_and_build_stay():
    machine = shipped("bar_inside_coil")
    wound = replace(machine.coils[0], turns=None, wire=CoilWire("AWG 30", fill="section"))
    machine = replace(machine, coils=(wound,))
    moved = with_clearance(machine, clearance_m(machine) + 1 * MM)
    before, after = wound.winding, moved.coils[0].winding
    assert after.turns == before.turns
    assert after.build_m == pytest.approx(before.build_m, rel=1e-12)
    assert after.wire == before.wire
    assert after.wire_length_m > before.wire_length_m


@pytest.mark.parametrize(
    "kind", [block(20, 10, 5), disc(12, 5), ball(9)], ids=["bar", "disc", "ball"]
)
@pytest.mark.parametrize("tilt_deg", [5, 15, 25])
@pytest.mark.parametrize("asked", [0.5, 4.0, 12.0])
def test_tilted_coils_reach_the_asked_value(kind, tilt_deg, asked):
    one = shipped("one_rotor")
    tilt = math.radians(tilt_deg)
    coil = replace(
        one.coils[0],
        axis=(0.0, math.sin(tilt), math.cos(tilt)),
        centre=(0.0, 0.022, -0.02),
    )
    machine = replace(one, magnets=(magnet(kind, name="bar"),), coils=(coil,))
    moved = with_clearance(machine, asked * MM)
    (rotor,) = moved.placed_rotors
    assert rotor_to_winding_m(rotor, moved.placed_coils) == pytest.approx(asked * MM, abs=1e-9)
    assert moved.coils == machine.coils


def test_beside_a_winding_it_is_refused_in_words():
    machine = shipped("one_rotor").changed({"coils.pickup.centre[1]": "60 mm"})
    with pytest.raises(ImpossibleError) as caught:
        machine.changed({"clearance": "1 mm"})
    assert str(caught.value) == (
        'the clearance of rotor "upper" cannot be changed: its magnets neither pass the face of a '
        "winding nor turn inside one"
    )


def test_each_magnet_goes_away_from_the_face_that_it_passes():
    found = ways(as_one_rotor(shipped("two_facing_rotors")))
    assert found.along == ((("upper", 0), 1), (("upper", 1), -1))
    assert found.openings == ()
    assert ways(shipped("bar_inside_coil")).openings == (("wound", 1),)
    side = ways(shipped("three_rotors"))
    assert dict(side.along) == {("wheel", 0): 1, ("arm", 0): -1, ("side", 0): 1}


def test_overlapping_parts_are_brought_apart():
    machine = shipped("one_rotor").changed(
        {"rotors.upper.magnets[0].height": "8 mm", "rotors.upper.magnets[1].height": "8 mm"}
    )
    assert clearance_m(machine) == pytest.approx(-0.5 * MM, abs=1e-12)
    moved = machine.changed({"clearance": "3 mm"})
    assert [m.height for m in moved.rotors[0].magnets] == pytest.approx([11.5 * MM] * 2, abs=1e-9)


def test_midway_between_two_windings_no_move_gives_more_room():
    one = shipped("one_rotor")
    above = replace(one.coils[0], name="above", centre=(0.0, 0.022, 0.023))
    between = replace(one, coils=(*one.coils, above))
    assert clearance_m(between) == pytest.approx(3 * MM, abs=1e-9)
    with pytest.raises(ImpossibleError, match='clearance of rotor "upper" cannot be changed'):
        between.changed({"clearance": "4 mm"})


def test_a_magnet_inside_and_one_outside_gain_as_much():
    """The opening widens by twice what the magnet at the coil's face moves."""
    inside = shipped("bar_inside_coil")
    mount = replace(inside.rotors[0].magnets[0], radius=0.03, height=0.0175)
    shaft = replace(inside.rotors[0].shaft, along=(0, 0, 1))
    outer = replace(inside.rotors[0], name="outer", shaft=shaft, zero=(1, 0, 0), magnets=(mount,))
    machine = replace(inside, rotors=(*inside.rotors, outer))
    # The winding's face is at 8 mm, the magnet's at 17.5 - 5 mm.
    assert clearance_m(machine, ["outer"]) == pytest.approx(4.5 * MM, abs=1e-9)
    moved = machine.changed({"clearance": clearance_m(machine) + 1 * MM})
    assert clearance_m(moved, ["outer"]) == pytest.approx(5.5 * MM, abs=1e-9)
    wider = moved.coils[0].opening[1] - machine.coils[0].opening[1]
    assert wider == pytest.approx(2 * MM, abs=1e-9)


def test_iron_on_a_rotor_moves_with_its_magnets(two):
    plate = Disc(60 * MM, 3 * MM)
    behind = [
        IronPiece("top", plate, (0, 0, 20 * MM), on="upper"),
        IronPiece("bottom", plate, (0, 0, -20 * MM), on="lower"),
        IronPiece("still", plate, (0, 0, 40 * MM), axis=(0, 0, 1)),
    ]
    machine = replace(two, iron=behind)
    moved = with_clearance(machine, clearance_m(machine) + 2 * MM)
    heights = [piece.centre[2] for piece in moved.iron]
    assert heights == pytest.approx([22 * MM, -22 * MM, 40 * MM], abs=1e-9)
    one = with_clearance(as_one_rotor(two), 3 * MM)
    assert one.iron == ()


def test_on_a_rotor_with_magnets_on_two_sides_iron_moves_with_the_nearer_ones(two):
    plate = Disc(60 * MM, 3 * MM)
    behind = [
        IronPiece("top", plate, (0, 0, 20 * MM), on="upper"),
        IronPiece("bottom", plate, (0, 0, -20 * MM), on="upper"),
    ]
    machine = replace(as_one_rotor(two), iron=behind)
    moved = with_clearance(machine, clearance_m(machine) + 2 * MM)
    assert [piece.centre[2] for piece in moved.iron] == pytest.approx([22 * MM, -22 * MM], abs=1e-9)
