"""Clearances against hand arithmetic, against sampling, and unchanged when the machine is moved."""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from machines import described, shipped
from scipy.optimize import minimize
from scipy.spatial.transform import Rotation

from fieldsim.drawing.machine_drawing import draw_machine
from fieldsim.errors import ImpossibleError
from fieldsim.machine.clearance.clearances import (
    check_collisions,
    clearances,
    raised_to_winding_m,
    rotor_to_winding_m,
    rotors_to_windings_m,
)
from fieldsim.machine.clearance.collision_error import CollisionError
from fieldsim.machine.magnets import ArmAxis, Cuboid, Cylinder, Magnet, North, Sphere
from fieldsim.machine.placed import PlacedCoil, PlacedMagnet, PlacedRotor
from fieldsim.machine.shaft import Shaft

MM = 1e-3
BAR = Cuboid((20 * MM, 10 * MM, 5 * MM))
ROD = Cylinder(8 * MM, 14 * MM, ArmAxis.ARM)
ROLLER = Cylinder(8 * MM, 14 * MM, ArmAxis.FORWARD)
DISC = Cylinder(12 * MM, 4 * MM, ArmAxis.SHAFT)
BALL = Sphere(9 * MM)


def mounted(shape, radius=22.0, height=11.5, angle=0.0, north=North.PLUS_SHAFT):
    return PlacedMagnet(Magnet("m", shape, 1.2), radius * MM, angle, height * MM, north)


def rotor(*magnets, through=(0, 0, 0), along=(0, 0, 1), zero=(1, 0, 0), ratio=1, name="r", start=0):
    shaft = Shaft(tuple(x * MM for x in through), along)
    return PlacedRotor(name, shaft, zero, magnets, Fraction(ratio), start)


def coil(centre=(0, 22, 0), axis=(0, 0, 1), side=(1, 0, 0), name="c", length=12.0):
    return PlacedCoil(
        name,
        tuple(x * MM for x in centre),
        axis,
        side,
        (24 * MM, 16 * MM),
        length * MM,
        6 * MM,
        1800,
    )


def gap_mm(turning, *coils):
    return rotor_to_winding_m(turning, coils) / MM


# By hand, in mm. The winding of `coil()` reaches from z = -6 to 6, x = -18 to 18, y = 8 to 36, so
# that its points are 8 (the nearest, (0, 8)) to hypot(18, 36) = 40.249 from the shaft; the bar at
# radius 22 sweeps from 12 to hypot(32, 5) = 32.388.
BY_HAND = {
    "bar above": (mounted(BAR), 11.5 - 2.5 - 6),
    "bar below": (mounted(BAR, height=-20), 20 - 2.5 - 6),
    "disc above": (mounted(DISC, height=10), 10 - 2 - 6),
    "ball above": (mounted(BALL, height=12), 12 - 4.5 - 6),
    "rod above": (mounted(ROD, height=13), 13 - 4 - 6),
    "roller above": (mounted(ROLLER, height=13), 13 - 4 - 6),
    "bar inside": (
        mounted(Cuboid((4 * MM, 2 * MM, 5 * MM)), radius=3, height=0),
        8 - math.hypot(5, 1),
    ),
    "ball inside": (mounted(Sphere(4 * MM), radius=3, height=0), 8 - 5),
    "disc inside": (mounted(Cylinder(4 * MM, 3 * MM), radius=3, height=0), 8 - 5),
    "bar outside": (mounted(BAR, radius=60, height=0), 60 - 10 - math.hypot(18, 36)),
    "ball outside": (mounted(BALL, radius=60, height=2), 60 - 4.5 - math.hypot(18, 36)),
    "ball across an edge": (
        mounted(BALL, radius=45, height=12),
        math.hypot(45 - math.hypot(18, 36), 6) - 4.5,
    ),
    "touching": (mounted(BAR, height=8.5), 0.0),
    "half a millimetre in": (mounted(BAR, height=8), -0.5),
}


@pytest.mark.parametrize("name", BY_HAND)
def test_by_hand(name):
    magnet, expected = BY_HAND[name]
    # Rectangles are exact to rounding; balls and lying cylinders are found by a search that
    # shrinks its cells by 2e-9; 1e-6 mm is far below anything that can be built.
    assert gap_mm(rotor(magnet), coil()) == pytest.approx(expected, abs=1e-6)


def test_far_side_magnet_counts_too():
    near, far = mounted(BAR, height=11.5), mounted(BAR, height=9, angle=math.pi)
    assert gap_mm(rotor(near, far), coil()) == pytest.approx(0.5, abs=1e-9)


