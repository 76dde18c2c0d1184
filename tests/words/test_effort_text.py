"""Parts of the screen of the effort command that machines seldom show."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from machines import shipped

from fieldsim.cautions import Doubt, Note
from fieldsim.machine.machine import Machine
from fieldsim.machine.mechanics import Crank, Friction
from fieldsim.operation.cautions import effort_cautions, strong_magnets_caution
from fieldsim.operation.effort import Effort
from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.tables.json_documents import effort_json
from fieldsim.waveform.emf import crank_speed
from fieldsim.words.cautions import caution_text
from fieldsim.words.effort_text import effort_text


@pytest.fixture(scope="module")
def machine() -> Machine:
    return shipped("two_facing_rotors")


@pytest.fixture(scope="module")
def facing(machine) -> Effort:
    return OperatingPoint(machine, crank_speed_rad_per_s=9.0, tolerance=1e-3).effort


def texts(machine: Machine, effort: Effort) -> list[str]:
    return [caution_text(caution) for caution in effort_cautions(machine, effort)]


def test_nothing_for_nothing(machine, facing):
    """Rounding is not shown as a load, a loss or a ripple."""
    text = effort_text(machine, facing)
    assert "The hand gives 0 W; below zero the crank pulls the hand along." in text
    assert "e-1" not in text
    assert effort_json(machine, facing)["crank"]["ripple"] is None


def test_uneven_rests_are_listed(machine, facing):
    rest = replace(facing.rest, stable_rad=np.radians([1.0, 2.0, 4.0, 7.0, 9.0, 20.0, 30.0, 31.0]))
    text = " ".join(effort_text(machine, replace(facing, rest=rest)).split())
    assert "to rest at 1, 2, 4, 7, 9, 20 and 2 more deg in every 40 deg" in text


def test_friction_that_holds_is_said(machine, facing):
    held = replace(facing, friction_holds_Nm=1.0)
    text = " ".join(effort_text(machine, held).split())  # wherever the line is folded
    assert "friction alone holds it anywhere" in text


def test_notes_are_shown(machine, facing):
    late = replace(
        facing.electric, notes=(Note(Doubt.SHIFTED_SPEEDS, 0.0123, None, {"turns": 7.0}),)
    )
    (pair,) = facing.pairs
    noted = replace(facing, electric=late, pairs=(replace(pair, unresolved=0.0123),))
    text = effort_text(machine, noted)
    assert "\nNote: the rotors come back together late or never; solved for 7 turns" in text
    assert "good to some 1 % only" in " ".join(text.split())
    assert "Note: the rotors" not in effort_text(machine, facing)


def test_what_the_file_leaves_out_is_said_and_not_shown_as_nothing(machine, facing):
    """No friction, and ratios without gears: their losses are not known, rather than zero."""
    text = " ".join(effort_text(machine, facing).split())
    assert 'Note: the file has no "friction" and no "gears"; losses of friction and of gear' in text
    assert "friction left out -" in text
    assert "gear meshes left out -" in text
    rubbing = replace(facing, friction=Friction(crank=0.01))
    text = " ".join(effort_text(machine, rubbing).split())
    assert 'Note: the file has no "gears"; losses of gear meshes are left out' in text
    assert "friction 0 -" in text  # known, and nothing by this effort
    assert effort_json(machine, rubbing)["left_out"] == ["gears"]


def test_a_described_machine_or_one_without_gears_leaves_nothing_out():
    geared = OperatingPoint(shipped("geared_pair"), "60 rpm", tolerance=1e-3).effort
    assert geared.left_out == ()
    assert "Note:" not in effort_text(shipped("geared_pair"), geared)
    straight = shipped("two_facing_rotors").changed(
        {"rotors.upper.gear_ratio": 1, "rotors.lower.gear_ratio": -1}
    )
    assert OperatingPoint(straight, "60 rpm", tolerance=1e-3).effort.left_out == ("friction",)


def test_a_hand_asked_for_too_much(machine, facing):
    """A short arm: the peak of 0.44 N m on 5 mm is 88 N."""
    short = replace(facing, arm=Crank(0.005))
    cautions = texts(machine, short)
    assert sum("the peak asks for 88." in caution for caution in cautions) == 1


def test_fast_magnets_without_known_glue(machine, facing):
    """The rim, 32 mm out, at 9 and 360 rad/s: 0.3 and 12 m/s."""
    fast = replace(
        facing,
        electric=replace(facing.electric, speed=crank_speed(machine, 40.0)),
    )
    assert any("comes off the arm flies" in caution for caution in texts(machine, fast))
    slow = replace(facing, electric=replace(facing.electric, speed=crank_speed(machine, 1.0)))
    assert not any("flies" in caution for caution in texts(machine, slow))


def test_pinch_counts_assembly_too(machine, facing):
    """Rotors that the gears hold apart in angle may still meet pole to pole on the bench."""
    (pair,) = facing.pairs
    strong = replace(pair.assembly, pull_N=pair.assembly.pull_N * 40)
    pinching = replace(facing, pairs=(replace(pair, assembly=strong),))
    (caution,) = (c for c in texts(machine, pinching) if c.startswith("Pinch: "))
    assert "95.4 N" in caution  # 40 x 2.386 N


def test_one_magnet_is_no_crowd():
    alone = shipped("bar_inside_coil")
    assert caution_text(strong_magnets_caution(alone)).startswith(
        "A magnet of 25 x 10 x 10 mm at 1.2 T: it snaps"
    )
