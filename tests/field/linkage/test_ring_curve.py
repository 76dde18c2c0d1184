"""The ring method against the plain one, which shares only the potential with it."""

import math
from dataclasses import replace

import numpy as np
import pytest
from ring_cases import BOTH, CASES, MM, UPRIGHT, coil, distance_m2, random_case

import fieldsim as fs
from fieldsim.field.linkage import waves
from fieldsim.field.linkage.curve_book import CurveBook
from fieldsim.field.linkage.ring_curve import half_turn, ring_curves
from fieldsim.field.linkage.ring_nodes import foretold_counts, grid_on
from fieldsim.field.linkage.ring_patches import ring_patches, stands_square
from fieldsim.field.linkage.ring_potential import folded, potentials, spectrum
from fieldsim.field.linkage.ring_winding import forget_windings, winding_harmonics
from fieldsim.field.linkage.rings import rings_of
from fieldsim.field.linkage.track import CoilInRotor, Track, coil_in_rotor, track_of
from fieldsim.field.linkage.track_curve import angle_curve
from fieldsim.machine.magnets import ArmAxis, Cuboid
from fieldsim.wire.corners import Corners


def ring_curve(track, winding, relative):
    """One by itself."""
    return ring_curves([(track, winding, relative)])[0]


@pytest.mark.parametrize("corners", Corners)
@pytest.mark.parametrize("name", CASES)
def test_agrees_with_the_plain_method(name, corners):
    """Both are asked for 1e-6 and say what they reached; they may differ by the sum."""
    track, sharp = CASES[name]
    winding = replace(sharp, corners=corners)
    assert stands_square(winding)
    ring, plain = ring_curve(track, winding, 1e-6), angle_curve(track, winding, 0.0, 1e-6)
    assert ring.converged
    assert distance_m2(ring, plain) <= ring.error_m2 + plain.error_m2
    assert ring.swing_m2 > 1e-8


@pytest.mark.parametrize("relative", [1e-2, 1e-3, 1e-4, 1e-5, 1e-7])
@pytest.mark.parametrize("name", BOTH)
def test_the_stated_error_is_no_smaller_than_the_true_one(name, relative):
    found, exact = (ring_curve(*BOTH[name], asked) for asked in (relative, 1e-9))
    assert distance_m2(found, exact) <= found.error_m2 + exact.error_m2
    assert found.error_m2 <= relative * found.swing_m2


@pytest.mark.parametrize("seed", range(60))
def test_the_stated_error_is_honest_anywhere(seed):
    """Magnets and windings of all proportions, none of them looked at before."""
    rng = np.random.default_rng(1000 + seed)
    track, winding = random_case(rng)
    winding = replace(winding, corners=list(Corners)[seed % 2])
    relative = 10.0 ** rng.uniform(-6, -2)
    found, exact = (ring_curve(track, winding, asked) for asked in (relative, 1e-8))
    assert found.converged
    assert distance_m2(found, exact) <= found.error_m2 + exact.error_m2


@pytest.mark.parametrize("corners", Corners)
@pytest.mark.parametrize("length", [16.1999, 16.2, 16.2001, 19.0])
def test_near_part_of_one_height(length, corners):
    """At 16.2 mm the part of the side near the magnet is a single height: no cut without width."""
    track = Track(Cuboid((25 * MM, length * MM, 10 * MM)), 0.0, 0.0, ArmAxis.ARM)
    winding = replace(coil(UPRIGHT, (0, 0, 0), (60, 32.0), 16, 5), corners=corners)
    for patch in ring_patches(track, winding):
        assert patch.z_m[1] - patch.z_m[0] > 1e-6
    assert ring_curve(track, winding, 1e-3).converged


def grid_for(track, winding, relative=1e-2):
    rings = rings_of([track], [ring_patches(track, winding)])
    return rings, grid_on(rings, foretold_counts(rings, relative)[0])