def test_nearest_of_several_coils():
    turning = rotor(mounted(BAR))
    assert gap_mm(turning, coil(), coil(centre=(0, -22, 1))) == pytest.approx(2.0, abs=1e-9)


def test_angle_start_and_pole_do_not_matter():
    plain = gap_mm(rotor(mounted(ROD)), coil(axis=(0, 0.3, 1)))
    other = rotor(mounted(ROD, angle=1.0, north=North.BACK), zero=(1, 2, 0), start=0.7)
    # The search lays its grid on the same swept solid: the same to rounding.
    assert gap_mm(other, coil(axis=(0, 0.3, 1))) == pytest.approx(plain, abs=1e-9)


def surface(shape, n=13):
    """Return parameters to points: a function of (u, v, w) in [-1, 1] that fills the shape."""
    half = np.array(shape.size) / 2
    if isinstance(shape, Cuboid):
        return lambda p: p * half
    if isinstance(shape, Sphere):
        return lambda p: half * p / np.maximum(1.0, np.linalg.norm(p, axis=-1, keepdims=True))
    others = [i for i in range(3) if i != shape.axis.value]

    def points(p):
        q = p.copy()
        q[..., others] /= np.maximum(1.0, np.linalg.norm(p[..., others], axis=-1, keepdims=True))
        return q * half

    return points


def distance_to_winding(points, of):
    """Distance of points (n, 3) to a winding: in its section if outside, by plain geometry."""
    local = np.abs((points - of.centre) @ of.frame)
    a, b = of.opening[0] / 2, of.opening[1] / 2
    z = np.maximum(local[:, 2] - of.length / 2, 0)
    out = np.maximum(local[:, :2] - (a + of.build, b + of.build), 0)
    outside = np.linalg.norm(out, axis=1)
    # From within the opening the nearest side is a or b away.
    inside = np.minimum(a - local[:, 0], b - local[:, 1])
    flat = np.where((local[:, 0] < a) & (local[:, 1] < b), inside, outside)
    return np.hypot(flat, z)


def sampled_gap(turning, winding):
    """The smallest distance over dense samples of every magnet at many angles, then polished."""
    best = math.inf
    axis = np.linspace(-1, 1, 11)
    grid = np.stack(np.meshgrid(axis, axis, axis, indexing="ij"), axis=-1).reshape(-1, 3)
    for m in turning.magnets:
        points = surface(m.magnet.shape)

        def at(p, angle, m=m, points=points):
            c, s = math.cos(angle + m.angle), math.sin(angle + m.angle)
            local = points(p) + np.array([m.radius, 0, m.height])
            spun = local @ np.array([[c, s, 0], [-s, c, 0], [0, 0, 1]])
            return turning.shaft.through + spun @ turning.frame.T

        starts = []
        for angle in np.linspace(0, 2 * math.pi, 180, endpoint=False):
            d = distance_to_winding(at(grid, angle), winding)
            starts.append((d.min(), (*grid[d.argmin()], angle)))
        for value, start in sorted(starts)[:3]:
            found = minimize(
                lambda x, at=at: distance_to_winding(at(np.array([x[:3]]), x[3]), winding)[0] / MM,
                start,
                method="Powell",
                bounds=[(-1, 1)] * 3 + [(start[3] - 0.1, start[3] + 0.1)],
                options={"xtol": 1e-8, "ftol": 1e-10},
            )
            best = min(best, value, found.fun * MM)
    return best


directions = st.tuples(*[st.floats(-1, 1)] * 3).filter(lambda v: math.hypot(*v) > 0.2)


@settings(max_examples=12, deadline=None, derandomize=True)
@given(
    shape=st.sampled_from([BAR, ROD, ROLLER, DISC, BALL]),
    axis=directions,
    tilt=st.floats(-0.6, 0.6),
    height=st.floats(36, 60),
)
def test_oblique_coils_against_sampling(shape, axis, tilt, height):
    """Sampling finds distances that are too large, if anything; its polish is good to 0.0002 mm."""
    side = (axis[1], -axis[0], 0.3) if math.hypot(axis[0], axis[1]) > 0.1 else (1, 0, 0)
    turning = rotor(mounted(shape, height=height), along=(tilt, 0.1, 1))
    winding = coil(axis=axis, side=side)
    found = rotor_to_winding_m(turning, (winding,))
    sampled = sampled_gap(turning, winding)
    assert found <= sampled + 1e-9
    assert found == pytest.approx(sampled, abs=2e-4 * MM)


