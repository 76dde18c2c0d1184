"""Windings worked out from turns, wire or section, and contradictions between them."""

import math
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from machines import si_coil

from fieldsim.errors import ImpossibleError
from fieldsim.wire.corners import Corners
from fieldsim.wire.packing import CopperFill, HexagonalLayers, SquareLayers, WireFill
from fieldsim.wire.round_wire import Wire, awg_wire
from fieldsim.wire.winding import Spool, WindingSpec, resolve_winding

OPENING_M = (24e-3, 16e-3)
WIRE = awg_wire(32)
PACKINGS = [SquareLayers(), HexagonalLayers(), WireFill(0.7), CopperFill(0.4)]


def stated(**what):
    keys = {"wire": WIRE, "opening_m": OPENING_M, "length_m": 12e-3, **what}
    return WindingSpec(**keys)


def wound(**what):
    return resolve_winding(stated(**what))


def mean_turn_of_uniform_coil_m(winding):
    coil = si_coil(
        "c", (0, 0, 0), (0, 0, 1), (1, 0, 0), OPENING_M, 12e-3, winding.build_m, winding.turns
    )
    return coil.mean_turn_m


def test_square_layers_by_hand():
    # 20 wires of 0.5 mm side by side in 10 mm; 50 turns are two full layers and ten turns.
    # Sides 20 x 10 mm: turns of 60 + 8 (0.25, 0.75, 1.25) = 62, 66, 70 mm.
    winding = resolve_winding(
        WindingSpec(
            Wire("w", 0.45e-3, 0.5e-3), (20e-3, 10e-3), 10e-3, packing=SquareLayers(), turns=50
        )
    )
    assert winding.layers == 3
    assert winding.turns_per_layer == (20, 20)
    assert winding.build_m == pytest.approx(1.5e-3, rel=1e-14)
    assert winding.wire_length_m == pytest.approx(20 * 0.062 + 20 * 0.066 + 10 * 0.070, rel=1e-14)
    assert winding.mean_turn_m == pytest.approx(3.26 / 50, rel=1e-14)
    assert winding.outer_m == pytest.approx((23e-3, 13e-3))
    # Outside 2 (23 + 13) 10 mm2, two ends of 23 x 13 - 20 x 10 mm2.
    assert winding.surface_m2 == pytest.approx((720 + 2 * 99) * 1e-6)
    assert winding.mass_kg == pytest.approx(3.26 * winding.wire.mass_kg_m)
    assert winding.copper_mass_kg == pytest.approx(3.26 * winding.wire.copper_mass_kg_m)
    assert winding.copper_fill == pytest.approx(50 * math.pi / 4 * 0.45**2 / 15)
    assert winding.wire_fill == pytest.approx(50 * math.pi / 4 * 0.25 / 15)
    assert winding.supply_m is winding.leftover_m is winding.leftover_kg is None
    assert winding.room_left_m is None


def test_hexagonal_layers_by_hand():
    # Layers of 20, 19, 20; three diameters less twice what the grooves save.
    winding = resolve_winding(
        WindingSpec(
            Wire("w", 0.45e-3, 0.5e-3), (20e-3, 10e-3), 10e-3, packing=HexagonalLayers(), turns=50
        )
    )
    up = 0.5 * math.sqrt(3) / 2
    assert (winding.layers, winding.turns_per_layer) == (3, (20, 19))
    assert winding.build_m == pytest.approx((0.5 + 2 * up) * 1e-3, rel=1e-14)
    expected_mm = 20 * 62 + 19 * (62 + 8 * up) + 11 * (62 + 16 * up)
    assert winding.wire_length_m == pytest.approx(expected_mm * 1e-3, rel=1e-14)


@given(layers=st.integers(1, 60), packing=st.sampled_from([SquareLayers(), HexagonalLayers()]))
@settings(max_examples=40, deadline=None)
def test_full_layers_agree_with_the_uniform_coil(layers, packing):
    # With as many turns in every layer the mean turn lies exactly mid-build. 12 mm hold 53 wires
    # of 0.2235 mm and half a wire more, so hexagonal layers are equal as well.
    winding = wound(packing=packing, turns=53 * layers)
    assert winding.layers == layers
    assert winding.mean_turn_m == pytest.approx(mean_turn_of_uniform_coil_m(winding), rel=1e-12)


@pytest.mark.parametrize("packing", [WireFill(0.7), CopperFill(0.4)])
def test_even_fill_is_the_uniform_coil(packing):
    winding = wound(packing=packing, turns=1234)
    assert winding.mean_turn_m == pytest.approx(mean_turn_of_uniform_coil_m(winding), rel=1e-14)
    share = winding.wire_fill if isinstance(packing, WireFill) else winding.copper_fill
    assert share == pytest.approx(packing.fraction, rel=1e-12)
    assert winding.layers is winding.turns_per_layer is None


