"""Voltages of joined coils: series, parallel by resistance, nested, and what cannot be told."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from machines import shipped

from fieldsim.machine.connections import Connection
from fieldsim.machine.load.load import Load
from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.operation.terminal_voltage import (
    cancels,
    connection_waveform,
    nothing_drives,
    open_emf_V,
)
from fieldsim.waveform.figures import emf_figures

TWO = replace(shipped("two_coils"), load=Load())
POINT = OperatingPoint(TWO, "90 rpm", tolerance=1e-4)
LEFT, RIGHT = POINT.waveform.emf_V


def at(machine):
    return OperatingPoint(machine, "90 rpm", tolerance=1e-4)


def joined(*connections, machine=TWO):
    return replace(machine, connections=connections)


def thinner(machine, name, turns):
    coils = tuple(
        replace(c, turns=turns, wire=replace(c.wire, spools=())) if c.name == name else c
        for c in machine.coils
    )
    return replace(machine, coils=coils)


def test_in_series_the_voltages_add():
    machine = joined(
        Connection("sum", series=["left", "-right"]),
        Connection("more", series=["-sum", "spare"]),
        machine=replace(TWO, coils=(*TWO.coils, replace(TWO.coils[0], name="spare", turns=700,
                        wire=replace(TWO.coils[0].wire, spools=()), centre=(0.0, 0.1, 0.0)))),
    )  # fmt: skip
    point = at(machine)
    first, second, spare = point.waveform.emf_V
    found = point.connection_waveform
    assert found.coils == ("sum", "more")
    scale = np.abs(first).max()
    # Where both cancel to the table's error, nothing is left.
    assert np.allclose(found.emf_V[0], 0.0, atol=1e-4 * scale)
    assert np.allclose(found.emf_V[1], second - first + spare, atol=1e-12 * scale)
    assert np.allclose(found.scale_V[0], point.waveform.scale_V[:2].sum())


def test_in_parallel_they_share_by_their_resistances():
    machine = joined(
        Connection("pair", parallel=["left", "right"]), machine=thinner(TWO, "left", 500)
    )
    point = at(machine)
    first, second = point.waveform.emf_V
    one, other = (c.resistance_ohm(machine.temperature) for c in machine.coils)
    assert one < 0.5 * other
    shared = (first * other + second * one) / (one + other)
    assert np.allclose(point.connection_waveform.emf_V[0], shared, atol=1e-12)
    figures = point.connection_figures["pair"]
    assert figures.rms_V == pytest.approx(np.sqrt(np.mean(shared**2)), rel=1e-9)
    assert figures.frequency_Hz == point.figures["right"].frequency_Hz
    low, high = sorted(point.figures[name].peak_to_peak_linkage_Wb for name in ("left", "right"))
    assert low < figures.peak_to_peak_linkage_Wb < high


def test_without_wire_a_parallel_cannot_be_told_but_a_series_can():
    bare = tuple(replace(c, wire=type(c.wire)(), turns=900, build=0.006) for c in TWO.coils)
    machine = replace(TWO, coils=bare)
    side = at(joined(Connection("pair", parallel=["left", "right"]), machine=machine))
    assert side.connection_figures == {"pair": None}
    assert side.connection_waveform.coils == ()
    row = at(joined(Connection("pair", series=["left", "right"]), machine=machine))
    assert row.connection_figures["pair"].rms_V == pytest.approx(
        2 * row.figures["left"].rms_V, rel=1e-4
    )


def test_other_samples_give_the_same_figures_of_a_smooth_wave():
    listed = connection_waveform(POINT.waveform, joined(Connection("a", series=["left", "right"])))
    figures = emf_figures(listed)["a"]
    assert figures.rms_V == pytest.approx(np.sqrt(np.mean((LEFT + RIGHT) ** 2)), rel=1e-12)
    assert figures.peak_V == pytest.approx(np.abs(LEFT + RIGHT).max(), rel=1e-4)
    assert figures.frequency_Hz == 27.0


@pytest.mark.parametrize(
    ("joining", "cancelled", "driven"),
    [
        ({"series": ["left", "right"]}, False, True),
        ({"series": ["left", "-right"]}, True, False),
        ({"parallel": ["left", "right"]}, False, True),
        ({"parallel": ["left", "-right"]}, True, True),  # round through both coils
    ],
)
def test_what_cancels_and_what_still_drives_current(joining, cancelled, driven):
    machine = replace(joined(Connection("pair", **joining)), load=Load("pair", resistor="100 ohm"))
    point = at(machine)
    assert cancels(point) is cancelled
    assert nothing_drives(point) is not driven
    heat = sum(coil.heat_W for coil in point.effort.electric.coils)
    assert (heat > 0.01) is driven


def test_rotors_that_cancel_in_one_coil():
    ring = shipped("lamp_ring")
    assert not cancels(at(ring))
    against = at(ring.changed({"rotors.lower.magnets[0].north": "-shaft"}))
    assert cancels(against)
    assert not against.waveform.emf_V.any()  # exactly: rounding is no voltage
    assert against.waveform.scale_V[0] == pytest.approx(at(ring).waveform.scale_V[0], rel=1e-9)


def test_a_small_voltage_that_nothing_cancels_is_one():
    one = shipped("one_rotor")
    far = replace(one, coils=(replace(one.coils[0], centre=(0.0, 3.0, 0.0)),))
    point = at(far)
    assert not cancels(point)
    assert 0 < point.figures["pickup"].rms_V < 1e-4 * at(one).figures["pickup"].rms_V
    assert np.abs(open_emf_V(point, "pickup")).max() > 0