def machine(rotors, coils=None):
    return described("t", tuple(rotors), (coil(),) if coils is None else tuple(coils))


def moved(geometry, turn: Rotation, shift):
    def point(v):
        return tuple(turn.apply(v) + shift)

    def way(v):
        return tuple(turn.apply(v))

    rotors = tuple(
        PlacedRotor(
            r.name,
            Shaft(point(r.shaft.through), way(r.shaft.along)),
            way(r.zero),
            r.magnets,
            r.gear_ratio,
            r.start,
        )
        for r in geometry.placed_rotors
    )
    coils = tuple(
        replace(c, centre=point(c.centre), axis=way(c.axis), side=way(c.side))
        for c in geometry.placed_coils
    )
    return described(geometry.title, rotors, coils)


MIXED = machine(
    [
        rotor(mounted(BAR), mounted(BALL, height=14, angle=math.pi), name="a"),
        rotor(mounted(ROD, height=-15), mounted(ROLLER, height=-16, angle=2), name="b", ratio=-2),
        rotor(mounted(DISC, height=0), through=(0, 66, 4), along=(0.1, 1, 0), name="c"),
    ],
    [coil(), coil(centre=(0, -26, 1), axis=(0, 0.2, 1), name="d")],
)


@settings(max_examples=2, deadline=None, derandomize=True)
@given(turn=st.integers(0, 10**6), shift=st.tuples(*[st.floats(-1, 1)] * 3))
def test_moving_the_whole_machine_changes_nothing(turn, shift):
    before = clearances(MIXED)
    rotation = Rotation.random(random_state=turn)
    after = clearances(moved(MIXED, rotation, np.array(shift)))
    assert [(c.first, c.second) for c in after] == [(c.first, c.second) for c in before]
    # Rounding at a metre from the origin is 1e-16 m a step, and turns a rectangle that is exact
    # along the axes into a search, good to far less than a nanometre.
    for one, other in zip(before, after, strict=True):
        assert other.distance_m == pytest.approx(one.distance_m, abs=1e-9)


def test_rotor_and_coil_are_named_with_the_overlap():
    with pytest.raises(ImpossibleError) as caught:
        check_collisions(machine([rotor(mounted(BAR, height=8), name="upper")]))
    assert str(caught.value) == ('rotor "upper" runs into coil "c": they overlap by 0.5 mm')


def test_touching_is_a_collision_for_what_turns():
    with pytest.raises(ImpossibleError, match=r'rotor "r" runs into coil "c".*they touch'):
        check_collisions(machine([rotor(mounted(BAR, height=8.5))]))


@pytest.mark.parametrize("ratio", [-1, 2, Fraction(3, 2)])
def test_rotors_that_turn_differently_must_not_share_their_sweep(ratio):
    one = rotor(mounted(BAR), name="a")
    other = rotor(mounted(BAR, height=14), name="b", ratio=ratio, zero=(-1, 0, 0))
    with pytest.raises(ImpossibleError, match=r'rotor "a" runs into rotor "b".*by 2.5 mm'):
        check_collisions(machine([one, other]))


def test_rotors_that_turn_together_may_interleave():
    """On one shaft with one ratio the magnets keep their places: 180 degrees apart here."""
    one = rotor(mounted(BAR), name="a")
    other = rotor(mounted(BAR, height=14), name="b", zero=(-1, 0, 0))
    found = {(c.first, c.second): c.distance_m for c in check_collisions(machine([one, other]))}
    # Inner ends are 12 mm out on both sides; 1e-6 mm for the search.
    assert found['rotor "a"', 'rotor "b"'] / MM == pytest.approx(24.0, abs=1e-6)


def test_blocks_turned_against_each_other_by_hand():
    middle = mounted(Cuboid((20 * MM, 20 * MM, 5 * MM)), radius=0)
    beside = mounted(Cuboid((10 * MM, 10 * MM, 5 * MM)), radius=40, angle=math.pi / 4)
    both = [rotor(middle, name="a"), rotor(beside, name="b")]
    found = clearances(machine(both, [coil(centre=(0, 0, 400))]))[-1]
    # From the corner of the one to the face of the other.
    assert found.distance_m == pytest.approx((35 - 10 * math.sqrt(2)) * MM, abs=1e-9)


def test_start_angles_count_where_rotors_turn_together():
    one = rotor(mounted(BAR), name="a")
    other = rotor(mounted(BAR, height=14), name="b", zero=(-1, 0, 0), start=math.pi)
    with pytest.raises(ImpossibleError, match=r'rotor "a" runs into rotor "b".*by 2.5 mm'):
        check_collisions(machine([one, other]))


