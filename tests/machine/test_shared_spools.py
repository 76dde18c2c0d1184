"""Spools that coils share: who gets how much, what is left, and what cannot be."""

from __future__ import annotations

from dataclasses import replace

import pytest
from machines import shipped

from fieldsim.errors import ImpossibleError
from fieldsim.machine.coil_wire import CoilWire, SharedSpool
from fieldsim.machine.part import PartError
from fieldsim.machine_file.reader import read
from fieldsim.machine_file.writer import write

TWO = shipped("two_coils")


def sharing(names=("red",), other=None, **changes):
    """Return the machine of two coils, both wound from 100 g of wire on two halves of a spool."""
    named = {f"coils.{coil}.wire.spools": list(names) for coil in ("left", "right")}
    if other is not None:
        named["coils.right.wire.spools"] = list(other)
    return TWO.changed(
        {"spools": {"red": {"mass": "100 g", "left": "80 %"}}, **named}
        | {path.replace("__", "."): value for path, value in changes.items()}
    )


def refused(**changes):
    with pytest.raises(PartError) as caught:
        sharing(**changes)
    return caught.value


def test_like_coils_get_as_much_wire_each():
    left, right = (coil.winding for coil in sharing().coils)
    assert left.turns == right.turns
    (use,) = sharing().spool_uses
    assert (use.spools, use.coils) == (("red",), ("left", "right"))
    assert use.supply_m * left.wire.mass_kg_m == pytest.approx(0.08)
    assert use.used_m == pytest.approx(left.wire_length_m + right.wire_length_m)
    assert use.leftover_m == pytest.approx(use.supply_m - use.used_m)
    assert use.leftover_kg == pytest.approx(use.leftover_m * left.wire.mass_kg_m)
    # Less than a turn of either is left, and each is told of the spool and not of the coil.
    assert 0 <= use.leftover_m < 2 * 0.15
    assert left.supply_m is left.leftover_m is None


def test_a_coil_that_says_its_turns_leaves_the_rest():
    machine = sharing(coils__left__turns=900)
    # Who sets the turns removes the spools; so both are given at once.
    left = CoilWire("AWG 32", spools=["red"])
    coils = (replace(machine.coil("left"), wire=left), machine.coil("right"))
    both = replace(machine, coils=coils)
    (use,) = both.spool_uses
    assert both.coil("left").winding.turns == 900
    rest = use.supply_m - both.coil("left").wire_length_m
    assert both.coil("right").wire_length_m == pytest.approx(rest, abs=0.15)
    assert both.coil("right").winding.turns > sharing().coil("right").winding.turns


def test_more_on_the_spool_is_more_turns_in_both():
    few, many = (sharing(spools__red__left=left).coils for left in ("50 %", "90 %"))
    assert [c.winding.turns for c in few] < [c.winding.turns for c in many]


def test_several_spools_add_up():
    two = {"red": {"mass": "60 g"}, "blue": {"length": "40 m", "count": 2}}
    machine = sharing(("red", "blue"), ("blue", "red"), spools=two)
    (use,) = machine.spool_uses
    assert use.spools == ("red", "blue")
    assert use.supply_m == pytest.approx(0.06 / use.wire_kg_m + 80)


def test_round_corners_make_more_turns_of_it():
    bent = sharing(coils__left__corners="round", coils__right__corners="round")
    assert bent.coil("left").winding.turns > 1.05 * sharing().coil("left").winding.turns
    assert bent.spool_uses[0].used_m == pytest.approx(sharing().spool_uses[0].used_m, rel=2e-3)


def test_it_is_written_and_read_again(tmp_path):
    write(sharing(), tmp_path / "a.yaml")
    assert "use: red" in (tmp_path / "a.yaml").read_text(encoding="utf-8")
    again = read(tmp_path / "a.yaml")
    assert again == sharing()
    assert [c.winding.turns for c in again.coils] == [c.winding.turns for c in sharing().coils]


def test_alone_a_coil_does_not_know_its_share():
    coil = sharing().coil("left")
    lone = replace(coil, share_m=None)
    with pytest.raises(ImpossibleError, match="wound from shared spools; its machine says"):
        _ = lone.winding
    assert replace(lone, turns=100).winding.turns == 100
    assert lone == coil


@pytest.mark.parametrize(
    ("changes", "path", "problem"),
    [
        (
            {"names": ("green",)}, ("coils", "left", "wire", "spools", 0, "use"),
            'no spool is called "green"; there are: red',
        ),
        (
            {"coils__right__wire__gauge": "AWG 30"}, ("coils", "right", "wire", "gauge"),
            'coils "left" and "right" are wound from the same spool, so they need the same wire',
        ),
        (
            {"spools__red__mass": "0.1 g", "spools__red__left": "1 %"}, ("coils", "left", "wire"),
            "one turn needs",
        ),
    ],
)  # fmt: skip
def test_what_cannot_be(changes, path, problem):
    error = refused(**changes)
    assert error.path == path
    assert problem in error.problem


def test_coils_share_all_their_spools_or_none():
    two = {"red": {"mass": "60 g"}, "blue": {"mass": "60 g"}}
    with pytest.raises(PartError, match=r"share spool \"red\", but not all of their spools"):
        TWO.changed(
            {
                "spools": two,
                "coils.left.wire.spools": ["red"],
                "coils.right.wire.spools": ["red", "blue"],
            }
        )


def test_too_little_wire_is_told_with_both_lengths():
    filled = {"coils__left__build": "12 mm", "coils__right__build": "12 mm"}
    machine = sharing(**filled)
    wire = CoilWire("AWG 32", fill="section", spools=["red"])
    with pytest.raises(PartError) as caught:
        replace(machine, coils=tuple(replace(coil, wire=wire) for coil in machine.coils))
    assert 'coils "left" and "right" need 4' in str(caught.value)
    assert 'm, spool "red" holds 271.3 m' in str(caught.value)
    # One alone has enough, but leaves nothing for the other to be wound from.
    first = replace(machine.coils[0], wire=replace(wire, fill=None), turns=2720)
    with pytest.raises(PartError, match="and others are to be wound from it too"):
        replace(machine, coils=(first, machine.coils[1]))


@pytest.mark.parametrize(
    ("wire", "problem"),
    [
        ({"spools": ["red", {"mass": 0.1}]}, "name shared spools, or state spools of its own"),
        ({"spools": ["red", "red"]}, "a shared spool is named twice"),
        ({"spools": [{"use": "red", "mass": 0.1}]}, "a shared spool says itself what is on it"),
        ({"spools": [{"use": "red", "left": 0.5}]}, "a shared spool says itself what is on it"),
        ({"spools": ["red"], "length": 3.0}, 'one of "length" and "spools"'),
    ],
)
def test_what_a_coil_may_say_of_shared_spools(wire, problem):
    with pytest.raises(PartError, match=problem):
        CoilWire("AWG 32", **wire)


def test_a_shared_spool_is_a_spool():
    spool = SharedSpool(mass="250 g", reel="50 g", used="40 %", count=2, called="red")
    assert spool.at_hand().wire_m(3e-4) == pytest.approx(2 * 0.6 * 0.2 / 3e-4)
    with pytest.raises(PartError, match='needs one of "mass" and "length"'):
        SharedSpool(called="empty")


def test_unused_spools_are_no_trouble():
    assert TWO.changed({"spools": {"red": {"mass": "1 kg"}}}).spool_uses == ()
