"""The ring method against the plain one, which shares only the potential with it."""

import math
from dataclasses import replace

import numpy as np
import pytest

import fieldsim as fs
from fieldsim.field.linkage import waves
from fieldsim.field.linkage.curve import widest
from fieldsim.field.linkage.curve_book import CurveBook
from fieldsim.field.linkage.ring_curve import half_turn, ring_curves
from fieldsim.field.linkage.ring_nodes import foretold_counts, grid_on
from fieldsim.field.linkage.ring_patches import ring_patches, stands_square
from fieldsim.field.linkage.ring_potential import folded, potentials, spectrum
from fieldsim.field.linkage.ring_winding import forget_windings, winding_harmonics
from fieldsim.field.linkage.rings import rings_of
from fieldsim.field.linkage.track import CoilInRotor, Track, coil_in_rotor, track_of
from fieldsim.field.linkage.track_curve import angle_curve
from fieldsim.machine.magnets import ArmAxis, Cuboid, Cylinder, Sphere
from fieldsim.wire.corners import Corners

MM = 1e-3
BAR = Cuboid((20 * MM, 10 * MM, 5 * MM))
FLAT = np.eye(3)
UPRIGHT = np.array([[0.0, 1.0, 0.0], [0.0, 0.0, 1.0], [1.0, 0.0, 0.0]])  # side along the shaft
ACROSS = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]])


def coil(frame, centre, opening=(24, 16), length=12, build=6):
    a, b = (o / 2 * MM for o in opening)
    return CoilInRotor(np.array(centre) * MM, frame, (a, b), build * MM, length / 2 * MM)


CASES = {
    "beside": (Track(BAR, 22 * MM, 12 * MM, ArmAxis.SHAFT), coil(FLAT, (0, 22, 0))),
    "off the mirror": (Track(BAR, 22 * MM, 12 * MM, ArmAxis.SHAFT), coil(FLAT, (7, 20, 0))),
    "round the shaft": (Track(BAR, 12 * MM, 14 * MM, ArmAxis.FORWARD), coil(FLAT, (4, 0, 0))),
    "outside, radial": (Track(BAR, 16 * MM, 0.0, ArmAxis.ARM), coil(UPRIGHT, (44, 0, 0))),
    "outside, forward": (Track(BAR, 16 * MM, 0.0, ArmAxis.FORWARD), coil(ACROSS, (3, 40, 2))),
    "shaft through it": (
        Track(Cuboid((25 * MM, 10 * MM, 10 * MM)), 0.0, 0.0, ArmAxis.ARM),
        coil(UPRIGHT, (0, 0, 0), (60, 32), 16, 5),
    ),
    "disc": (
        Track(Cylinder(12 * MM, 4 * MM), 22 * MM, 12 * MM, ArmAxis.SHAFT), coil(FLAT, (0, 22, 0)),
    ),
    "disc across": (
        Track(Cylinder(12 * MM, 4 * MM), 22 * MM, 12 * MM, ArmAxis.ARM), coil(FLAT, (5, 20, 0)),
    ),
    "rod along the arm": (
        Track(Cylinder(8 * MM, 20 * MM, ArmAxis.ARM), 20 * MM, 13 * MM, ArmAxis.FORWARD),
        coil(FLAT, (0, 22, 0)),
    ),
    "rod across the arm": (
        Track(Cylinder(8 * MM, 12 * MM, ArmAxis.FORWARD), 16 * MM, 0.0, ArmAxis.FORWARD),
        coil(ACROSS, (3, 40, 2)),
    ),
    "ball": (Track(Sphere(10 * MM), 20 * MM, 14 * MM, ArmAxis.SHAFT), coil(FLAT, (0, 22, 0))),
    "ball near the shaft": (
        Track(Sphere(10.5 * MM), 0.8 * MM, 0.0, ArmAxis.SHAFT), coil(FLAT, (-3, 39, -15), (22, 18)),
    ),
}  # fmt: skip


def ring_curve(track, winding, relative):
    """One by itself."""
    return ring_curves([(track, winding, relative)])[0]


