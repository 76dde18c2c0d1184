"""Effort through a whole repeat: books, virtual work, reversal, and machines with parts missing."""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from fieldsim.cautions import Doubt
from fieldsim.errors import ImpossibleError
from fieldsim.machine.coil_wire import CoilWire
from fieldsim.machine.gearing import Gears
from fieldsim.machine.load.load import Load
from fieldsim.machine.machine import Machine
from fieldsim.machine.mechanics import Adhesive, Crank, Friction
from fieldsim.machine_file.reader import read_sound
from fieldsim.operation.effort import Effort, coil_torques_Nm, effort
from fieldsim.operation.electric_side import electric_side, why_open
from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.waveform.emf import emf_waveform

GEARED = Path(__file__).parents[2] / "geometries" / "geared_pair.yaml"
SPEED = 3 * math.pi  # 90 rpm
RESISTOR = "load: {across: both, parts: [{resistor: 100 ohm}]}\n"


def text_with(load: str) -> str:
    lines = GEARED.read_text(encoding="utf-8").split("\n")
    start, end = lines.index("load:"), next(i for i, t in enumerate(lines) if t.startswith("crank"))
    return "\n".join([*lines[:start], load.rstrip("\n"), *lines[end:]])


@pytest.fixture(scope="module")
def read(tmp_path_factory):
    folder = tmp_path_factory.mktemp("effort")

    def from_text(text: str) -> Machine:
        path = folder / "machine.yaml"
        path.write_text(text, encoding="utf-8")
        return read_sound(path)

    return from_text


@pytest.fixture(scope="module")
def shipped() -> Machine:
    return read_sound(GEARED)


@pytest.fixture(scope="module")
def point(shipped) -> OperatingPoint:
    return OperatingPoint(shipped, crank_speed_rad_per_s=SPEED, tolerance=1e-4)


@pytest.fixture(scope="module")
def lit(point) -> Effort:
    return effort(point)


@pytest.fixture(scope="module")
def resistive(read, point) -> OperatingPoint:
    return point.moved_to(read(text_with(RESISTOR)))


def test_books_close(lit, resistive):
    """Torque times speed against the circuit's own powers: two ways to one number."""
    for result in (lit, resistive.effort):
        assert result.electric.source_W > 0.2
        assert abs(result.relative_imbalance) < 1e-4  # as promised
        drawn = result.crank.rotors_W  # by the coils: rotors' magnets give back what they take
        assert drawn == pytest.approx(result.electric.source_W, rel=1e-4)
        assert 0 < result.efficiency < 1


def test_books_notice_a_wrong_torque(resistive):
    result = resistive.effort
    more = replace(result, crank=replace(result.crank, torque_Nm=1.001 * result.crank.torque_Nm))
    assert abs(more.relative_imbalance) > 5e-4


def test_virtual_work(point):
    """At every instant torque times speed is minus EMF times current, whatever the currents."""
    back = point.changed({}, speed_factor=-1.0)
    speed, rotors, waveform = back.speed, back.machine.placed_rotors, back.waveform
    current = np.random.default_rng(1).normal(size=waveform.emf_V.shape)
    turns = [-int(r * waveform.period.turns) for r in speed.ratios]
    torque = coil_torques_Nm(back.flux_table, rotors, turns, current)
    mechanical = sum(
        torque[r.name] * w for r, w in zip(rotors, speed.rotors_rad_per_s, strict=True)
    )
    electrical = -(waveform.emf_V * current).sum(axis=0)
    largest = np.abs(electrical).max()
    assert np.abs(mechanical - electrical).max() < 1e-9 * largest  # both from one series


def test_virtual_work_with_starts(point):
    """Rotors that do not start at zero."""
    changed = point.changed({"rotors.upper.start": 0.2, "rotors.lower.start": 0.6})
    speed, moved, waveform = changed.speed, changed.machine.placed_rotors, changed.waveform
    assert [rotor.start for rotor in moved] == [0.2, 0.6]
    current = np.random.default_rng(2).normal(size=waveform.emf_V.shape)
    turns = [int(r * waveform.period.turns) for r in speed.ratios]
    torque = coil_torques_Nm(changed.flux_table, moved, turns, current)
    mechanical = sum(torque[r.name] * w for r, w in zip(moved, speed.rotors_rad_per_s, strict=True))
    electrical = -(waveform.emf_V * current).sum(axis=0)
    assert np.abs(mechanical - electrical).max() < 1e-9 * np.abs(electrical).max()


def test_coils_brake(resistive):
    """A resistor takes power at every instant; inductance is too small here to give any back."""
    result = resistive.effort
    assert result.coils_at_crank_Nm.min() > -0.02 * result.coils_at_crank_Nm.max()
    assert result.coils_at_crank_Nm.mean() > 0


def test_magnets_between_rotors_do_no_work(lit):
    for torque in (lit.magnets_at_crank_Nm, *lit.magnet_torque_Nm.values()):
        assert abs(torque.mean()) < 1e-6 * np.abs(torque).max()  # to the series of the torque
    opposite = lit.magnet_torque_Nm["upper"] + lit.magnet_torque_Nm["lower"]
    assert np.abs(opposite).max() < 1e-6 * np.abs(lit.magnet_torque_Nm["upper"]).max()


