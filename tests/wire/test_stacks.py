"""Stacks of turns against a turn-by-turn sum."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldsim.wire.corners import Corners
from fieldsim.wire.packing import CopperFill, HexagonalLayers, SquareLayers, WireFill
from fieldsim.wire.round_wire import awg_wires
from fieldsim.wire.stacks import MOST_TURNS, Former, LayerStack, UniformStack, turns_from_wire

counts = st.integers(1, 300)


def turn_by_turn(odd, even, overall, pitch, turns):
    """Depth of the middle of every turn outside the former, wound one by one."""
    depths, layer, in_layer = [], 0, 0
    for _ in range(turns):
        if in_layer == (even if layer % 2 else odd):
            layer, in_layer = layer + 1, 0
        depths.append(overall / 2 + layer * pitch)
        in_layer += 1
    return np.array(depths), layer + 1


@given(
    odd=st.integers(1, 12),
    fewer=st.integers(0, 1),
    overall=st.floats(0.05, 2.0),
    squash=st.floats(0.8, 1.0),
    turns=counts,
    around=st.floats(1.0, 500.0),
    corners=st.sampled_from(Corners),
)
@settings(max_examples=100, deadline=None)
def test_wire_is_the_exact_sum_over_turns(odd, fewer, overall, squash, turns, around, corners):
    even = max(odd - fewer, 1)
    stack = LayerStack(np.float64(overall), np.float64(overall * squash), odd, even)
    depths, layers = turn_by_turn(odd, even, overall, overall * squash, turns)
    assert int(stack.layers(turns)) == layers
    # Eight times the depth round four sharp corners, a circle of that radius round four bends.
    beyond = 8 * depths if corners is Corners.SHARP else 2 * np.pi * depths
    # Rounding of 300 additions.
    assert float(stack.wire_m(turns, Former(around, corners))) == pytest.approx(
        np.sum(around + beyond), rel=1e-12
    )
    assert float(stack.build_m(turns)) == pytest.approx(depths[-1] + overall / 2, rel=1e-12)


@given(odd=st.integers(1, 12), fewer=st.integers(0, 1), turns=counts, overall=st.floats(0.05, 2))
@settings(max_examples=100, deadline=None)
def test_capacity_and_build_are_inverse(odd, fewer, turns, overall):
    even = max(odd - fewer, 1)
    stack = LayerStack(np.float64(overall), np.float64(0.866 * overall), odd, even)
    build = float(stack.build_m(turns))
    held = int(stack.turns_in(build))
    assert held >= turns
    assert float(stack.build_m(held)) == build
    assert float(stack.build_m(held + 1)) > build
    assert int(stack.turns_in(build - 0.01 * overall)) < held


@given(turns=counts, per=st.floats(1e-7, 1e-3), around=st.floats(0.01, 1.0))
@settings(max_examples=50, deadline=None)
def test_uniform_stack_is_turns_times_the_mean_turn(turns, per, around):
    stack = UniformStack(np.float64(per))
    build = float(stack.build_m(turns))
    assert int(stack.turns_in(build)) == turns
    assert int(stack.turns_in(build * 0.999999)) == turns - 1
    sharp, bent = Former(around), Former(around, Corners.ROUND)
    assert float(stack.wire_m(turns, sharp)) == pytest.approx(turns * (around + 4 * build))
    assert float(stack.wire_m(turns, bent)) == pytest.approx(turns * (around + np.pi * build))


@given(
    turns=st.integers(1, MOST_TURNS - 1),
    packing=st.sampled_from([SquareLayers(), HexagonalLayers(), WireFill(0.7), CopperFill(0.4)]),
    corners=st.sampled_from(Corners),
)
@settings(max_examples=50, deadline=None)
def test_turns_from_wire_inverts_wire_from_turns(turns, packing, corners):
    stack, former = packing.stack(awg_wires([24, 32, 40]), 12e-3), Former(0.08, corners)
    needed = stack.wire_m(turns, former)
    assert turns_from_wire(stack, needed, former).tolist() == [turns] * 3
    # The last turn is never shorter than the mean one.
    half_a_turn = needed / turns / 2
    assert turns_from_wire(stack, needed - half_a_turn, former).tolist() == [turns - 1] * 3


def test_no_turns_need_nothing():
    stack = SquareLayers().stack(awg_wires(32), 12e-3)
    assert float(stack.build_m(0)) == float(stack.wire_m(0, Former(0.08))) == 0.0
    assert int(stack.layers(0)) == int(stack.turns_in(0.0)) == int(stack.turns_in(1e-4)) == 0
    assert int(turns_from_wire(stack, 0.01, Former(0.08))) == 0


def test_an_absurd_supply_stops_at_the_most_turns():
    stack = SquareLayers().stack(awg_wires([32, 40]), 12e-3)
    assert turns_from_wire(stack, 1e30, Former(0.08)).tolist() == [MOST_TURNS] * 2
