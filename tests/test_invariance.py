"""What must not change the linkage, and what must change it in a known way."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from machines import ball, block, coil, described, disc, magnet, mounted, rotor
from machines import machine_of as of_parts
from scipy.spatial.transform import Rotation

from fieldsim.machine.machine import Machine
from fieldsim.machine.magnets import ArmAxis, North
from fieldsim.machine.placed import PlacedRotor
from fieldsim.machine.shaft import Shaft
from fieldsim.waveform.flux_table import flux_table

MM = 1e-3
TOLERANCE = 1e-5
SHAPES = {
    "block": block(20, 10, 5),
    "disc": disc(12, 4),
    "rod": disc(6, 12, ArmAxis.ARM),
    "ball": ball(9),
}


def machine(shape="block", north=North.PLUS_SHAFT) -> Machine:
    """No two things in it are parallel that need not be: no symmetry hides a fault."""
    turning = rotor(
        mounted(SHAPES[shape], radius=22, angle=0.3, height=16, north=north),
        mounted(SHAPES[shape], radius=18, angle=2.5, height=17, north=North.IN),
        through=(1, -1, 0),
        along=(0.1, 0.05, 1.0),
        zero=(1.0, 0.2, 0.0),
    )
    winding = coil(centre=(2, 21, -1), axis=(0.2, -0.1, 1.0), side=(1.0, 0.3, 0.0), length=8)
    return of_parts(turning, winding, title="askew")


def curve(askew: Machine, count: int = 360):
    return flux_table(askew, angles=count, tolerance=TOLERANCE).linkage_Wb[0, 0]


def moved(askew: Machine, turn: Rotation, shift) -> Machine:
    """Return the machine turned about the origin, then shifted, as one body."""

    def point(p):
        return tuple(turn.apply(p) + shift)

    def direction(d):
        return tuple(turn.apply(d))

    rotors = tuple(
        PlacedRotor(
            r.name,
            Shaft(point(r.shaft.through), direction(r.shaft.along)),
            direction(r.zero),
            r.magnets,
            r.gear_ratio,
            r.start,
        )
        for r in askew.placed_rotors
    )
    coils = tuple(
        replace(c, centre=point(c.centre), axis=direction(c.axis), side=direction(c.side))
        for c in askew.placed_coils
    )
    return described("moved", rotors, coils)


def with_coil(askew: Machine, **changes) -> Machine:
    return of_parts(*askew.placed_rotors, replace(askew.placed_coils[0], **changes))


def with_rotors(askew: Machine, *rotors: PlacedRotor) -> Machine:
    return of_parts(*rotors, *askew.placed_coils)


@settings(max_examples=8, deadline=None)
@given(
    st.sampled_from(list(SHAPES)),
    st.tuples(*[st.floats(-3, 3)] * 3),
    st.tuples(*[st.floats(-0.2, 0.2)] * 3),
)
def test_moving_the_whole_machine(shape, turn, shift):
    still = machine(shape)
    elsewhere = moved(still, Rotation.from_rotvec(turn), np.array(shift))
    a, b = curve(still), curve(elsewhere)
    # Rounding may tip the choice of an order, so that both only hold the tolerance.
    assert np.abs(a - b).max() < 2 * TOLERANCE * np.ptp(a)


@settings(max_examples=8, deadline=None)
@given(st.sampled_from(list(SHAPES)), st.floats(0.05, 50.0))
def test_scaling_all_lengths(shape, k):
    """Linkage grows with the square of length at fixed turns and remanence."""

    def scaled(v):
        return tuple(k * c for c in v)

    small = machine(shape)
    winding, turning = small.placed_coils[0], small.placed_rotors[0]
    large_shape = replace(
        SHAPES[shape],
        **{
            name: scaled(v) if isinstance(v, tuple) else k * v
            for name, v in vars(SHAPES[shape]).items()
            if name != "axis"
        },
    )
    kind = magnet(large_shape)
    magnets = tuple(
        replace(m, magnet=kind, radius=k * m.radius, height=k * m.height) for m in turning.magnets
    )
    shaft = Shaft(scaled(turning.shaft.through), turning.shaft.along)
    large = of_parts(
        replace(turning, shaft=shaft, magnets=magnets),
        replace(
            winding,
            centre=scaled(winding.centre),
            opening=scaled(winding.opening),
            length=k * winding.length,
            build=k * winding.build,
        ),
    )
    a, b = curve(small), curve(large)
    assert np.abs(b / k**2 - a).max() < 2 * TOLERANCE * np.ptp(a)  # as for moving


@pytest.mark.parametrize("shape", SHAPES)
def test_reversing_the_turns(shape):
    askew = machine(shape)
    other = with_coil(askew, axis=tuple(-c for c in askew.placed_coils[0].axis))
    a, b = curve(askew), curve(other)
    assert np.abs(a + b).max() < 2 * TOLERANCE * np.ptp(a)  # as for moving


@pytest.mark.parametrize("shape", SHAPES)
def test_reversing_every_pole(shape):
    askew = machine(shape)
    turning = askew.placed_rotors[0]
    magnets = tuple(replace(m, north=m.north.reversed) for m in turning.magnets)
    other = with_rotors(askew, replace(turning, magnets=magnets))
    assert np.array_equal(curve(askew), -curve(other))  # nothing but a sign


@pytest.mark.parametrize("shape", SHAPES)
def test_naming_the_coils_sides_the_other_way(shape):
    """The same winding, described from its other side or upside down."""
    askew = machine(shape)
    winding = askew.placed_coils[0]
    a = curve(askew)
    quarter = with_coil(askew, side=winding.other_side, opening=winding.opening[::-1])
    half = with_coil(askew, side=tuple(-c for c in winding.side))
    for same in (quarter, half):
        assert np.abs(curve(same) - a).max() < 2 * TOLERANCE * np.ptp(a)  # as for moving


def test_zero_direction_shifts_the_curve():
    """With the zero direction turned on by 40 degrees, everything comes 40 degrees earlier."""
    askew = machine()
    turning = askew.placed_rotors[0]
    turn = Rotation.from_rotvec(math.radians(40) * np.array(turning.shaft.along))
    other = with_rotors(askew, replace(turning, zero=tuple(turn.apply(turning.zero))))
    a, b = curve(askew), curve(other)
    assert np.abs(b - np.roll(a, -40)).max() < 2 * TOLERANCE * np.ptp(a)  # as for moving


def test_turning_all_magnets_on_the_rotor_shifts_the_curve():
    askew = machine()
    turning = askew.placed_rotors[0]
    magnets = tuple(replace(m, angle=m.angle + math.radians(40)) for m in turning.magnets)
    other = with_rotors(askew, replace(turning, magnets=magnets))
    a, b = curve(askew), curve(other)
    assert b == pytest.approx(np.roll(a, -40), abs=1e-12 * np.ptp(a))  # phases of one series


def test_start_and_gearing_are_no_part_of_the_table():
    askew = machine()
    turning = askew.placed_rotors[0]
    other = with_rotors(askew, replace(turning, start=1.0, gear_ratio=turning.gear_ratio * -7))
    assert np.array_equal(curve(askew), curve(other))


def test_shaft_described_from_the_other_end():
    """Along reversed: the arm swings the other way, and z and forward change sign with it."""
    askew = machine()
    turning = askew.placed_rotors[0]
    along = tuple(-c for c in turning.shaft.along)
    flipped = {North.PLUS_SHAFT: North.MINUS_SHAFT}
    magnets = tuple(
        replace(m, angle=-m.angle, height=-m.height, north=flipped.get(m.north, m.north))
        for m in turning.magnets
    )
    shaft = Shaft(turning.shaft.through, along)
    other = with_rotors(askew, replace(turning, shaft=shaft, magnets=magnets))
    a, b = curve(askew), curve(other)
    backwards = np.roll(a[::-1], 1)
    assert np.abs(b - backwards).max() < 2 * TOLERANCE * np.ptp(a)  # as for moving


def test_point_on_the_shaft_does_not_matter():
    """The shaft's point slid by 5 mm, heights counted from there."""
    askew = machine()
    turning = askew.placed_rotors[0]
    slid = tuple(np.array(turning.shaft.through) + 5 * MM * np.array(turning.shaft.along))
    magnets = tuple(replace(m, height=m.height - 5 * MM) for m in turning.magnets)
    shaft = Shaft(slid, turning.shaft.along)
    other = with_rotors(askew, replace(turning, shaft=shaft, magnets=magnets))
    a, b = curve(askew), curve(other)
    assert np.abs(a - b).max() < 2 * TOLERANCE * np.ptp(a)  # as for moving


