"""Joined coils that work against each other, and whose ends to swap."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from machines import shipped

from fieldsim.cautions import Hazard
from fieldsim.machine.connections import Connection
from fieldsim.machine.load.load import Load
from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.operation.opposed_coils import opposed_coil_cautions

TWO = shipped("two_coils")
POINT = OperatingPoint(TWO, "90 rpm", tolerance=1e-5)


def cautions(machine, waveform=POINT.waveform):
    return opposed_coil_cautions(machine, waveform)


def joined(**how):
    return replace(TWO, connections=(Connection("pair", **how),))


def rms(values):
    return math.sqrt(np.mean(values**2))


def test_coils_that_add_up_need_no_word():
    assert cautions(TWO) == ()
    assert cautions(joined(parallel=["left", "right"])) == ()
    assert cautions(replace(TWO, connections=(), load=Load())) == ()


def test_opposed_in_series():
    (found,) = cautions(joined(series=["left", "-right"]))
    left, right = POINT.waveform.emf_V
    assert found.kind is Hazard.OPPOSED_COILS
    assert found.where == "pair"
    assert found.value == pytest.approx(rms(left + right), rel=1e-12)
    assert found.facts["now_V"] == pytest.approx(rms(left - right), rel=1e-9)
    assert found.facts["after_V"] == found.value
    assert found.facts["joining"] == "series"


def test_the_one_among_three_is_named():
    third = replace(TWO.coils[0], name="third")
    machine = replace(
        TWO,
        coils=(*TWO.coils, third),
        connections=(Connection("pair", series=["left", "-right", "third"]),),
    )
    waveform = replace(
        POINT.waveform,
        coils=("left", "right", "third"),
        scale_V=POINT.waveform.scale_V[[0, 1, 0]],
        emf_V=POINT.waveform.emf_V[[0, 1, 0]],
    )
    (found,) = cautions(machine, waveform)
    assert found.facts["member"] == "right"


def test_opposed_in_parallel_drive_current_round():
    (found,) = cautions(joined(parallel=["left", "-right"]))
    left, right = POINT.waveform.emf_V
    assert found.value == pytest.approx(rms((left + right) / 2), rel=1e-6)
    assert found.facts["after_V"] < 1e-4 * found.value
    assert found.facts["joining"] == "parallel"


def test_a_quarter_of_a_wave_apart_neither_way_is_better():
    angle = np.linspace(0, 2 * np.pi, 720, endpoint=False)
    apart = replace(POINT.waveform, emf_V=np.stack([np.sin(angle), np.cos(angle)]))
    assert cautions(joined(series=["left", "right"]), apart) == ()
    assert cautions(joined(series=["left", "-right"]), apart) == ()


def test_a_third_of_a_wave_apart_one_end_is_wrong():
    """The sum of two phases 120 degrees apart is as large as each; their difference root three."""
    angle = np.linspace(0, 2 * np.pi, 720, endpoint=False)
    apart = np.stack([np.sin(angle), np.sin(angle - 2 * np.pi / 3)])
    (found,) = cautions(TWO, replace(POINT.waveform, emf_V=apart))
    assert found.facts["after_V"] / found.facts["now_V"] == pytest.approx(math.sqrt(3), rel=1e-12)


def test_nothing_moves():
    still = replace(POINT.waveform, emf_V=0 * POINT.waveform.emf_V)
    assert cautions(joined(series=["left", "-right"]), still) == ()


def test_light_says_so():
    opposed = POINT.moved_to(joined(series=["left", "-right"]), 1.0)
    assert Hazard.OPPOSED_COILS in [caution.kind for caution in opposed.light.cautions]
    assert Hazard.OPPOSED_COILS not in [caution.kind for caution in POINT.light.cautions]