def test_shafts_that_point_opposite_ways_turn_together_at_opposite_ratios():
    one = rotor(mounted(BAR), name="a")
    across = {"along": (0, 0, -1), "zero": (-1, 0, 0), "name": "b"}
    other = rotor(mounted(BAR, height=-14), ratio=-1, **across)
    check_collisions(machine([one, other]))
    with pytest.raises(ImpossibleError, match=r"by 2\.5 mm"):
        check_collisions(machine([one, rotor(mounted(BAR, height=-14), ratio=1, **across)]))


def test_facing_rotors_by_hand():
    one = rotor(mounted(BAR), name="a")
    other = rotor(mounted(DISC, height=-10), name="b", ratio=-9)
    found = {(c.first, c.second): c.distance_m / MM for c in clearances(machine([one, other]))}
    assert found['rotor "a"', 'rotor "b"'] == pytest.approx((11.5 - 2.5) - (-10 + 2), abs=1e-9)


def test_rotors_on_crossing_shafts_against_sampling():
    one = rotor(mounted(BAR, height=40), name="a")
    other = rotor(mounted(BALL, height=20), through=(0, 0, 75), along=(1, 0.2, 0.1), name="b")
    found = {(c.first, c.second): c.distance_m for c in clearances(machine([one, other]))}
    angles = np.linspace(0, 2 * math.pi, 721)
    ball = other.magnets[0]
    spun = np.stack([np.cos(angles), np.sin(angles)], axis=1) * ball.radius
    centres = (
        other.shaft.through + np.column_stack([spun, np.full(721, ball.height)]) @ other.frame.T
    )
    # The swept bar is a ring: from 12 to hypot(32, 5) mm out and from 37.5 to 42.5 mm up.
    rho = np.hypot(centres[:, 0], centres[:, 1])
    across = np.maximum(0, np.maximum(12 * MM - rho, rho - math.hypot(32, 5) * MM))
    up = np.maximum(0, np.maximum(37.5 * MM - centres[:, 2], centres[:, 2] - 42.5 * MM))
    expected = np.hypot(across, up).min() - 4.5 * MM
    # Half a degree at 22 mm is 0.2 mm; across a smooth minimum it costs 0.1^2 / (2 * 22) mm.
    assert found['rotor "a"', 'rotor "b"'] == pytest.approx(expected, abs=1e-3 * MM)


def test_far_rotors_are_not_worth_a_line():
    found = clearances(
        machine([rotor(mounted(BAR), name="a"), rotor(mounted(BAR, height=300), name="b")])
    )
    assert [(c.first, c.second) for c in found] == [
        ('rotor "a"', 'coil "c"'),
        ('rotor "b"', 'coil "c"'),
    ]


@pytest.mark.parametrize(
    ("second", "overlap"),
    [
        (mounted(BAR, angle=0.0), "5"),  # the same place: 5 mm along the shaft frees it
        (mounted(BAR, height=14.0), "2.5"),
        (mounted(BAR, radius=40), "2"),
        (mounted(BALL, height=17), "1.5"),  # 7 mm deep at the middle, less 5.5 mm
    ],
)
def test_magnets_of_one_rotor_that_overlap(second, overlap):
    with pytest.raises(ImpossibleError) as caught:
        check_collisions(machine([rotor(mounted(BAR), second)]))
    assert str(caught.value) == (
        f'magnet 1 of rotor "r" runs into magnet 2 of the same rotor: they overlap by {overlap} mm'
    )


@pytest.mark.parametrize(
    "second",
    [
        mounted(BAR, height=16.5),  # stacked face to face
        mounted(BAR, radius=42),  # end to end
        mounted(DISC, radius=44, height=11.5),  # its edge 6 mm from its middle, beyond 32 + 6
    ],
)
def test_magnets_of_one_rotor_may_touch(second):
    check_collisions(machine([rotor(mounted(BAR), second)]))


def test_coils_that_overlap_and_coils_that_touch():
    turning = rotor(mounted(BAR))
    with pytest.raises(ImpossibleError, match=r'coil "c" runs into coil "d".*by 1 mm'):
        check_collisions(machine([turning], [coil(), coil(centre=(0, 49, 0), name="d")]))
    check_collisions(machine([turning], [coil(), coil(centre=(0, 50, 0), name="d")]))
    small = PlacedCoil("e", (0, 22 * MM, 0), (0, 0, 1), (1, 0, 0), (4 * MM, 4 * MM), 0.01, 0.005, 9)
    check_collisions(machine([turning], [coil(), small]))  # one inside the other's opening


