"""Packing models: how many side by side, and how dense at the limit."""

import math

import numpy as np
import pytest

from fieldsim.errors import ImpossibleError
from fieldsim.wire.packing import (
    DENSEST_FILL,
    CopperFill,
    HexagonalLayers,
    RandomWinding,
    SquareLayers,
    WireFill,
)
from fieldsim.wire.round_wire import Wire, Wires, awg_wires

WIRE = Wire("w", 0.2e-3, 0.25e-3)


@pytest.mark.parametrize(
    ("length_mm", "odd", "even"),
    [
        (10.0, 40, 39),
        (10.125, 40, 40),
        (10.124, 40, 39),
        (10.24, 40, 40),
        (0.375, 1, 1),
        (0.5, 2, 1),
    ],
)
def test_hexagonal_layers_alternate(length_mm, odd, even):
    stack = HexagonalLayers().stack(WIRE, length_mm * 1e-3)
    assert (int(stack.odd), int(stack.even)) == (odd, even)
    assert float(stack.pitch_m) == pytest.approx(0.25e-3 * math.sin(math.pi / 3), rel=1e-14)


def test_neighbours_touch_and_do_not_overlap():
    # Middle of a turn in the groove: half a diameter along, one pitch up, from both neighbours.
    stack = HexagonalLayers().stack(WIRE, 10e-3)
    distance = math.hypot(0.25e-3 / 2, float(stack.pitch_m))
    assert distance == pytest.approx(0.25e-3, rel=1e-14)


def test_a_whole_number_of_wires_fits_in_spite_of_rounding():
    for turns in range(1, 400):
        stack = SquareLayers().stack(Wire("w", 0.1e-3, 0.2e-3), turns * 0.2e-3)
        assert int(stack.odd) == int(stack.even) == turns


@pytest.mark.parametrize(
    ("packing", "limit"),
    [(SquareLayers(), math.pi / 4), (HexagonalLayers(), DENSEST_FILL)],
)
def test_large_sections_reach_the_ideal_density(packing, limit):
    side = 0.25  # a thousand wires each way: the edges cost under two parts in a thousand
    turns = int(packing.stack(WIRE, side).turns_in(side))
    fill = turns * WIRE.overall_area_m2 / side**2
    assert limit * 0.998 < fill <= limit * (1 + 1e-9)


@pytest.mark.parametrize("packing", [SquareLayers(), HexagonalLayers(), WireFill(0.7)])
def test_gauges_at_once_equal_gauges_one_by_one(packing):
    wires = awg_wires(np.arange(24, 41))
    at_once = packing.stack(wires, 12e-3).turns_in(6e-3)
    singly = [
        int(packing.stack(Wire("w", float(b), float(o)), 12e-3).turns_in(6e-3))
        for b, o in zip(wires.bare_diameter_m, wires.overall_diameter_m, strict=True)
    ]
    assert at_once.tolist() == singly
    assert np.all(np.diff(at_once) > 0)


def test_fills_are_shares_of_the_section():
    section = 12e-3 * 6e-3
    turns = int(CopperFill(0.5).stack(WIRE, 12e-3).turns_in(6e-3))
    assert turns == math.floor(0.5 * section / WIRE.copper_area_m2)
    turns = int(WireFill(0.7).stack(WIRE, 12e-3).turns_in(6e-3))
    assert turns == math.floor(0.7 * section / WIRE.overall_area_m2)


@pytest.mark.parametrize("share", [0.0, -0.1, 0.95, math.nan])
@pytest.mark.parametrize("packing", [CopperFill, WireFill])
def test_impossible_fill(packing, share):
    with pytest.raises(ImpossibleError, match=r"allowed: above 0 % to 90.7 %"):
        packing(share)


def test_enamel_limits_the_copper():
    # 0.9069 (0.2 / 0.25)^2 = 58.0 %
    CopperFill(0.58).stack(WIRE, 12e-3)
    with pytest.raises(ImpossibleError, match=r"60 % is stated.*at most 58 %"):
        CopperFill(0.60).stack(WIRE, 12e-3)


@pytest.mark.parametrize("packing", [SquareLayers(), HexagonalLayers()])
def test_too_short_for_one_wire(packing):
    with pytest.raises(ImpossibleError, match=r"0\.2 mm long has no room for wire 0\.25 mm thick"):
        packing.stack(WIRE, 0.2e-3)
    with pytest.raises(ImpossibleError, match="no room"):
        packing.stack(Wires(np.array([0.1e-3, 0.2e-3]), np.array([0.12e-3, 0.25e-3])), 0.2e-3)


def test_hexagonal_layers_need_a_groove():
    with pytest.raises(ImpossibleError, match=r"0\.3 mm long has no groove.*use square layers"):
        HexagonalLayers().stack(WIRE, 0.3e-3)


def test_random_winding_is_sixty_per_cent_wire_of_every_gauge():
    wires = awg_wires([24, 32, 40])
    turns = RandomWinding().stack(wires, 12e-3).turns_in(6e-3)
    assert turns.tolist() == WireFill(0.6).stack(wires, 12e-3).turns_in(6e-3).tolist()
    area = math.pi / 4 * wires.overall_diameter_m**2
    assert turns * area / (12e-3 * 6e-3) == pytest.approx(0.6, rel=1 / turns.min())
