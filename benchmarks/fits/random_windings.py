"""Magnets and windings of all proportions, a millimetre to some apart, to fit constants on."""

from __future__ import annotations

import math

import numpy as np

from fieldsim.field.linkage.track import CoilInRotor, Track
from fieldsim.machine.magnets import ArmAxis, Cuboid, Cylinder, Shape, Sphere

FRAMES = (
    np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]),
    np.array([[0.0, 1.0, 0.0], [0.0, 0.0, 1.0], [1.0, 0.0, 0.0]]),
    np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]]),
)


def random_case(
    rng: np.random.Generator, flat: bool, widest_m: float = 5e-3, balls: float = 0.1
) -> tuple[Track, CoilInRotor]:
    """Return a magnet and a winding above what it sweeps, or standing beside it.

    Parameters
    ----------
    rng
        Draws it.
    flat
        Whether above.
    widest_m
        The widest clearance between them.
    balls
        How many magnets in all are balls; a tenth are cylinders, the others blocks.
    """
    a, b, c = (rng.uniform(4e-3, 20e-3, 3)).tolist()
    axis, north = (ArmAxis(int(k)) for k in rng.integers(3, size=2))
    shapes: tuple[Shape, ...] = (Cuboid((a, b, c)), Cylinder(a, b, axis), Sphere(a))
    shape = shapes[int(rng.choice(3, p=(0.9 - balls, 0.1, balls)))]
    half = np.array(shape.size) / 2
    low, high = np.array([[8, 1, 4, 2, 8, 8], [30, 0, 20, 8, 30, 30]]) * 1e-3
    high[1] = widest_m
    radius, gap, length, build, *opening = rng.uniform(low, high).tolist()
    off, up = rng.uniform(-4e-3, 4e-3, 2)
    if flat:
        turn = rng.uniform(-0.3, 0.3) * rng.integers(2)
        cos, sin = math.cos(turn), math.sin(turn)
        frame = np.array([[cos, -sin, 0.0], [sin, cos, 0.0], [0.0, 0.0, 1.0]])
        place = [off * rng.integers(2), rng.uniform(0.7, 1.3) * radius, 0.0]
        height = float(half[2]) + length / 2 + gap
    else:
        swept = math.hypot(radius + half[0], half[1]) + gap
        across = bool(rng.integers(2))
        frame = FRAMES[1 + across]
        beyond = swept + (length / 2 if across else build + opening[1] / 2)
        place, height = ([off, beyond, up] if across else [beyond, off, up]), 0.0
    coil = CoilInRotor(np.array(place), frame, (opening[0] / 2, opening[1] / 2), build, length / 2)
    return Track(shape, radius, height, north), coil
