"""The linkage curve of one magnet: what its parts promise, and that it keeps them."""

from __future__ import annotations

import math

import numpy as np
import pytest

from fieldsim.field.linkage.pair_linkage import sample_series
from fieldsim.field.linkage.track import CoilInRotor, Track
from fieldsim.field.linkage.track_curve import TrackCurve, track_curve
from fieldsim.machine.magnets import ArmAxis, Cuboid, Cylinder, Sphere

MM = 1e-3
FLAT = CoilInRotor(np.array([0.0, 22 * MM, 0.0]), np.eye(3), (12 * MM, 8 * MM), 4 * MM, 5 * MM)
ASKEW = CoilInRotor(
    np.array([3 * MM, 22 * MM, -10 * MM]),
    np.array([[0.8, -0.6, 0.0], [0.48, 0.64, -0.6], [0.36, 0.48, 0.8]]),
    (12 * MM, 8 * MM),
    4 * MM,
    3 * MM,
)
BLOCK = Track(Cuboid((20 * MM, 10 * MM, 5 * MM)), 22 * MM, 14 * MM, ArmAxis.SHAFT)


def values(curve: TrackCurve, angles):
    k = np.arange(len(curve.harmonics_m2))
    wave = np.exp(1j * np.multiply.outer(angles, k))
    return 2 * (wave @ curve.harmonics_m2).real - curve.harmonics_m2[0].real


@pytest.mark.parametrize("coil", [FLAT, ASKEW], ids=["flat", "askew"])
@pytest.mark.parametrize("relative", [1e-2, 1e-3, 1e-4, 1e-5, 1e-6])
def test_tolerance_is_met_and_error_is_no_smaller_than_true(coil, relative):
    best = track_curve(BLOCK, coil, 0.0, 1e-9)
    curve = track_curve(BLOCK, coil, 0.0, relative)
    assert curve.converged
    assert curve.error_m2 <= relative * curve.swing_m2
    angles = np.linspace(0, 2 * math.pi, 1000)
    true = np.abs(values(curve, angles) - values(best, angles)).max()
    assert true <= curve.error_m2 + best.error_m2
    assert true <= relative * best.swing_m2


def test_swing_is_that_of_the_curve():
    curve = track_curve(BLOCK, FLAT, 0.0, 1e-6)
    dense = sample_series(curve.harmonics_m2, 5000)
    # Between the curve's own angles it may reach a little further.
    assert curve.swing_m2 == pytest.approx(np.ptp(dense), rel=1e-3)


def test_absolute_error_counts_where_it_is_looser():
    tight = track_curve(BLOCK, FLAT, 0.0, 1e-6)
    loose = track_curve(BLOCK, FLAT, 1e-3 * tight.swing_m2, 1e-6)
    assert loose.converged
    assert loose.error_m2 <= 1e-3 * tight.swing_m2
    assert loose.angles <= tight.angles
    tighter = track_curve(BLOCK, FLAT, 1e-30, 1e-6)
    assert np.array_equal(tighter.harmonics_m2, tight.harmonics_m2)


def test_more_is_spent_on_more_digits():
    rough, fine = track_curve(BLOCK, FLAT, 0.0, 1e-3), track_curve(BLOCK, FLAT, 0.0, 1e-7)
    assert rough.points < fine.points
    assert rough.angles < fine.angles
    assert fine.angles % 32 == 0


def test_mirror_is_used_right():
    """With the coil a hair askew there is no mirror; the curve must not jump."""
    turn = 1e-7
    c, s = math.cos(turn), math.sin(turn)
    frame = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
    bent = CoilInRotor(FLAT.centre, frame, FLAT.half_opening, FLAT.build, FLAT.half_length)
    straight, other = track_curve(BLOCK, FLAT, 0.0, 1e-6), track_curve(BLOCK, bent, 0.0, 1e-6)
    angles = np.linspace(0, 2 * math.pi, 500)
    difference = np.abs(values(straight, angles) - values(other, angles)).max()
    # Both errors, and what the turn of 1e-7 does to the flux.
    assert difference <= straight.error_m2 + other.error_m2 + 1e-7 * straight.swing_m2