def distance_m2(first, second):
    """How far two curves lie apart at most."""
    size = max(len(first.harmonics_m2), len(second.harmonics_m2))
    rest = np.zeros(size, dtype=complex)
    rest[: len(first.harmonics_m2)] += first.harmonics_m2
    rest[: len(second.harmonics_m2)] -= second.harmonics_m2
    return widest(rest)


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


ROUND = {f"{name}, bent": (t, replace(c, corners=Corners.ROUND)) for name, (t, c) in CASES.items()}
BOTH = CASES | ROUND


@pytest.mark.parametrize("relative", [1e-2, 1e-3, 1e-4, 1e-5, 1e-7])
@pytest.mark.parametrize("name", BOTH)
def test_the_stated_error_is_no_smaller_than_the_true_one(name, relative):
    found, exact = (ring_curve(*BOTH[name], asked) for asked in (relative, 1e-9))
    assert distance_m2(found, exact) <= found.error_m2 + exact.error_m2
    assert found.error_m2 <= relative * found.swing_m2


def random_case(rng):
    """A magnet a few millimetres from a winding that lies flat above it or stands beside it."""
    a, b, c, diameter = rng.uniform(4, 20, 4) * MM
    axis, north = (ArmAxis(int(k)) for k in rng.integers(3, size=2))
    shape = (Cuboid((a, b, c)), Cuboid((a, b, c)), Cylinder(a, b, axis), Sphere(diameter))[
        rng.integers(4)
    ]
    half = np.array(shape.size) / 2
    radius, gap, length, build = (rng.uniform(*r) for r in ((8, 30), (1, 5), (4, 20), (2, 8)))
    off, out, up = rng.uniform(-4, 4), rng.uniform(0.7, 1.3) * radius, rng.uniform(-4, 4)
    opening = rng.uniform(8, 30, 2)
    if rng.random() < 0.5:
        turn = rng.uniform(-0.3, 0.3) * rng.integers(2)
        cos, sin = math.cos(turn), math.sin(turn)
        frame = np.array([[cos, -sin, 0.0], [sin, cos, 0.0], [0.0, 0.0, 1.0]])
        track = Track(shape, radius * MM, half[2] + (length / 2 + gap) * MM, north)
        return track, coil(frame, (off * rng.integers(2), out, 0), opening, length, build)
    # Beside what the magnet sweeps: one side of the turns towards it, or the end of the coil.
    swept = 1e3 * math.hypot(radius * MM + half[0], half[1]) + gap
    track = Track(shape, radius * MM, 0.0, north)
    if rng.random() < 0.5:
        return track, coil(
            UPRIGHT, (swept + build + opening[1] / 2, off, up), opening, length, build
        )
    return track, coil(ACROSS, (off, swept + length / 2, up), opening, length, build)


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
    expected = spectrum(track.north, rings.kinds[0], coarse)
    found = folded(spectrum(track.north, rings.kinds[0], fine))
    np.testing.assert_allclose(found, expected, atol=1e-15 * np.abs(expected).max() * 50)


def test_oblique_windings_go_the_plain_way():
    c, s = math.cos(0.3), math.sin(0.3)
    assert not stands_square(
        CoilInRotor(np.zeros(3), np.array([[1, 0, 0], [0, c, -s], [0, s, c]]), (1, 1), 1, 1)
    )


@pytest.mark.parametrize("name", BOTH)
def test_waves_taken_in_pieces_add_up_to_the_same(monkeypatch, name):
    rings, grid = grid_for(*BOTH[name])
    nodes = [each.some(0) for each in grid.near]
    found = []
    for at_once in (4_000_000, 100):
        monkeypatch.setattr(waves, "_AT_ONCE", at_once)
        forget_windings()
        found.append(winding_harmonics(rings.kinds, nodes, 24))
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
    nodes = [each.some(0) for each in grid.near]
    first, second = (
        winding_harmonics(ring_patches(track, winding), nodes, 16)[0] for winding in (low, high)
    )
    assert first is second
    bent = replace(low, corners=Corners.ROUND)
    assert winding_harmonics(ring_patches(track, bent), nodes, 16)[0] is not first


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