def test_folding_is_what_half_the_angles_give():
    """Sampled at half as many angles, orders m and m - K run together."""
    track, winding = CASES["off the mirror"]
    rings, grid = grid_for(track, winding)
    fine, coarse = (potentials(rings, [(grid, half_turn(n))])[0][0] for n in (16, 8))
    expected = spectrum(track.north, rings.first_patches[0], coarse)
    found = folded(spectrum(track.north, rings.first_patches[0], fine))
    np.testing.assert_allclose(found, expected, atol=1e-15 * np.abs(expected).max() * 50)


def test_oblique_windings_go_the_plain_way():
    c, s = math.cos(0.3), math.sin(0.3)
    assert not stands_square(
        CoilInRotor(np.zeros(3), np.array([[1, 0, 0], [0, c, -s], [0, s, c]]), (1, 1), 1, 1)
    )


@pytest.mark.parametrize("name", BOTH)
def test_waves_taken_in_pieces_add_up_to_the_same(monkeypatch, name):
    rings, grid = grid_for(*BOTH[name])
    found = []
    for at_once in (4_000_000, 100):
        monkeypatch.setattr(waves, "_AT_ONCE", at_once)
        forget_windings()
        found.append(
            [
                winding_harmonics(patch, nodes.some(0), 24)
                for patch, nodes in zip(rings.first_patches, grid.near, strict=True)
            ]
        )
    forget_windings()
    for a, b in zip(*found, strict=True):
        assert a.shape == b.shape
        # sums of the same numbers in another order
        assert np.abs(a - b).max() < 1e-13 * np.abs(a).max()


def test_equal_windings_share_their_harmonics_whatever_the_height():
    track, low = CASES["beside"]
    raised = low.centre + np.array([0.0, 0.0, 0.02])
    high = CoilInRotor(raised, low.frame.copy(), low.half_opening, low.build, low.half_length)
    _, grid = grid_for(track, low)
    nodes = grid.near[0].some(0)
    first, second = (
        winding_harmonics(ring_patches(track, winding)[0], nodes, 16) for winding in (low, high)
    )
    assert first is second
    bent = replace(low, corners=Corners.ROUND)
    assert winding_harmonics(ring_patches(track, bent)[0], nodes, 16) is not first


@pytest.mark.parametrize("corners", Corners)
def test_corners_are_never_cut(corners):
    """A long side is cut round the part near the magnet, but not beyond the opening."""
    track = Track(Cuboid((8 * MM, 8 * MM, 8 * MM)), 10 * MM, 48 * MM, ArmAxis.ARM)
    winding = replace(coil(UPRIGHT, (31, 0, 0), (120, 4), 8, 10), corners=corners)
    upright = [patch for patch in ring_patches(track, winding) if patch.along_shaft]
    cuts = {z for patch in upright for z in patch.z_m} - {-70 * MM, 70 * MM}
    assert cuts
    assert max(abs(z) for z in cuts) < 60 * MM
    found, plain = ring_curve(track, winding, 1e-6), angle_curve(track, winding, 0.0, 1e-6)
    assert found.converged
    assert found.points < 1e6
    assert distance_m2(found, plain) <= found.error_m2 + plain.error_m2


def test_of_a_magnet_so_far_off_that_only_rounding_is_left_few_angles_are_taken():
    far = {"rotors.side.magnets[0].height": "10 m", "magnets.bar.size[0]": "0.1 mm"}
    machine = fs.read("geometries/three_rotors.yaml").changed(far)
    rotor = next(each for each in machine.placed_rotors if each.name == "side")
    for wound in machine.placed_coils:
        track = track_of(rotor.magnets[0])
        curve = CurveBook().curve(track, coil_in_rotor(wound, rotor), 1e-6)
        assert curve.angles <= 256
        assert curve.swing_m2 < 1e-15
        assert curve.error_m2 < 1e-15


def test_two_grids_that_agree_by_chance_are_not_believed():
    """The 815th draw of these: one change happens to be a seventieth of the one before."""
    rng = np.random.default_rng(101)
    for _ in range(815):
        track, winding = random_case(rng)
        relative = 0.6 * 10.0 ** rng.uniform(-6, -1)
    found, exact = (ring_curve(track, winding, asked) for asked in (relative, 1e-9))
    assert distance_m2(found, exact) <= found.error_m2 + exact.error_m2