@pytest.mark.parametrize("packing", PACKINGS)
@given(turns=st.integers(1, 20_000))
@settings(max_examples=25, deadline=None)
def test_every_way_of_stating_it_gives_the_same_winding(packing, turns):
    by_turns = wound(packing=packing, turns=turns)
    by_length = wound(packing=packing, wire_length_m=by_turns.wire_length_m)
    by_mass = wound(packing=packing, spools=(Spool(mass_kg=by_turns.mass_kg),))
    filled = wound(packing=packing, build_m=by_turns.build_m, fill=True)
    assert by_length.turns == by_mass.turns == turns
    assert by_length.build_m == by_mass.build_m == by_turns.build_m
    assert filled.turns >= turns  # the last layer may hold more
    assert filled.build_m == by_turns.build_m


@pytest.mark.parametrize("packing", PACKINGS)
@given(wire_m=st.floats(0.5, 5000.0))
@settings(max_examples=25, deadline=None)
def test_supply_is_used_to_the_last_whole_turn(packing, wire_m):
    winding = wound(packing=packing, wire_length_m=wire_m)
    one_more = wound(packing=packing, turns=winding.turns + 1)
    assert winding.wire_length_m <= wire_m * (1 + 1e-9) < one_more.wire_length_m * (1 + 1e-9)
    assert winding.leftover_m == pytest.approx(wire_m - winding.wire_length_m, abs=1e-6)
    assert winding.leftover_kg == pytest.approx(winding.leftover_m * WIRE.mass_kg_m, rel=1e-12)


def test_part_used_spools_add_up():
    one = wound(turns=10, spools=(Spool(mass_kg=0.25, left=0.6),))
    assert one.supply_m * WIRE.mass_kg_m == pytest.approx(0.15, rel=1e-12)
    several = wound(
        turns=10,
        spools=(Spool(mass_kg=0.25, left=0.6), Spool(length_m=100.0, left=0.5, count=3)),
    )
    assert several.supply_m == pytest.approx(one.supply_m + 150.0, rel=1e-12)
    assert several.leftover_m == pytest.approx(several.supply_m - several.wire_length_m)


def test_square_layers_unless_stated():
    assert wound(turns=100).packing == SquareLayers()
    assert wound(wire_length_m=50.0, build_m=6e-3).packing == SquareLayers()
    assert wound(fill=True, build_m=6e-3).packing == SquareLayers()


def test_turns_and_build_alone_are_taken_as_wound():
    winding = wound(turns=1000, build_m=6e-3)
    assert winding.build_m == 6e-3  # to the last digit
    assert winding.wire_length_m == pytest.approx(1000 * (0.08 + 4 * 6e-3), rel=1e-14)
    assert winding.wire_fill == pytest.approx(1000 * WIRE.overall_area_m2 / 72e-6, rel=1e-12)
    assert winding.caution("c") is None
    tight = wound(turns=1500, build_m=6e-3).caution("c")
    assert (tight.kind, tight.where) == ("full section", "c")
    assert (tight.value, tight.limit) == (pytest.approx(0.82, abs=0.005), math.pi / 4)


def test_room_left_is_reported():
    winding = wound(turns=53, build_m=6e-3, packing=SquareLayers())
    assert winding.build_m == pytest.approx(WIRE.overall_diameter_m)
    assert winding.room_left_m == pytest.approx(6e-3 - WIRE.overall_diameter_m)


def test_rounded_corners_take_less_wire():
    winding = wound(packing=WireFill(0.7), turns=1284)
    depth = winding.build_m / 2
    expected = 1284 * (0.08 + 2 * math.pi * depth)
    assert winding.wire_length_rounded_corners_m == pytest.approx(expected, rel=1e-12)
    # Some per cent, as promised in the notes.
    assert 0.94 < winding.wire_length_rounded_corners_m / winding.wire_length_m < 0.97


@pytest.mark.parametrize("packing", PACKINGS)
def test_round_corners_count_for_length_mass_and_spool(packing):
    sharp, bent = (wound(packing=packing, turns=1200, corners=corners) for corners in Corners)
    assert bent.turns == sharp.turns
    assert bent.build_m == sharp.build_m
    assert bent.wire_length_m == pytest.approx(sharp.wire_length_rounded_corners_m, rel=1e-14)
    assert bent.wire_length_rounded_corners_m == pytest.approx(bent.wire_length_m, rel=1e-14)
    assert bent.mass_kg / sharp.mass_kg == pytest.approx(bent.wire_length_m / sharp.wire_length_m)
    # The wire of the sharp coil makes as many more turns as they are shorter, but for one.
    more = wound(packing=packing, wire_length_m=sharp.wire_length_m, corners=Corners.ROUND)
    assert 1.03 < more.turns / 1200 < 1.08
    assert more.leftover_m < 0.2