@pytest.mark.parametrize(
    "shape",
    [
        Cuboid((10 * MM, 10 * MM, 5 * MM)),
        Cylinder(12 * MM, 4 * MM),
        Cylinder(8 * MM, 12 * MM, ArmAxis.ARM),
        Cylinder(8 * MM, 12 * MM, ArmAxis.FORWARD),
        Sphere(8 * MM),
    ],
    ids=str,
)
@pytest.mark.parametrize("north", ArmAxis)
def test_every_shape_obeys_the_shared_claims(shape, north):
    """One check for all: honest error, no monopole, right scale far away."""
    track = Track(shape, 20 * MM, 15 * MM, north)
    curve = track_curve(track, ASKEW, 0.0, 1e-5)
    best = track_curve(track, ASKEW, 0.0, 1e-8)
    angles = np.linspace(0, 2 * math.pi, 400)
    true = np.abs(values(curve, angles) - values(best, angles)).max()
    assert curve.converged
    assert true <= curve.error_m2 + best.error_m2 <= 1.1e-5 * curve.swing_m2
    # From far away every magnet of one volume is the same dipole.
    far = CoilInRotor(np.array([0.0, 2.0, 0.7]), ASKEW.frame, (12 * MM, 8 * MM), 4 * MM, 3 * MM)
    dipole = Track(Sphere((6 * shape.volume_m3 / math.pi) ** (1 / 3)), 20 * MM, 15 * MM, north)
    ours, theirs = track_curve(track, far, 0.0, 1e-6), track_curve(dipole, far, 0.0, 1e-6)
    # The next terms are (12 mm / 2 m)^2 = 4e-5 of the flux times a small factor.
    difference = np.abs(values(ours, angles) - values(theirs, angles)).max()
    assert difference < 1e-4 * np.abs(values(theirs, angles)).max()


def test_only_odd_orders():
    """A bar turning about its middle inside a coil changes sign in half a turn.

    Its spectrum has gaps, which the estimate of what lies beyond its end must not fall into.
    """
    bar = Track(Cuboid((25 * MM, 10 * MM, 10 * MM)), 0.0, 0.0, ArmAxis.ARM)
    across = np.array([[0.0, 0.0, 1.0], [0.0, 1.0, 0.0], [-1.0, 0.0, 0.0]])
    coil = CoilInRotor(np.zeros(3), across, (30 * MM, 15.2 * MM), 5 * MM, 8 * MM)
    best = track_curve(bar, coil, 0.0, 1e-9)
    angles = np.linspace(0, 2 * math.pi, 777)
    assert np.abs(best.harmonics_m2[::2]).max() < 1e-12 * best.swing_m2  # rounding
    for relative in (1e-3, 1e-4, 1e-5, 1e-6, 1e-7):
        curve = track_curve(bar, coil, 0.0, relative)
        true = np.abs(values(curve, angles) - values(best, angles)).max()
        assert true <= curve.error_m2 + best.error_m2
        assert true <= relative * best.swing_m2


@pytest.mark.parametrize("north", [ArmAxis.ARM, ArmAxis.FORWARD])
def test_only_every_fourth_order(north):
    """Four symmetric planes: a square magnet on the shaft of a square coil links nothing else."""
    square = Track(Cuboid((12 * MM, 12 * MM, 6 * MM)), 0.0, 10 * MM, north)
    coil = CoilInRotor(np.zeros(3), np.eye(3), (10 * MM, 10 * MM), 4 * MM, 4 * MM)
    curve = track_curve(square, coil, 0.0, 1e-6)
    # No flux at all along the coil's axis on average, by symmetry; only rounding is left.
    assert curve.swing_m2 <= 1e-12 * 12 * MM * 10 * MM
    assert curve.angles <= 64  # no endless search for digits of nothing


def test_nothing_swings_on_the_coils_own_axis():
    disc = Track(Cylinder(12 * MM, 4 * MM), 0.0, 12 * MM, ArmAxis.SHAFT)
    coil = CoilInRotor(np.zeros(3), np.eye(3), (10 * MM, 8 * MM), 4 * MM, 4 * MM)
    curve = track_curve(disc, coil, 0.0, 1e-6)
    mean = curve.harmonics_m2[0].real
    assert mean > 0
    assert curve.swing_m2 < 1e-12 * mean  # rounding
    assert curve.angles <= 64
