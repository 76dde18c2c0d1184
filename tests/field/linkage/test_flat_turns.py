"""Straight turns by their edges against plain quadrature over their area."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from winding_areas import EQUAL, TOWARDS_SHAFT, by_area

from fieldsim.field.linkage import waves
from fieldsim.field.linkage.flat_turns import straight_harmonics
from fieldsim.field.linkage.ring_patches import FlatTurns, ring_patches
from fieldsim.field.linkage.track import CoilInRotor, Track
from fieldsim.machine.magnets import ArmAxis, Sphere

MM = 1e-3
TRACK = Track(Sphere(10 * MM), 20 * MM, 14 * MM, ArmAxis.SHAFT)
ORDERS = (0, 1, 2, 3, 12)


def patch_of(centre_m, half_m, build_m, turn=0.0):
    """The sides of a flat winding, seen from a rotor."""
    c, s = math.cos(turn), math.sin(turn)
    frame = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
    winding = CoilInRotor(np.array([*centre_m, 0.0]), frame, half_m, build_m, 5 * MM)
    return ring_patches(TRACK, winding)[0]


def error(sides, rho_m, n_rho, panels):
    """How far straight turns are from their area, beside the largest."""
    exact = sum(by_area(side, rho_m, n_rho, ORDERS, panels) for side in sides)
    found = straight_harmonics(FlatTurns(sides, rho_m, None), n_rho, max(ORDERS) + 1)[:, :, ORDERS]
    return np.abs(found - exact).max() / np.abs(exact).max()


lengths = st.floats(1 * MM, 40 * MM)
turns = st.one_of(st.just(0.0), st.floats(-0.8, 0.8))


@settings(max_examples=15, deadline=None)
@given(
    half=st.tuples(lengths, lengths),
    build=st.floats(2 * MM, 12 * MM),
    nearest=st.floats(0.3, 2.0),
    sideways=st.floats(-1.0, 1.0),
    turn=turns,
    n_rho=st.integers(1, 9),
)
def test_ordinary_windings(half, build, nearest, sideways, turn, n_rho):
    """Beside the shaft, a third of their size away from it or more."""
    size = math.hypot(*half) + 2 * build
    patch = patch_of((sideways * half[0], (1 + nearest) * size), half, build, turn)
    # The inner and the outer edge nearly cancel where the build is small beside the distance.
    allowed = 1e-12 * max(1.0, patch.rho_m[1] / build / 20)
    assert error(unmirrored(patch), patch.rho_m, n_rho, EQUAL) < allowed


@pytest.mark.parametrize("half", [(12 * MM, 8 * MM), (0.0, 8 * MM)])
@pytest.mark.parametrize("centre_mm", [(0, 22), (31, 0), (4, 0), (0, 1e-6), (0, 0)])
def test_half_of_a_winding_and_its_image_are_the_whole(centre_mm, half):
    """Also where an inner face lies in the plane itself."""
    patch = patch_of(np.array(centre_mm) * MM, half, 6 * MM)
    assert patch.mirror is not None
    whole = straight_harmonics(FlatTurns(unmirrored(patch), patch.rho_m, None), 9, 40)
    found = straight_harmonics(patch.turns, 9, 40)
    assert np.abs(found - whole).max() < 1e-12 * np.abs(whole).max()


@pytest.mark.parametrize("centre_mm", [(0, 22), (7, 22)])
def test_few_points_at_once_are_the_same(centre_mm, monkeypatch):
    patch = patch_of(np.array(centre_mm) * MM, (12 * MM, 8 * MM), 6 * MM)
    size = (patch.turns, 9, 40)
    at_once = straight_harmonics(*size)
    monkeypatch.setattr(waves, "_WEIGHTS", 500)
    assert np.abs(straight_harmonics(*size) - at_once).max() < 1e-13 * np.abs(at_once).max()


def test_pieces_of_a_side_add_up():
    """Divided in length and in depth, with so many waves that edges are halved too."""
    patch = patch_of((3 * MM, 14 * MM), (12 * MM, 8 * MM), 6 * MM, 0.4)
    side = patch.sides[2]
    pieces = [
        part
        for half in side.halved_along()
        for deep in half.halved_in_depth()
        for part in deep.halved_along()
    ]
    rho_m = side.rho_range_m()
    whole = straight_harmonics(FlatTurns((side,), rho_m, None), 40, 900)
    parts = [straight_harmonics(FlatTurns((piece,), rho_m, None), 40, 900) for piece in pieces]
    assert np.abs(sum(parts) - whole).max() < 1e-12 * np.abs(whole).max()


def test_an_order_of_a_thousand():
    side = patch_of((7 * MM, 24 * MM), (3 * MM, 3 * MM), 1.5 * MM).sides[0]
    rho_m = side.rho_range_m()
    exact = by_area(side, rho_m, 2, (1000,), np.linspace(-1.0, 1.0, 521))[..., 0]
    found = straight_harmonics(FlatTurns((side,), rho_m, None), 2, 1001)[..., 1000]
    assert np.abs(found - exact).max() < 1e-6 * np.abs(exact).max()


def unmirrored(patch):
    """All sides of a winding of which a patch may hold half."""
    if patch.mirror is None:
        return patch.sides
    normal = np.array([-math.sin(patch.mirror), math.cos(patch.mirror), 0.0])
    turned = np.eye(3) - 2 * np.outer(normal, normal)
    images = [
        replace(
            side,
            along=-turned @ side.along, outward=turned @ side.outward,
            middle_m=turned @ side.middle_m, start=-side.stop, stop=-side.start,
        )
        for side in patch.sides
    ]  # fmt: skip
    return (*patch.sides, *images)


off_centre = st.floats(-9.0, -3.0).map(lambda power: 10.0**power)


@settings(max_examples=30, deadline=None)
@given(
    where=st.sampled_from(["opening", "inner face", "winding", "outer face", "corner", "miter"]),
    off=st.tuples(off_centre, off_centre),
    half=st.tuples(lengths, lengths),
    build=st.floats(0.2 * MM, 12 * MM),
    along=st.floats(-1.0, 1.0),
    turn=turns,
    cut=st.sampled_from(["whole", "half a turn", "inner turns", "quarter"]),
    side=st.integers(0, 3),
    n_rho=st.integers(1, 9),
)
def test_the_shaft_next_to_the_winding_and_in_it(
    where, off, half, build, along, turn, cut, side, n_rho
):
    """The shaft in the middle, on a face, between turns, at a corner or the diagonal, just off."""
    depth = {"opening": -half[0], "winding": 0.4 * build, "outer face": build}.get(where, 0.0)
    place = np.array([half[0] + depth, along * half[1]])
    if where in ("corner", "miter"):
        place = np.array(half) + (build if where == "corner" else build / 3)
    c, s = math.cos(turn), math.sin(turn)
    centre = -np.array([[c, -s], [s, c]]) @ (place + off)
    patch = patch_of(centre, half, build, turn)
    assume(patch.mirror is None)
    sides = patch.sides
    if cut != "whole":
        one = sides[side].halved_in_depth()[0] if cut == "inner turns" else sides[side]
        halves = 0 if cut == "inner turns" else 1 if cut == "half a turn" else 2
        for _ in range(halves):
            one = one.halved_along()[1]
        sides = (one,)
    rho = [each.rho_range_m() for each in sides]
    rho_m = (min(low for low, _ in rho), max(high for _, high in rho))
    assert error(sides, rho_m, n_rho, TOWARDS_SHAFT) < 1e-10