def test_too_many_magnets_and_coils_are_refused_with_the_key():
    machine = shipped("one_rotor")
    coil = machine.coils[0]
    x, y, z = coil.centre
    coils = tuple(replace(coil, name=f"c{i}", centre=(x, y, z - 40e-3 * i)) for i in range(41))
    many = machine.changed({"rotors.upper.magnets[0].count": 98})  # and one elsewhere
    too_large = replace(many, coils=coils)
    said = r"^coils: 1 rotors with 99 magnets .* make 4059 pairs"
    with pytest.raises(ImpossibleError, match=said):
        check_collisions(too_large)
    with pytest.raises(ImpossibleError, match="4059 pairs"):
        draw_machine(too_large)


@pytest.mark.parametrize("shape", [BAR, BALL, ROD], ids=["bar", "ball", "rod"])
@pytest.mark.parametrize("axis", [(0, 0, 1), (0, 0.2, 1)], ids=["square", "tilted"])
def test_raising_magnets_is_raising_their_shaft(shape, axis):
    coils, raised = (coil(axis=axis),), [0.0, 2 * MM, -3 * MM]
    for height in (11.5, -20.0):
        turning = rotor(mounted(shape, height=height))
        one_by_one = [rotor_to_winding_m(turning.raised(each), coils) for each in raised]
        # the grid of a search rounds otherwise
        assert raised_to_winding_m(turning, coils, raised) == pytest.approx(one_by_one, abs=1e-9)
        assert len({round(each, 9) for each in one_by_one}) == 3


@pytest.mark.parametrize("name", ["three_rotors", "two_coils", "bolt_beside_magnets"])
def test_all_rotors_and_windings_at_once_are_as_each_pair_alone(name):
    whole = shipped(name)
    alone = tuple(
        tuple(rotor_to_winding_m(turning, (winding,)) for winding in whole.placed_coils)
        for turning in whole.placed_rotors
    )
    assert rotors_to_windings_m(whole) == alone


PLACES = st.tuples(
    st.sampled_from([BAR, BAR, BALL]),
    st.sampled_from([30.0, 45.0]),
    st.sampled_from([0.0, 90.0, 100.0]),
    st.floats(-4.0, 4.0),
)
FAR_COIL = coil(centre=(0, 0, 400))


def placed(places, lift=0.0):
    return [mounted(s, r, h + lift, math.radians(a)) for s, r, a, h in places]


@settings(max_examples=15, deadline=None, derandomize=True)
@given(*[st.lists(PLACES, min_size=1, max_size=3)] * 2)
def test_rotors_that_turn_together_are_as_near_as_their_nearest_magnets(lower, upper):
    def apart_m(one, other):
        pair = [rotor(*one, name="a"), rotor(*other, name="b")]
        found = clearances(machine(pair, [FAR_COIL]))
        return min(each.distance_m for each in found if "rotor" in each.second)

    one, other = placed(lower), placed(upper, lift=25.0)
    alone = min(apart_m([m], [n]) for m in one for n in other)
    # each search ends within a millionth of a millimetre
    assert apart_m(one, other) == pytest.approx(alone, abs=1e-9)


def overlaps(magnets):
    """Return what is said of a rotor's own magnets."""
    try:
        check_collisions(machine([rotor(*magnets)], [FAR_COIL]))
    except CollisionError as error:
        return list(error.lines)
    return []


@settings(max_examples=30, deadline=None, derandomize=True)
@given(places=st.lists(PLACES, min_size=2, max_size=4), lift=st.floats(-30.0, 30.0))
def test_overlaps_within_a_rotor_are_those_of_its_pairs_at_any_height(places, lift):
    expected = []
    for i, j in combinations(range(len(places)), 2):
        for line in overlaps(placed([places[i], places[j]])):
            named = line.replace("magnet 2 of", f"magnet {j + 1} of")
            expected.append(named.replace("magnet 1 of", f"magnet {i + 1} of", 1))
    found = overlaps(placed(places, lift))
    assert [line.partition("overlap by")[0] for line in found] == [
        line.partition("overlap by")[0] for line in expected
    ]
    assert [depth_mm(line) for line in found] == pytest.approx(
        [depth_mm(line) for line in expected], rel=2e-3
    )  # told to three digits


def depth_mm(line: str) -> float:
    return float(line.rpartition(" by ")[2].removesuffix(" mm"))