def test_rotors_and_magnets_superpose():
    askew = machine()
    turning = askew.placed_rotors[0]
    first, second = (replace(turning, magnets=(m,)) for m in turning.magnets)
    split = with_rotors(askew, replace(first, name="a"), replace(second, name="b"))
    table = flux_table(split, angles=360, tolerance=TOLERANCE)
    whole = curve(askew)
    parts = table.linkage_Wb[0]
    bound = TOLERANCE * (np.ptp(whole) + np.ptp(parts, axis=1).sum())  # each holds its own
    assert np.abs(parts.sum(axis=0) - whole).max() < bound


def test_winding_halves_superpose():
    """The winding cut in two along its length, half of the turns each."""
    askew = machine()
    winding = askew.placed_coils[0]
    halves = [
        with_coil(
            askew,
            centre=tuple(
                np.array(winding.centre) + s * winding.length / 4 * np.array(winding.axis)
            ),
            length=winding.length / 2,
            turns=winding.turns / 2,
        )
        for s in (-1, 1)
    ]
    whole = curve(askew)
    parts = sum(curve(half) for half in halves)
    assert np.abs(parts - whole).max() < 2.2 * TOLERANCE * np.ptp(whole)  # each holds its own


def test_magnet_halves_superpose():
    """A block sawn across the arm: two blocks on tracks of their own."""
    askew = machine()
    turning = askew.placed_rotors[0]
    one = replace(turning, magnets=turning.magnets[:1])
    half = magnet(block(10, 10, 5))
    pieces = tuple(
        replace(one.magnets[0], magnet=half, radius=one.magnets[0].radius + s * 5 * MM)
        for s in (-1, 1)
    )
    whole = curve(with_rotors(askew, one))
    sawn = curve(with_rotors(askew, replace(turning, magnets=pieces)))
    assert np.abs(sawn - whole).max() < 2 * TOLERANCE * np.ptp(whole)  # each holds its own


