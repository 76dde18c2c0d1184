"""Magnets and square-standing windings of all kinds, and how far two linkage curves lie apart."""

import math
from dataclasses import replace

import numpy as np

from fieldsim.field.linkage.curve import widest
from fieldsim.field.linkage.track import CoilInRotor, Track
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


ROUND = {f"{name}, bent": (t, replace(c, corners=Corners.ROUND)) for name, (t, c) in CASES.items()}
BOTH = CASES | ROUND


def distance_m2(first, second):
    """How far two curves lie apart at most."""
    size = max(len(first.harmonics_m2), len(second.harmonics_m2))
    rest = np.zeros(size, dtype=complex)
    rest[: len(first.harmonics_m2)] += first.harmonics_m2
    rest[: len(second.harmonics_m2)] -= second.harmonics_m2
    return widest(rest)


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
