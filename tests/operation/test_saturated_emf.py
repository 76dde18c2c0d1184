"""What saturated iron leaves of the voltage, solved for and held against what is known of it."""

from __future__ import annotations

import os
from dataclasses import replace
from fractions import Fraction
from functools import cache

import numpy as np
import pytest
from machines import shipped

from fieldsim.errors import ImpossibleError
from fieldsim.machine.rotors import Rotor
from fieldsim.operation import saturated_emf as module
from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.operation.saturated_emf import saturated_emf
from fieldsim.waveform.figures import rms

DIAMETER = "coils.pickup.core.diameter"
MATERIAL = "coils.pickup.core.material"
LONG = bool(os.environ.get("FIELDSIM_LONG"))


@cache
def bolt_point(diameter="8 mm", material="mild steel"):
    changed = shipped("bolt_beside_magnets").changed({DIAMETER: diameter, MATERIAL: material})
    return OperatingPoint(changed, "60 rpm", tolerance=1e-3)


@cache
def bolt(diameter="8 mm", material="mild steel"):
    return saturated_emf(bolt_point(diameter, material))


def solved(**values):
    machine = shipped("bolt_beside_magnets").changed(values)
    return saturated_emf(OperatingPoint(machine, "60 rpm", tolerance=1e-3))


@pytest.fixture
def few_cells(monkeypatch):
    """A third of the cells, for what does not hang on them."""
    monkeypatch.setattr(module, "_CELLS", 150)
    monkeypatch.setattr(module, "_FEWER", 60)


def test_a_thick_bolt_loses_little():
    change = bolt().changes["pickup"]
    assert -0.025 < change.rms_share < -0.012
    assert change.swing_share == pytest.approx(change.rms_share, abs=0.005)
    assert 0 < change.rms_share_error < 0.002


def test_below_its_knee_on_average_iron_loses_little():
    point, change = bolt_point(), bolt().changes["pickup"]
    assert point.saturation == ()
    assert -change.rms_share < 0.05


@pytest.mark.parametrize(
    ("diameter", "material"),
    [
        ("3 mm", "mild steel"),
        *(
            (
                ("4 mm", "mild steel"), ("1 mm", "mild steel"), ("2 mm", "soft iron"),
                ("4 mm", "soft iron"), ("2 mm", "laminated steel"), ("8 mm", "ferrite rod"),
            )
            if LONG
            else ()
        ),
    ],
)  # fmt: skip
def test_the_caution_tells_at_least_what_is_lost(diameter, material):
    change = bolt(diameter, material).changes["pickup"]
    (caution,) = bolt_point(diameter, material).saturation
    too_high = caution.facts["too_high"]
    assert -change.rms_share + change.rms_share_error < too_high
    assert -change.swing_share < too_high
    assert -change.rms_share > 0.5 * too_high  # and it is no wild guess


def test_no_more_is_lost_than_the_iron_gives(monkeypatch):
    thin = bolt("3 mm", "mild steel")
    bare = OperatingPoint(
        shipped("bolt_beside_magnets").changed({"coils.pickup.core": None}), "60 rpm"
    )
    least = bare.figures["pickup"].rms_V
    assert (
        least
        < thin.figures["pickup"].rms_V
        < bolt_point("3 mm", "mild steel").figures["pickup"].rms_V
    )
    monkeypatch.setattr(module, "_CELLS", 150)
    # a bolt that hardly takes up any flux leaves the coil as it is without
    weak = solved(**{DIAMETER: "3 mm", MATERIAL: {"permeability": 500, "saturation": "0.01 T"}})
    assert weak.figures["pickup"].rms_V == pytest.approx(least, rel=0.01)


@pytest.mark.usefixtures("few_cells")
def test_far_from_saturation_nothing_is_lost():
    """A hundredth of the magnets' strength: a hundredth of the loss."""
    weak = shipped("bolt_beside_magnets").changed({"magnets.bar.remanence": "0.01 T"})
    point = OperatingPoint(weak, "60 rpm", tolerance=1e-3)
    change = saturated_emf(point).changes["pickup"]
    assert abs(change.rms_share) < 4e-4
    assert change.rms_share < 0


@pytest.mark.parametrize("cells", [250, *((1200,) if LONG else ())])
def test_other_cells_move_it_less_than_the_stated_error(monkeypatch, cells):
    change = bolt("3 mm", "mild steel").changes["pickup"]
    monkeypatch.setattr(module, "_CELLS", cells)
    other = saturated_emf(bolt_point("3 mm", "mild steel")).changes["pickup"]
    assert 0 < abs(other.rms_share - change.rms_share) < change.rms_share_error < 0.005


def test_more_angles_move_it_less_than_the_stated_error(monkeypatch):
    few = bolt("3 mm", "mild steel")
    assert few.angles == 48
    monkeypatch.setattr(module, "_ANGLES", 48)
    monkeypatch.setattr(module, "_CELLS", 200)
    monkeypatch.setattr(module, "_FEWER", 60)
    many = saturated_emf(bolt_point("3 mm", "mild steel"))
    assert many.angles == 96
    monkeypatch.setattr(module, "_ANGLES", 24)
    again = saturated_emf(bolt_point("3 mm", "mild steel"))
    moved = rms(many.waveform.emf_V) / rms(again.waveform.emf_V) - 1
    assert np.abs(moved).max() < few.angle_error < 1e-3


