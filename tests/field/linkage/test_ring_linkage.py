"""The ring method against the plain one, which shares only the potential with it."""

import math

import numpy as np
import pytest

from fieldsim.field.linkage import ring_linkage
from fieldsim.field.linkage.curve import widest
from fieldsim.field.linkage.ring_curve import ring_curve
from fieldsim.field.linkage.ring_linkage import RingLinkage, folded, stands_square
from fieldsim.field.linkage.track import CoilInRotor, Track
from fieldsim.field.linkage.track_curve import angle_curve
from fieldsim.machine.magnets import ArmAxis, Cuboid, Cylinder, Sphere

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


@pytest.mark.parametrize("name", CASES)
def test_agrees_with_the_plain_method(name):
    """Both are asked for 1e-6 and say what they reached; they may differ by the sum."""
    track, winding = CASES[name]
    assert stands_square(winding)
    ring, plain = ring_curve(track, winding, 0.0, 1e-6), angle_curve(track, winding, 0.0, 1e-6)
    assert ring.converged
    size = max(len(ring.harmonics_m2), len(plain.harmonics_m2))
    rest = np.zeros(size, dtype=complex)
    rest[: len(ring.harmonics_m2)] += ring.harmonics_m2
    rest[: len(plain.harmonics_m2)] -= plain.harmonics_m2
    assert widest(rest) <= ring.error_m2 + plain.error_m2
    assert ring.swing_m2 > 1e-8


@pytest.mark.parametrize("relative", [1e-3, 1e-5])
@pytest.mark.parametrize("name", CASES)
def test_the_stated_error_is_no_smaller_than_the_true_one(name, relative):
    found, exact = (ring_curve(*CASES[name], 0.0, asked) for asked in (relative, 1e-9))
    rest = exact.harmonics_m2.copy() if len(exact.harmonics_m2) >= len(found.harmonics_m2) else (
        np.pad(exact.harmonics_m2, (0, len(found.harmonics_m2) - len(exact.harmonics_m2)))
    )  # fmt: skip
    rest[: len(found.harmonics_m2)] -= found.harmonics_m2
    assert widest(rest) <= found.error_m2 + exact.error_m2
    assert found.error_m2 <= relative * found.swing_m2


@pytest.mark.parametrize("length", [16.1999, 16.2, 16.2001, 19.0])
def test_near_part_of_one_height(length):
    """At 16.2 mm the part of the side near the magnet is a single height: no cut without width."""
    track = Track(Cuboid((25 * MM, length * MM, 10 * MM)), 0.0, 0.0, ArmAxis.ARM)
    winding = coil(UPRIGHT, (0, 0, 0), (60, 32.0), 16, 5)
    for patch in RingLinkage(track, winding).patches:
        assert patch.z[1] - patch.z[0] > 1e-6
    assert ring_curve(track, winding, 0.0, 1e-3).converged


def test_folding_is_what_half_the_angles_give():
    """Sampled at half as many angles, orders m and m - K run together."""
    track, winding = CASES["off the mirror"]
    linkage = RingLinkage(track, winding)
    nodes = linkage.nodes([(6, 4)])
    (fine,) = linkage.potentials([(nodes, nodes, np.linspace(0, math.pi, 17))])
    (coarse,) = linkage.potentials([(nodes, nodes, np.linspace(0, math.pi, 9))])
    (expected,) = linkage.spectra(coarse)
    (found,) = folded(linkage.spectra(fine))
    np.testing.assert_allclose(found, expected, atol=1e-15 * np.abs(expected).max() * 50)


def test_oblique_windings_go_the_plain_way():
    c, s = math.cos(0.3), math.sin(0.3)
    assert not stands_square(
        CoilInRotor(np.zeros(3), np.array([[1, 0, 0], [0, c, -s], [0, s, c]]), (1, 1), 1, 1)
    )


@pytest.mark.parametrize("name", CASES)
def test_waves_taken_in_pieces_add_up_to_the_same(monkeypatch, name):
    linkage = RingLinkage(*CASES[name])
    nodes = linkage.nodes([(6, 5)] * len(linkage.patches))
    found = []
    for at_once in (4_000_000, 100):
        monkeypatch.setattr(ring_linkage, "_AT_ONCE", at_once)
        ring_linkage.forget_windings()
        found.append(linkage.winding([nodes, nodes], [24, 3]))
    ring_linkage.forget_windings()
    for whole, pieces in zip(*found, strict=True):
        for a, b in zip(whole, pieces, strict=True):
            assert a.shape == b.shape
            # sums of the same numbers in another order
            assert np.abs(a - b).max() < 1e-13 * np.abs(a).max()
