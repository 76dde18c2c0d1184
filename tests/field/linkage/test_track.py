"""Tracks, coils seen from rotors, and the mirror symmetries of curves."""

from __future__ import annotations

import math

import numpy as np
import pytest
from machines import si_coil, si_magnet, si_mounted, si_rotor, si_shaft

from fieldsim.field.linkage.body_linkage import BodyLinkage
from fieldsim.field.linkage.track import Mirror, Track, coil_in_rotor, mirror_of, track_of
from fieldsim.machine.magnets import ArmAxis, Cuboid, North

MM = 1e-3
BLOCK = Cuboid((20 * MM, 10 * MM, 5 * MM))


def rotor(through=(0, 0, 0), along=(0, 0, 1), zero=(1, 0, 0)):
    return si_rotor("r", si_shaft(through, along), zero, ())


def coil(centre, axis, side=(1, 0, 0), opening=(24 * MM, 16 * MM)):
    return si_coil("c", centre, axis, side, opening, 10 * MM, 4 * MM, 100)


def test_like_magnets_share_a_track():
    first, second = si_magnet("a", BLOCK, 1.2), si_magnet("b", BLOCK, 0.4)
    mounted = si_mounted(first, 22 * MM, 0.1, 5 * MM, North.OUT)
    other = si_mounted(second, 22 * MM, 2.0, 5 * MM, North.IN)
    assert track_of(mounted) == track_of(other) == Track(BLOCK, 22 * MM, 5 * MM, ArmAxis.ARM)
    for different in (
        si_mounted(first, 23 * MM, 0.1, 5 * MM, North.OUT),
        si_mounted(first, 22 * MM, 0.1, 6 * MM, North.OUT),
        si_mounted(first, 22 * MM, 0.1, 5 * MM, North.FORWARD),
        si_mounted(
            si_magnet("a", Cuboid((20 * MM, 5 * MM, 10 * MM)), 1.2), 22 * MM, 0.1, 5 * MM, North.OUT
        ),
    ):
        assert track_of(different) != track_of(mounted)


def test_coil_in_the_rotors_own_coordinates():
    """Shaft along x, arm along y at zero: the rotor's axes are y, z, x."""
    turned = rotor((1 * MM, 2 * MM, 3 * MM), (1, 0, 0), (0, 1, 0))
    seen = coil_in_rotor(coil((11 * MM, 22 * MM, 33 * MM), (0, 0, 1)), turned)
    assert seen.centre == pytest.approx([20 * MM, 30 * MM, 10 * MM], abs=1e-17)
    assert seen.frame[:, 2] == pytest.approx([0, 1, 0], abs=1e-15)  # its axis: forward
    assert seen.frame[:, 0] == pytest.approx([0, 0, 1], abs=1e-15)  # its side: along the shaft
    assert seen.half_opening == (12 * MM, 8 * MM)
    assert (seen.build, seen.half_length) == (4 * MM, 5 * MM)
    assert np.linalg.det(seen.frame) == pytest.approx(1.0)


CENTRED = {
    "flat beside the shaft": coil((0, 22 * MM, 0), (0, 0, 1)),
    "flat, in another direction": coil((15 * MM, 20 * MM, 0), (0, 0, 1), (4, -3, 0)),
    "facing the shaft": coil((0, 45 * MM, 0), (0, 1, 0)),
    "along the way": coil((0, 45 * MM, 0), (1, 0, 0), (0, 1, 0)),
    "leaning in the plane of symmetry": coil((0, 45 * MM, -8 * MM), (0, 1, 1)),
    "on the shaft": coil((0, 0, -30 * MM), (0, 0, 1)),
}


def linkage_m2(track, seen, angles):
    """By reciprocity, every angle on its own: no mirror is made use of."""
    body = BodyLinkage(track, seen, angles)
    levels, _, level = body.plan(20.0)
    return body.linkage_m2(levels, level, angles)


@pytest.mark.parametrize("north", ArmAxis)
@pytest.mark.parametrize("name", CENTRED)
def test_mirror_holds(name, north):
    """f(m + t) = sign f(m - t), of curves computed at both angles on their own."""
    track = Track(BLOCK, 22 * MM, 18 * MM, north)
    seen = coil_in_rotor(CENTRED[name], rotor())
    mirror = mirror_of(track, seen)
    assert mirror is not None
    t = np.linspace(0.1, 3.0, 7)
    ahead = linkage_m2(track, seen, mirror.angle + t)
    behind = linkage_m2(track, seen, mirror.angle - t)
    # The same quadrature points, mirrored; the scale is the magnet's size times the coil's.
    assert ahead == pytest.approx(mirror.sign * behind, abs=1e-13 * 20 * MM * 80 * MM)
    assert np.abs(ahead).max() > 1e-7 or name == "on the shaft"


@pytest.mark.parametrize(
    "lopsided",
    [
        coil((5 * MM, 22 * MM, 0), (0, 0, 1)),  # neither of its edges points at the shaft
        coil((0, 22 * MM, 0), (0, 0, 1), (1, 0.2, 0)),
        coil((0, 40 * MM, 0), (0.2, 1, 0)),
        coil((0, 40 * MM, 0), (0, 0.3, 1), (1, 0.2, 0)),
    ],
)
def test_no_mirror(lopsided):
    track = Track(BLOCK, 22 * MM, 18 * MM, ArmAxis.SHAFT)
    assert mirror_of(track, coil_in_rotor(lopsided, rotor())) is None


def test_mirror_of_the_plainest_machine():
    """A magnet along the shaft passing a flat coil at 90 degrees: even about there."""
    track = Track(BLOCK, 22 * MM, 11.5 * MM, ArmAxis.SHAFT)
    mirror = mirror_of(track, coil_in_rotor(CENTRED["flat beside the shaft"], rotor()))
    assert isinstance(mirror, Mirror)
    assert abs(math.remainder(mirror.angle - math.pi / 2, math.pi)) < 1e-15
    assert mirror.sign == 1
    forward = Track(BLOCK, 22 * MM, 11.5 * MM, ArmAxis.FORWARD)
    odd = mirror_of(forward, coil_in_rotor(CENTRED["flat beside the shaft"], rotor()))
    assert odd is not None
    assert odd.sign == -1
