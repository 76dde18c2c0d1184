"""Effort through a whole repeat: books, virtual work, reversal, and machines with parts missing."""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from fieldsim.errors import ImpossibleError
from fieldsim.machine.fittings import Fittings
from fieldsim.machine.machine import Machine
from fieldsim.machine.mechanics import Crank, Friction
from fieldsim.machine_file.reader import read_geometry
from fieldsim.operation.effort import Effort, coil_torques_Nm, effort
from fieldsim.operation.electric_side import electric_side, why_open
from fieldsim.waveform.emf import crank_speed, emf_waveform, rotor_speed
from fieldsim.waveform.flux_table import FluxTable, flux_table

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
        return read_geometry(path)

    return from_text


@pytest.fixture(scope="module")
def shipped() -> Machine:
    return read_geometry(GEARED)


@pytest.fixture(scope="module")
def table(shipped) -> FluxTable:
    return flux_table(shipped, tolerance=1e-4)


@pytest.fixture(scope="module")
def lit(shipped, table) -> Effort:
    return effort(shipped, crank_speed(shipped, SPEED), table=table)


@pytest.fixture(scope="module")
def resistive(read, table) -> tuple[Machine, Effort]:
    machine = read(text_with(RESISTOR))
    return machine, effort(machine, crank_speed(machine, SPEED), table=table)


def test_books_close(lit, resistive):
    """Torque times speed against the circuit's own powers: two ways to one number."""
    for result in (lit, resistive[1]):
        assert result.electric.source_W > 0.2
        assert abs(result.relative_imbalance) < 1e-4  # as promised
        drawn = result.crank.rotors_W  # by the coils: rotors' magnets give back what they take
        assert drawn == pytest.approx(result.electric.source_W, rel=1e-4)
        assert 0 < result.efficiency < 1


def test_books_notice_a_wrong_torque(resistive):
    result = resistive[1]
    more = replace(result, crank=replace(result.crank, torque_Nm=1.001 * result.crank.torque_Nm))
    assert abs(more.relative_imbalance) > 5e-4


def test_virtual_work(shipped, table):
    """At every instant torque times speed is minus EMF times current, whatever the currents."""
    speed = crank_speed(shipped, -SPEED)
    waveform = emf_waveform(table, shipped, speed)
    current = np.random.default_rng(1).normal(size=waveform.emf_V.shape)
    turns = [-int(r * waveform.period.turns) for r in speed.ratios]
    torque = coil_torques_Nm(table, shipped.rotors, turns, current)
    mechanical = sum(
        torque[r.name] * w for r, w in zip(shipped.rotors, speed.rotors_rad_per_s, strict=True)
    )
    electrical = -(waveform.emf_V * current).sum(axis=0)
    largest = np.abs(electrical).max()
    assert np.abs(mechanical - electrical).max() < 1e-9 * largest  # both from one series


def test_virtual_work_with_starts(shipped):
    """Rotors that do not start at zero."""
    moved = tuple(replace(r, start=0.4 * i + 0.2) for i, r in enumerate(shipped.rotors))
    machine = shipped.with_rotors(moved)
    table = flux_table(machine, tolerance=1e-4)
    speed = crank_speed(machine, SPEED)
    waveform = emf_waveform(table, machine, speed)
    current = np.random.default_rng(2).normal(size=waveform.emf_V.shape)
    turns = [int(r * waveform.period.turns) for r in speed.ratios]
    torque = coil_torques_Nm(table, moved, turns, current)
    mechanical = sum(torque[r.name] * w for r, w in zip(moved, speed.rotors_rad_per_s, strict=True))
    electrical = -(waveform.emf_V * current).sum(axis=0)
    assert np.abs(mechanical - electrical).max() < 1e-9 * np.abs(electrical).max()


def test_coils_brake(resistive):
    """A resistor takes power at every instant; inductance is too small here to give any back."""
    result = resistive[1]
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


