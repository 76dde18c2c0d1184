"""Points over magnets, and linkage by reciprocity with magnets of any shape."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from fieldsim.field.linkage.body_linkage import BodyLinkage, body_points
from fieldsim.field.linkage.track import CoilInRotor, Track
from fieldsim.field.linkage.track_curve import track_curve
from fieldsim.machine.magnets import ArmAxis, Cuboid, Cylinder, Sphere
from fieldsim.wire.corners import Corners

MM = 1e-3
COIL = CoilInRotor(
    np.array([2 * MM, 21 * MM, -1 * MM]),
    np.array([[1.0, 0.0, 0.0], [0.0, 0.8, -0.6], [0.0, 0.6, 0.8]]),
    (12 * MM, 8 * MM),
    4 * MM,
    3 * MM,
)
SHAPES = {
    "block": Cuboid((12 * MM, 8 * MM, 6 * MM)),
    "standing": Cylinder(12 * MM, 6 * MM),
    "lying along the arm": Cylinder(8 * MM, 14 * MM, ArmAxis.ARM),
    "lying across": Cylinder(8 * MM, 14 * MM, ArmAxis.FORWARD),
    "ball": Sphere(10 * MM),
}


def linkage_m2(track, coil, angles, digits):
    """Return the linkage per turn and tesla, and the evaluations spent."""
    body = BodyLinkage(track, coil, np.asarray(angles))
    levels, _, level = body.plan(digits)
    spent = sum(levels[i].size for i in level)
    return body.linkage_m2(levels, level, np.asarray(angles)), spent


SOLID = [name for name in SHAPES if name != "ball"]


@pytest.mark.parametrize("name", SHAPES)
def test_weights_add_up_to_the_volume(name):
    _, weights = body_points(SHAPES[name], (4, 5, 10))
    assert weights.sum() == pytest.approx(SHAPES[name].volume_m3, rel=1e-14)  # rounding


@pytest.mark.parametrize("name", SHAPES)
def test_points_lie_inside(name):
    points, weights = body_points(SHAPES[name], (4, 5, 10))
    assert points.shape == (len(weights), 3)
    assert (np.abs(points) < np.array(SHAPES[name].size) / 2).all()
    assert (weights > 0).all()
    if isinstance(SHAPES[name], Cylinder):
        axis = SHAPES[name].axis.value
        across = np.delete(points, axis, axis=1)
        assert (np.hypot(*across.T) < SHAPES[name].diameter / 2).all()


@pytest.mark.parametrize("name", SOLID)
def test_second_moments(name):
    """Of a block a^2/12; of a cylinder d^2/16 across its axis: exact for low orders already."""
    shape = SHAPES[name]
    points, weights = body_points(shape, (3, 3, 6))
    moments = weights @ points**2 / shape.volume_m3
    if isinstance(shape, Cuboid):
        expected = np.array(shape.size) ** 2 / 12
    else:
        expected = np.full(3, shape.diameter**2 / 16)
        expected[shape.axis.value] = shape.thickness**2 / 12
    assert moments == pytest.approx(expected, rel=1e-14)
    assert weights @ points == pytest.approx(np.zeros(3), abs=1e-16 * MM)


@pytest.mark.parametrize("name", SHAPES)
def test_averages_of_a_harmonic_function(name):
    """The field of a coil is harmonic: over a ball it averages to its value at the centre."""

    def harmonic(p):
        return 1 / np.linalg.norm(p - [15 * MM, 9 * MM, 12 * MM], axis=-1)

    shape = SHAPES[name]
    points, weights = body_points(shape, (20, 20, 40))
    average = weights @ harmonic(points) / shape.volume_m3
    generator = np.random.default_rng(4)
    size = np.array(shape.size)
    inside = (generator.random((400_000, 3)) - 0.5) * size
    if isinstance(shape, Sphere):
        inside = inside[np.linalg.norm(inside, axis=1) < shape.diameter / 2]
    elif isinstance(shape, Cylinder):
        across = np.delete(inside, shape.axis.value, axis=1)
        inside = inside[np.hypot(*across.T) < shape.diameter / 2]
    sample = harmonic(inside)
    # Five standard errors of the mean.
    assert abs(average - sample.mean()) < 5 * sample.std() / math.sqrt(len(sample))
    assert average == pytest.approx(harmonic(np.zeros(3)), rel=0.05)


@pytest.mark.parametrize("name", SHAPES)
@pytest.mark.parametrize("north", ArmAxis)
def test_more_digits_change_less(name, north):
    track = Track(SHAPES[name], 20 * MM, 18 * MM, north)
    angles = np.linspace(0, 2 * math.pi, 12, endpoint=False)
    best, _ = linkage_m2(track, COIL, angles, 28.0)
    rough, few = linkage_m2(track, COIL, angles, 7.0)
    fine, many = linkage_m2(track, COIL, angles, 19.0)
    scale = np.ptp(best)
    # Digits are aimed at, not promised; twelve more of them must win two decades at least.
    assert np.abs(rough - best).max() < 0.05 * scale
    assert np.abs(fine - best).max() < 1e-4 * scale
    assert np.abs(fine - best).max() < 1e-2 * np.abs(rough - best).max()
    assert few < many


def test_angles_are_independent():
    track = Track(SHAPES["standing"], 20 * MM, 18 * MM, ArmAxis.SHAFT)
    angles = np.array([0.1, 1.5, 4.0])
    together, _ = linkage_m2(track, COIL, angles, 25.0)
    for angle, value in zip(angles, together, strict=True):
        alone, _ = linkage_m2(track, COIL, [angle], 25.0)
        # Angles at like distance share orders, so alone it may have others: both hold e^-25.
        assert alone[0] == pytest.approx(value, abs=3e-11 * np.ptp(together))


@pytest.mark.parametrize("corners", Corners)
@pytest.mark.parametrize("north", ArmAxis)
def test_block_by_both_routes(north, corners):
    """The vector potential round the turns, and the turns' field over the magnet."""
    track, coil = Track(SHAPES["block"], 20 * MM, 18 * MM, north), replace(COIL, corners=corners)
    curve = track_curve(track, coil, 0.0, 1e-8)
    angles = np.array([0.3, 1.2, 1.6, 2.9, 4.4])
    k = np.arange(len(curve.harmonics_m2))
    series = 2 * (np.exp(1j * np.outer(angles, k)) @ curve.harmonics_m2).real
    series -= curve.harmonics_m2[0].real
    other, _ = linkage_m2(track, coil, angles, 30.0)
    assert series == pytest.approx(other, abs=1e-8 * curve.swing_m2)  # the tolerance asked