def test_cogging_is_that_of_the_torque(lit):
    """The spline of the rests against the samples, and the rests that symmetry demands.

    Both magnets of a rotor meet their like once in each of 24 relative turns a crank turn.
    """
    assert lit.rest.torque_to_pass_Nm == pytest.approx(lit.magnets_at_crank_Nm.max(), rel=1e-3)
    assert len(lit.rest.stable_rad) == 2
    # At crank angle 0 north faces south: there they rest, and half way on they repel.
    assert np.degrees(lit.rest.stable_rad) == pytest.approx([0.0, 15.0], abs=1e-3)
    assert np.degrees(lit.rest.unstable_rad) == pytest.approx([7.5, 22.5], abs=1e-3)
    assert lit.slow_peak_torque_Nm > lit.rest.torque_to_pass_Nm  # gears and friction come on top


def test_turning_back_costs_as_much(resistive):
    """The machine is its own mirror image."""
    forward = resistive.effort
    back = resistive.changed({}, speed_factor=-1.0).effort
    assert back.crank.hand_W == pytest.approx(forward.crank.hand_W, rel=1e-4)  # time steps
    assert back.crank.peak_torque_Nm == pytest.approx(forward.crank.peak_torque_Nm, rel=1e-3)
    assert back.coil_torque_Nm["upper"].mean() == pytest.approx(
        -forward.coil_torque_Nm["upper"].mean(), rel=1e-4
    )


def test_a_long_period_is_shifted_and_still_books_close(read):
    """Tooth counts without common factors: the rotors come back together after very many turns."""
    text = text_with(RESISTOR).replace("teeth: 48", "teeth: 53")
    machine = read(text.replace("{teeth: 16, driven_by: spread", "{teeth: 59, driven_by: hand"))
    result = OperatingPoint(machine, crank_speed_rad_per_s=SPEED, tolerance=1e-3).effort
    assert [note.kind for note in result.electric.notes] == [Doubt.SHIFTED_SPEEDS]
    assert result.train.ratios["upper"] != machine.placed_rotor("upper").gear_ratio
    assert float(result.train.ratios["upper"]) == pytest.approx(
        float(machine.placed_rotor("upper").gear_ratio), rel=0.02
    )
    assert abs(result.relative_imbalance) < 1e-4


def test_hand_and_glue(lit):
    assert lit.arm == Crank(0.08)
    assert lit.glue_known
    assert [h.rotor for h in lit.holds] == ["upper", "lower"]
    assert all(h.speed_margin > 2 for h in lit.holds)
    assert lit.holds[0].weakest.centrifugal_N == pytest.approx(
        7500 * 1e-6 * 0.025 * (12 * SPEED) ** 2
    )


def test_pairs(lit):
    (pair,) = lit.pairs
    assert not pair.locked
    assert pair.assembly is not None
    assert pair.assembly.peak_pull_N == pytest.approx(pair.attraction.peak_pull_N, rel=1e-4)


def test_what_stands_open(read, point, shipped):
    assert why_open(shipped) == ""
    bare = tuple(replace(coil, turns=800, wire=CoilWire()) for coil in shipped.coils)
    assert why_open(replace(shipped, coils=bare)) == "no coil has wire"
    without = read(text_with("").replace("connections:\n  both: {series: [front, -rear]}\n", ""))
    assert why_open(without) == "the file has no load"
    missing = replace(shipped, coils=(shipped.coils[0], bare[1]))
    assert why_open(missing) == 'coil "rear" has no wire'
    at = point.moved_to(missing)
    result = at.effort
    assert result.electric.open_because == 'coil "rear" has no wire'
    assert not result.electric.current_A.any()
    assert result.crank.rotors_W == pytest.approx(0.0, abs=1e-6)
    # The peak that `emf` gives.
    waveform = emf_waveform(at.flux_table, missing, at.speed)
    assert result.electric.open_peak_V == np.abs(waveform.emf_V).max()


def test_coils_in_series_are_counted_together(point):
    side = electric_side(point)
    assert side.open_peak_V == pytest.approx(2 * side.coils[0].open_peak_V, rel=1e-3)


def test_a_bare_machine(shipped):
    """Nothing but magnets and windings: no losses, and the books have nothing in them."""
    coils = tuple(
        replace(coil, build=coil.placed.build, turns=coil.placed.turns, wire=CoilWire())
        for coil in shipped.coils
    )
    ratios = shipped.train.ratios
    bare = replace(
        shipped,
        rotors=tuple(replace(r, gear_ratio=ratios[r.name]) for r in shipped.rotors),
        coils=coils,
        connections=(),
        load=Load(),
        gears=Gears(),
        crank=Crank(),
        friction=Friction(),
        adhesive=Adhesive(),
    )
    result = OperatingPoint(bare, crank_speed_rad_per_s=SPEED, tolerance=1e-4).effort
    assert not result.arm
    assert not result.glue_known
    assert result.ripple is None
    assert result.relative_imbalance == pytest.approx(0.0, abs=1e-4)
    assert result.train.ratios == {"upper": Fraction(12), "lower": Fraction(-12)}


def test_friction_beyond_the_hand(point):
    with pytest.raises(ImpossibleError, match="friction alone asks for"):
        _ = point.changed({"friction.crank": "5 N*m"}).effort


def test_friction_that_outholds_the_magnets(point):
    held = replace(point.machine, friction=Friction(crank=1.5), load=Load())
    assert point.moved_to(held).effort.held_by_friction


def test_peel_strength_is_not_guessed(point):
    weak = point.changed({"adhesive.peel_strength": None})
    with pytest.raises(ImpossibleError, match=r"adhesive\.peel_strength is not given"):
        _ = weak.effort


def test_needs_a_crank_speed(shipped):
    with pytest.raises(ImpossibleError, match="crank speed"):
        effort(OperatingPoint(shipped, rotor_speed_rad_per_s=100.0, tolerance=1e-2))
