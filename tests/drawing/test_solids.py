"""Solids for drawing: sizes, poles, cuts, and which covers which."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from machines import Standing, coil, rotor, shipped
from scipy.spatial import ConvexHull

from fieldsim.drawing.painter_order import in_painter_order, within
from fieldsim.drawing.solids import (
    Face,
    Material,
    Rod,
    Solid,
    coil_solids,
    cut_solid,
    magnet_solids,
    outer_radius_m,
    rod_outside,
)
from fieldsim.drawing.views import (
    along_shaft_view,
    main_shaft,
    oblique_view,
    shaft_and_coil_view,
    view_from,
)
from fieldsim.machine.magnets import ArmAxis, Cuboid, Cylinder, Magnet, North, Sphere
from fieldsim.machine.placed import PlacedMagnet, PlacedRotor
from fieldsim.machine.shaft import Shaft

SHAPES = [
    Cuboid((0.02, 0.01, 0.005)),
    Cylinder(0.012, 0.004),
    Cylinder(0.012, 0.02, ArmAxis.ARM),
    Cylinder(0.008, 0.016, ArmAxis.FORWARD),
    Sphere(0.012),
]


def volume(solid):
    return ConvexHull(solid.corners).volume


def block(low, size, part="block"):
    x, y, z = np.eye(3) * np.array(size)
    low = np.array(low, dtype=float)
    faces = []
    for a, b, c in ((x, y, z), (y, z, x), (z, x, y)):
        for start in (low, low + c):
            corners = np.array([start, start + a, start + a + b, start + b])
            faces.append(Face(corners, (True,) * 4))
    return Solid(part, Material.NORTH, tuple(faces))


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("north", North)
def test_halves_have_half_the_volume_and_north_lies_north(shape, north):
    turning = PlacedRotor("r", Shaft((0.01, 0.02, 0.03), (1, 2, 2)), (1, 0, 0), (), 3, 0.4)
    mounted = PlacedMagnet(Magnet("m", shape, 1.2), 0.03, 0.7, 0.01, north)
    halves = magnet_solids(turning, mounted, 0.2)
    for half in halves:
        # Flats inside a circle of 40 sides lose 0.4 percent; the coarser ball under 4 percent.
        assert volume(half) == pytest.approx(shape.volume_m3 / 2, rel=0.04)
        normals, offsets = half.planes
        assert np.all(half.corners @ normals.T <= offsets + 1e-9)  # convex, normals outward
    angle = 0.4 + 3 * 0.2 + 0.7
    out = turning.frame @ [math.cos(angle), math.sin(angle), 0]
    forward = turning.frame @ [-math.sin(angle), math.cos(angle), 0]
    arm = np.array([out, forward, turning.frame[:, 2]])
    step = ConvexHull(halves[0].corners), ConvexHull(halves[1].corners)
    middles = [h.points[h.vertices].mean(axis=0) for h in step]
    pull = (middles[0] - middles[1]) @ (np.array(mounted.polarization_T) @ arm)
    assert pull > 0.9 * np.linalg.norm(middles[0] - middles[1]) * 1.2
    centre = np.array(turning.shaft.through) + 0.03 * out + 0.01 * turning.frame[:, 2]
    lowest = np.min([h.corners.min(axis=0) for h in halves], axis=0)
    highest = np.max([h.corners.max(axis=0) for h in halves], axis=0)
    assert np.all(lowest < centre)
    assert np.all(highest > centre)


def test_outer_radius_of_a_bar_is_its_far_corner():
    mounted = PlacedMagnet(Magnet("m", SHAPES[0], 1.2), 0.022, 0.3, 0.01, North.OUT)
    turning = PlacedRotor("r", Shaft((1, 0, 0), (0, 1, 0)), (1, 0, 0), (mounted,))
    radius = outer_radius_m(turning, list(magnet_solids(turning, mounted)))
    assert radius == pytest.approx(math.hypot(0.032, 0.005), rel=1e-12)


def test_coil_has_the_volume_of_the_winding():
    winding = coil(centre=(0, 0, 100), axis=(1, 1, 0), side=(0, 0, 1), length=12, build=6)
    total = sum(volume(side) for side in coil_solids(winding))
    assert total == pytest.approx((0.036 * 0.028 - 0.024 * 0.016) * 0.012, rel=1e-9)


@settings(max_examples=40, deadline=None)
@given(
    st.tuples(*[st.floats(-1, 1)] * 3).filter(lambda v: np.linalg.norm(v) > 0.2),
    st.floats(-0.02, 0.02),
)
def test_both_parts_of_a_cut_make_the_whole(normal, offset):
    normal = np.array(normal) / np.linalg.norm(normal)
    for whole in coil_solids(coil(centre=(0, 0, 0), opening=(20, 10))):
        parts = [cut_solid(whole, normal, offset), cut_solid(whole, -normal, -offset)]
        if whole in parts:
            continue
        total = sum(volume(p) for p in parts if p is not None)
        assert total == pytest.approx(volume(whole), rel=1e-6)
        for part in parts:
            assert part is None or any(f.cut for f in part.faces)


def test_rod_loses_what_lies_inside():
    rod = Rod("r", Material.SHAFT, np.array([-5.0, 0.5, 0.5]), np.array([5.0, 0.5, 0.5]))
    pieces = rod_outside(rod, [block((0, 0, 0), (1, 1, 1)), block((3, 0, 0), (1, 1, 1))])
    ends = [(p.start[0], p.end[0]) for p in pieces]
    assert np.allclose(ends, [(-5, 0), (1, 3), (4, 5)], atol=1e-12)


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_what_is_nearest_is_painted_last(seed):
    """Rays through random blocks on a grid: the last outline over a point is the nearest block."""
    random = np.random.default_rng(seed)
    cells = random.permutation(27)[:7]
    lows = np.array([[c // 9, c // 3 % 3, c % 3] for c in cells]) * 0.01
    sizes = random.uniform(0.003, 0.0099, (7, 3))
    towards = random.normal(size=3)
    view = view_from(tuple(towards))
    bodies = [
        block(low, size, str(i)) for i, (low, size) in enumerate(zip(lows, sizes, strict=True))
    ]
    painted = in_painter_order(bodies, view)
    points = random.uniform(-5, 35, (200, 2))
    for point in points:
        start = (np.array([view.right, view.up]).T @ point) * 1e-3
        line = np.array(view.towards)
        at = np.sort([(lows - start) / line, (lows + sizes - start) / line], axis=0)
        enter, leave = at[0].max(axis=1), at[1].min(axis=1)
        if np.any(abs(leave - enter) < 1e-9):
            continue  # the ray grazes an edge: rounding decides whether it hits
        near = np.where(leave > enter, leave, -np.inf)
        over = [o.body.part for o in painted if within(point[None], o.hull)[0]]
        if np.max(near) > -np.inf:
            assert over[-1] == str(int(np.argmax(near)))


def test_view_is_right_handed_and_upright():
    for direction in ((1, 0, 0), (0, -1, 0), (0, 0, 1), (1, 2, 3), (-1, 0.2, -0.4)):
        view = view_from(direction)
        towards = np.cross(view.right, view.up)
        assert np.allclose(towards, np.array(direction) / np.linalg.norm(direction), atol=1e-12)
        assert view.up[2] >= 0


@pytest.mark.parametrize(
    ("name", "along", "side"),
    [
        ("one_rotor", (0, 0, 1), (1, 0, 0)),
        ("two_facing_rotors", (0, 0, 1), (1, 0, 0)),
        ("bar_inside_coil", (1, 0, 0), (0, -1, 0)),
        ("three_rotors", (0, 0, 1), (1, 0, 0)),
    ],
)
def test_views_of_the_shipped_machines(name, along, side):
    geometry = shipped(name)
    assert np.allclose(along_shaft_view(geometry).towards, along)
    view = shaft_and_coil_view(geometry)
    assert np.allclose(view.towards, side)
    # The plane holds the shaft's direction, a point of it and the coil's centre.
    shaft = main_shaft(geometry)
    assert abs(np.dot(view.towards, shaft.along)) < 1e-12
    assert abs(np.dot(view.towards, np.subtract(shaft.through, view.through))) < 1e-12
    assert oblique_view(geometry).towards[2] > 0.3  # from above


def test_side_view_of_a_coil_around_the_shaft():
    winding = coil(centre=(0, 0, 0), side=(0, 1, 0), opening=(50, 30), build=5, turns=100)
    view = shaft_and_coil_view(Standing("", (rotor(),), (winding,)))
    assert np.allclose(view.towards, (1, 0, 0))  # the plane holds the shaft and the coil's side