@pytest.mark.usefixtures("few_cells")
def test_turning_the_whole_machine_changes_nothing():
    """About the shaft, with the bolt beside it: cells turn along."""
    stood = saturated_emf(bolt_point()).changes["pickup"]
    machine = shipped("bolt_beside_magnets")
    (rotor,), (pickup,) = machine.rotors, machine.coils
    turned = replace(
        machine,
        rotors=(replace(rotor, zero=(0.0, 1.0, 0.0)),),
        coils=(replace(pickup, centre=(-0.03, 0.0, -0.01), side=(0.0, 1.0, 0.0)),),
    )
    found = saturated_emf(OperatingPoint(turned, "60 rpm", tolerance=1e-3)).changes["pickup"]
    assert found.rms_share == pytest.approx(stood.rms_share, rel=1e-3)


@pytest.mark.usefixtures("few_cells")
def test_backwards_it_is_the_same():
    forth = saturated_emf(bolt_point()).changes["pickup"]
    back = saturated_emf(OperatingPoint(bolt_point().machine, "-60 rpm", tolerance=1e-3))
    assert back.changes["pickup"].rms_share == pytest.approx(forth.rms_share, rel=1e-3)


def test_iron_on_rotors(monkeypatch):
    monkeypatch.setattr(module, "_CELLS", 250)
    found = saturated_emf(OperatingPoint(shipped("steel_discs"), "60 rpm", tolerance=1e-3))
    change = found.changes["pickup"]
    assert -0.01 < change.rms_share < -0.002
    thin = {f"iron.{side}_disc.thickness": "1 mm" for side in ("upper", "lower")}
    thinner = shipped("steel_discs").changed(thin)
    less = saturated_emf(OperatingPoint(thinner, "60 rpm", tolerance=1e-3)).changes["pickup"]
    assert less.rms_share < 5 * change.rms_share


@pytest.mark.usefixtures("few_cells")
def test_joined_coils_have_figures_too():
    machine = shipped("two_coils").changed(
        {"iron": {"bar": {"shape": "rod", "diameter": "4 mm", "length": "20 mm",
                          "centre": ["60 mm", "0 mm", "0 mm"], "axis": [0, 0, 1]}}}
    )  # fmt: skip
    found = saturated_emf(OperatingPoint(machine, "60 rpm", tolerance=1e-3))
    assert set(found.changes) == {*found.figures, *(c.name for c in machine.connections)}
    assert set(found.connection_figures) == {c.name for c in machine.connections}


@pytest.mark.usefixtures("few_cells")
def test_the_ends_of_the_work_are_told():
    told = []
    saturated_emf(bolt_point(), lambda done, _: told.append(done))
    assert told == list(range(1, len(told) + 1))
    assert len(told) > 5


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"coils.pickup.core": None}, "there is no iron in this machine"),
        (
            {MATERIAL: {"permeability": 500}},
            r"^no iron of this machine has a saturation; give its material one, like "
            r"\{permeability: 500, saturation: 2 T\}$",
        ),
        ({MATERIAL: {"permeability": 1, "saturation": "2 T"}}, "no iron of this machine has"),
    ],
)
def test_nothing_that_saturates(changes, words):
    with pytest.raises(ImpossibleError, match=words):
        solved(**changes)


@pytest.mark.usefixtures("few_cells")
def test_angles_are_doubled_up_to_a_limit(monkeypatch):
    monkeypatch.setattr(module, "_SAME", 0.0)
    monkeypatch.setattr(module, "_MOST_ANGLES", 96)
    assert saturated_emf(bolt_point()).angles == 96


def test_a_coil_without_a_voltage_has_no_change_of_it():
    found = bolt()
    nothing = replace(found.linear, emf_V=0.0 * found.linear.emf_V)
    assert replace(found, linear=nothing).changes == {}


def test_gears_that_come_back_late_are_refused():
    machine = shipped("bolt_beside_magnets")
    other = replace(
        machine.rotors[0], name="other", gear_ratio=Fraction(37, 6),
        shaft=replace(machine.rotors[0].shaft, through=(0.3, 0.0, 0.0)),
    )  # fmt: skip
    assert isinstance(other, Rotor)
    both = replace(machine, rotors=(*machine.rotors, other))
    with pytest.raises(ImpossibleError, match=r"1776 angles; at most 1024 are: gear them"):
        saturated_emf(OperatingPoint(both, "60 rpm", tolerance=1e-3))


def test_too_many_magnets_are_refused(monkeypatch):
    monkeypatch.setattr(module, "_MOST_FIELDS", 4 * 47)
    with pytest.raises(ImpossibleError, match="their 4 magnets .* 48 angles; at most 47 are"):
        saturated_emf(bolt_point())


def test_too_many_pieces_are_refused(monkeypatch):
    monkeypatch.setattr(module, "_CELLS", 11)
    with pytest.raises(ImpossibleError, match="1 pieces are too many"):
        saturated_emf(bolt_point())