def test_turning_back_costs_as_much(resistive, table):
    """The machine is its own mirror image."""
    machine, forward = resistive
    back = effort(machine, crank_speed(machine, -SPEED), table=table)
    assert back.crank.hand_W == pytest.approx(forward.crank.hand_W, rel=1e-4)  # time steps
    assert back.crank.peak_torque_Nm == pytest.approx(forward.crank.peak_torque_Nm, rel=1e-3)
    assert back.coil_torque_Nm["upper"].mean() == pytest.approx(
        -forward.coil_torque_Nm["upper"].mean(), rel=1e-4
    )


def test_a_long_period_is_shifted_and_still_books_close(read):
    """Tooth counts without common factors: the rotors come back together after very many turns."""
    text = text_with(RESISTOR).replace("teeth: 48", "teeth: 53")
    machine = read(text.replace("{teeth: 16, driven_by: spread", "{teeth: 59, driven_by: hand"))
    result = effort(machine, crank_speed(machine, SPEED), tolerance=1e-3)
    assert any("shifted" in note for note in result.electric.notes)
    assert result.train.ratios["upper"] != machine.rotor("upper").gear_ratio
    assert float(result.train.ratios["upper"]) == pytest.approx(
        float(machine.rotor("upper").gear_ratio), rel=0.02
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


def test_what_stands_open(read, shipped, table):
    assert why_open(shipped) == ""
    assert why_open(replace(shipped, fittings=None)) == "no coil has wire"
    without = read(text_with("").replace("connections:\n  both: {series: [front, -rear]}\n", ""))
    assert why_open(without) == "the file has no load"
    fittings = shipped.fittings
    half = {"front": fittings.windings["front"]}
    missing = replace(shipped, fittings=replace(fittings, windings=half))
    assert why_open(missing) == 'coil "rear" has no wire'
    result = effort(missing, crank_speed(missing, SPEED), table=table)
    assert result.electric.open_because == 'coil "rear" has no wire'
    assert not result.electric.current_A.any()
    assert result.crank.rotors_W == pytest.approx(0.0, abs=1e-6)
    # The peak that `emf` gives.
    waveform = emf_waveform(table, missing, crank_speed(missing, SPEED))
    assert result.electric.open_peak_V == np.abs(waveform.emf_V).max()


def test_coils_in_series_are_counted_together(shipped, table):
    side = electric_side(shipped, table, crank_speed(shipped, SPEED))
    assert side.open_peak_V == pytest.approx(2 * side.coils[0].open_peak_V, rel=1e-3)


def test_a_bare_machine(shipped, table):
    """No file, no fittings: no losses, and the books have nothing in them."""
    result = effort(replace(shipped, fittings=None), crank_speed(shipped, SPEED), table=table)
    assert result.not arm
    assert not result.glue_known
    assert result.ripple is None
    assert result.relative_imbalance == pytest.approx(0.0, abs=1e-4)
    assert result.train.ratios == {"upper": Fraction(12), "lower": Fraction(-12)}


def _with(geometry: Machine, **changed) -> Machine:
    fittings: Fittings = geometry.fittings
    return replace(geometry, fittings=replace(fittings, **changed))


def test_friction_beyond_the_hand(shipped, table):
    stiff = _with(shipped, friction=Friction(crank=5.0))
    with pytest.raises(ImpossibleError, match="friction alone asks for"):
        effort(stiff, crank_speed(stiff, SPEED), table=table)


def test_friction_that_outholds_the_magnets(shipped, table):
    held = _with(shipped, friction=Friction(crank=1.5), load=None)
    assert effort(held, crank_speed(held, SPEED), table=table).held_by_friction


def test_peel_strength_is_not_guessed(shipped, table):
    glue = replace(shipped.fittings.adhesive, peel_strength=None)
    weak = _with(shipped, adhesive=glue)
    with pytest.raises(ImpossibleError, match=r"adhesive\.peel_strength is not given"):
        effort(weak, crank_speed(weak, SPEED), table=table)


def test_needs_a_crank_speed(shipped, table):
    with pytest.raises(ValueError, match="crank speed"):
        effort(shipped, rotor_speed(shipped, 100.0), table=table)