def test_disc_is_a_row_of_strips():
    """A disc cut into strips: blocks of the same thickness, of the chord's length."""
    disc = Cylinder(12 * MM, 3 * MM)
    track = Track(disc, 0.0, 18 * MM, ArmAxis.SHAFT)
    value, _ = linkage_m2(track, COIL, [0.7], 25.0)
    strips, total = 100, 0.0
    for i in range(strips):
        y = 6 * MM * (2 * (i + 0.5) / strips - 1)
        chord = 2 * math.sqrt((6 * MM) ** 2 - y * y)
        strip = Cuboid((12 * MM / strips, chord, 3 * MM))
        part = Track(strip, y, 18 * MM, ArmAxis.SHAFT)
        total += linkage_m2(part, COIL, [0.7], 15.0)[0][0]
    # Chords at mid-strip over-fill the rim: (1 / 100)^1.5 = 1e-3 of the area.
    assert value[0] == pytest.approx(total, rel=5e-4)


DIAGONAL = math.hypot(14 * MM, 8 * MM - 3 * MM)


@pytest.mark.parametrize(
    ("place", "distance"),
    [
        ((0.0, 0.0, 20 * MM), DIAGONAL),  # above the opening: down to the inner edge
        ((14 * MM, 0.0, 20 * MM), 20 * MM - 3 * MM - 3 * MM),  # above the winding itself
        ((30 * MM, 0.0, 0.0), 30 * MM - 16 * MM - 3 * MM),  # beside it
        ((0.0, 0.0, 0.0), 8 * MM - 3 * MM),  # inside
    ],
)
def test_distance_from_the_winding(place, distance):
    coil = CoilInRotor(-np.array(place), np.eye(3), (12 * MM, 8 * MM), 4 * MM, 3 * MM)
    cube = Cuboid((6 * MM, 6 * MM, 6 * MM))
    body = BodyLinkage(Track(cube, 0.0, 0.0, ArmAxis.SHAFT), coil, np.zeros(1))
    assert body.nearness_m[0] == pytest.approx(distance, rel=1e-12)