def test_round_corners_leave_less_surface():
    sharp, bent = (wound(packing=WireFill(0.7), turns=1284, corners=corners) for corners in Corners)
    t, (a, b), length = sharp.build_m, sharp.spec.opening_m, sharp.spec.length_m
    ends = 2 * ((a + 2 * t) * (b + 2 * t) - a * b)
    assert sharp.surface_m2 == pytest.approx((2 * (a + b) + 8 * t) * length + ends)
    # Four quarters of a disc in place of four squares, at both ends.
    assert bent.surface_m2 == pytest.approx(
        (2 * (a + b) + 2 * math.pi * t) * length + ends - 2 * (4 - math.pi) * t**2
    )


@pytest.mark.parametrize(
    ("what", "message"),
    [
        (
            {"turns": 1800, "build_m": 6e-3, "packing": SquareLayers()},
            "1800 turns of AWG 32 single in square layers are 7.60 mm thick, the build allows "
            "6.00 mm (1378 turns)",
        ),
        (
            {"turns": 1800, "build_m": 6e-3},
            "1800 turns of AWG 32 single (0.2235 mm over the enamel) do not fit in 12 mm x 6 mm; "
            "the densest packing holds 1664",
        ),
        (
            {"turns": 1800, "wire_length_m": 180.0},
            "1800 turns need 199 m, the supply holds 180 m",
        ),
        (
            {"turns": 1800, "spools": (Spool(mass_kg=0.05, left=0.5), Spool(length_m=20.0))},
            "1800 turns need 199 m, the supply holds 105 m",
        ),
        (
            {"fill": True, "build_m": 6e-3, "wire_length_m": 100.0},
            "1378 turns need 142 m, the supply holds 100 m",
        ),
        (
            {"fill": True, "build_m": 6e-3, "turns": 1000},
            "1000 turns are stated, but filling the section takes 1378",
        ),
        ({"fill": True}, "filling the section needs its build"),
        (
            {"fill": True, "build_m": 0.2e-3},
            "the section, 0.200 mm thick, holds no turn of wire 0.224 mm thick",
        ),
        (
            {"wire_length_m": 500.0, "build_m": 6e-3},
            "thick, the build allows 6.00 mm (1378 turns)",
        ),
        ({}, "nothing says how many turns"),
        ({"build_m": 6e-3}, "nothing says how many turns"),
        ({"wire_length_m": 0.05}, "one turn needs 0.0809 m, the supply holds 0.0500 m"),
        ({"wire_length_m": 1e9}, "supply of 1000000000 m makes 1000000 turns or more"),
        (
            {"wire_length_m": 50.0, "spools": (Spool(length_m=60.0),), "turns": 5},
            "either a wire length (50.00 m is stated) or spools (60.00 m are stated)",
        ),
        ({"turns": 10, "length_m": 0.1e-3}, "0.1 mm long has no room"),
    ],
)
def test_contradictions_show_both_values(what, message):
    with pytest.raises(ImpossibleError) as error:
        wound(**what)
    assert message in str(error.value)
    assert "\n" not in str(error.value)


def test_values_that_differ_little_are_shown_differently():
    needed = wound(turns=1800).wire_length_m
    with pytest.raises(ImpossibleError) as error:
        wound(turns=1800, wire_length_m=needed * (1 - 1e-6))
    first, second = re.findall(r"[\d.]+(?= m)", str(error.value))
    assert float(first) > float(second)


@pytest.mark.parametrize(
    ("what", "message"),
    [
        ({"turns": 0}, "0 turns; allowed: 1 to 1000000"),
        ({"turns": -5}, "-5 turns"),
        ({"turns": 5, "build_m": -1e-3}, "the build must be above zero"),
        ({"turns": 5, "length_m": 0.0}, "the length must be above zero"),
        ({"turns": 5, "opening_m": (24e-3, -1e-3)}, "the opening must be above zero"),
        ({"turns": 5, "opening_m": (24e-3, math.nan)}, "the opening must be above zero"),
        ({"wire_length_m": math.inf}, "the wire length must be above zero"),
    ],
)
def test_parts_must_be_above_zero(what, message):
    with pytest.raises(ImpossibleError, match=message):
        stated(**what)


@pytest.mark.parametrize(
    "what",
    [
        {},
        {"mass_kg": 0.25, "length_m": 100.0},
        {"mass_kg": 0.0},
        {"length_m": -1.0},
        {"mass_kg": 0.25, "left": 0.0},
        {"mass_kg": 0.25, "left": 1.1},
        {"mass_kg": 0.25, "count": 0},
        {"mass_kg": math.nan},
    ],
)
def test_impossible_spool(what):
    with pytest.raises(ImpossibleError):
        Spool(**what)