@pytest.mark.parametrize(
    ("north", "sign"), [(North.PLUS_SHAFT, 1), (North.OUT, 1), (North.FORWARD, -1)]
)
@pytest.mark.parametrize("shape", SHAPES)
def test_even_and_odd_in_mirrored_machines(shape, north, sign):
    """A coil square to the arm at 90 degrees: the magnet comes as it goes, or with other sign."""
    y = curve(of_parts(rotor(mounted(SHAPES[shape], height=14, north=north)), coil()))
    ahead, behind = y[90 + np.arange(1, 180)], np.roll(y, 90)[180 - np.arange(1, 180)]
    # The mirror is used, so that only a value in the mirror itself can be off by the tolerance.
    assert ahead == pytest.approx(sign * behind, abs=TOLERANCE * np.ptp(y))
    assert np.ptp(y) > 1e-5


def test_mirror_image_of_a_lopsided_machine():
    """Mirrored in the plane x = 0: coil, path and poles; an axial vector's x stays."""

    def lopsided(side):
        turning = rotor(
            mounted(radius=22, angle=side * 0.3, height=14),
            mounted(radius=19, angle=side * 1.4, height=15, north=North.OUT),
            through=(side * 1, 0, 0),
            zero=(0, 1, 0),
        )
        # The mirror runs the turn the other way: seen so, the coil's axis (0, 0, 1) is reversed.
        axis = (-0.2 * side, 0.1, 1.0)
        winding = coil(centre=(side * 4, 21, 0), axis=axis, side=(1.0, side * 0.2, 0.0), length=8)
        return of_parts(turning, winding)

    right, left = curve(lopsided(1)), curve(lopsided(-1))
    # Axial and radial poles lie in mirrored planes and keep their sign here, as the coil's axis.
    backwards = np.roll(right[::-1], 1)
    assert np.abs(left - backwards).max() < 2 * TOLERANCE * np.ptp(right)  # as for moving


@pytest.mark.parametrize("shape", ["disc", "ball"])
def test_no_swing_on_the_rotors_axis(shape):
    """A coil round the shaft and a round magnet on it, magnetised along it: nothing changes."""
    on_shaft = mounted(SHAPES[shape], radius=0, height=14)
    y = curve(of_parts(rotor(on_shaft), coil(centre=(0, 0, 0))))
    assert y.mean() > 1e-4
    assert np.ptp(y) < 1e-11 * y.mean()  # rounding


def test_balanced_wheel_under_a_coil_on_its_axis():
    """Four like poles on a wheel under a square coil on its shaft: only every fourth order."""
    magnets = (mounted(angle=i * math.pi / 2, height=14) for i in range(4))
    y = curve(of_parts(rotor(*magnets), coil(centre=(0, 0, 0), opening=(24, 24))))
    assert np.roll(y, 90) == pytest.approx(y, abs=1e-12 * np.abs(y).max())  # phases of one series
    assert np.ptp(y) > 1e-3 * np.abs(y).max()
