"""What must not change the linkage, and what must change it in a known way."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from machines import si_coil, si_machine, si_magnet, si_mounted, si_rotor, si_shaft
from scipy.spatial.transform import Rotation

from fieldsim.machine.machine import Machine
from fieldsim.machine.magnets import ArmAxis, Cuboid, Cylinder, North, Sphere
from fieldsim.machine.placed import PlacedCoil, PlacedRotor
from fieldsim.waveform.flux_table import flux_table

MM = 1e-3
TOLERANCE = 1e-5
SHAPES = {
    "block": Cuboid((20 * MM, 10 * MM, 5 * MM)),
    "disc": Cylinder(12 * MM, 4 * MM),
    "rod": Cylinder(6 * MM, 12 * MM, ArmAxis.ARM),
    "ball": Sphere(9 * MM),
}


def machine(shape="block", north=North.PLUS_SHAFT) -> Machine:
    """No two things in it are parallel that need not be: no symmetry hides a fault."""
    magnet = si_magnet("m", SHAPES[shape], 1.2)
    mounted = (
        si_mounted(magnet, 22 * MM, 0.3, 16 * MM, north),
        si_mounted(magnet, 18 * MM, 2.5, 17 * MM, North.IN),
    )
    shaft = si_shaft((1 * MM, -1 * MM, 0), (0.1, 0.05, 1.0))
    rotor = si_rotor("r", shaft, (1.0, 0.2, 0.0), mounted)
    coil = si_coil(
        "c",
        (2 * MM, 21 * MM, -1 * MM),
        (0.2, -0.1, 1.0),
        (1.0, 0.3, 0.0),
        (24 * MM, 16 * MM),
        8 * MM,
        4 * MM,
        1000,
    )
    return si_machine("askew", (magnet,), (rotor,), (coil,))


def curve(geometry: Machine, count: int = 360):
    return flux_table(geometry, angles=count, tolerance=TOLERANCE).linkage_Wb[0, 0]


def moved(geometry: Machine, turn: Rotation, shift) -> Machine:
    """Return the machine turned about the origin, then shifted, as one body."""

    def point(p):
        return tuple(turn.apply(p) + shift)

    def direction(d):
        return tuple(turn.apply(d))

    rotors = tuple(
        si_rotor(
            r.name,
            si_shaft(point(r.shaft.through), direction(r.shaft.along)),
            direction(r.zero),
            r.magnets,
            r.gear_ratio,
            r.start,
        )
        for r in geometry.rotors
    )
    coils = tuple(
        replace(c, centre=point(c.centre), axis=direction(c.axis), side=direction(c.side))
        for c in geometry.coils
    )
    return replace(geometry, rotors=rotors, coils=coils)


def with_coil(geometry: Machine, **changes) -> Machine:
    return replace(geometry, coils=(replace(geometry.coils[0], **changes),))


def with_rotor(geometry: Machine, rotor: PlacedRotor) -> Machine:
    return geometry.with_rotors((rotor,))


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
    coil, rotor = small.coils[0], small.rotors[0]
    large_shape = replace(
        SHAPES[shape],
        **{
            name: scaled(v) if isinstance(v, tuple) else k * v
            for name, v in vars(SHAPES[shape]).items()
            if name != "axis"
        },
    )
    magnet = si_magnet("m", large_shape, 1.2)
    magnets = tuple(
        replace(m, magnet=magnet, radius=k * m.radius, height=k * m.height) for m in rotor.magnets
    )
    shaft = si_shaft(scaled(rotor.shaft.through), rotor.shaft.along)
    large = si_machine(
        "large",
        (magnet,),
        (replace(rotor, shaft=shaft, magnets=magnets),),
        (
            replace(
                coil,
                centre=scaled(coil.centre),
                opening=scaled(coil.opening),
                length=k * coil.length,
                build=k * coil.build,
            ),
        ),
    )
    a, b = curve(small), curve(large)
    assert np.abs(b / k**2 - a).max() < 2 * TOLERANCE * np.ptp(a)  # as for moving


def reversed_coil(coil: PlacedCoil) -> PlacedCoil:
    return replace(coil, axis=tuple(-c for c in coil.axis))


@pytest.mark.parametrize("shape", SHAPES)
def test_reversing_the_turns(shape):
    described = machine(shape)
    other = replace(described, coils=(reversed_coil(described.coils[0]),))
    a, b = curve(described), curve(other)
    assert np.abs(a + b).max() < 2 * TOLERANCE * np.ptp(a)  # as for moving


@pytest.mark.parametrize("shape", SHAPES)
def test_reversing_every_pole(shape):
    described = machine(shape)
    rotor = described.rotors[0]
    magnets = tuple(replace(m, north=m.north.reversed) for m in rotor.magnets)
    other = with_rotor(described, replace(rotor, magnets=magnets))
    assert np.array_equal(curve(described), -curve(other))  # nothing but a sign


@pytest.mark.parametrize("shape", SHAPES)
def test_naming_the_coils_sides_the_other_way(shape):
    """The same winding, described from its other side or upside down."""
    described = machine(shape)
    coil = described.coils[0]
    a = curve(described)
    quarter = with_coil(described, side=coil.other_side, opening=coil.opening[::-1])
    half = with_coil(described, side=tuple(-c for c in coil.side))
    for same in (quarter, half):
        assert np.abs(curve(same) - a).max() < 2 * TOLERANCE * np.ptp(a)  # as for moving


def test_zero_direction_shifts_the_curve():
    """With the zero direction turned on by 40 degrees, everything comes 40 degrees earlier."""
    described = machine()
    rotor = described.rotors[0]
    turn = Rotation.from_rotvec(math.radians(40) * np.array(rotor.shaft.along))
    other = with_rotor(described, replace(rotor, zero=tuple(turn.apply(rotor.zero))))
    a, b = curve(described), curve(other)
    assert np.abs(b - np.roll(a, -40)).max() < 2 * TOLERANCE * np.ptp(a)  # as for moving


def test_turning_all_magnets_on_the_rotor_shifts_the_curve():
    described = machine()
    rotor = described.rotors[0]
    magnets = tuple(replace(m, angle=m.angle + math.radians(40)) for m in rotor.magnets)
    other = with_rotor(described, replace(rotor, magnets=magnets))
    a, b = curve(described), curve(other)
    assert b == pytest.approx(np.roll(a, -40), abs=1e-12 * np.ptp(a))  # phases of one series


def test_start_and_gearing_are_no_part_of_the_table():
    described = machine()
    rotor = described.rotors[0]
    other = with_rotor(described, replace(rotor, start=1.0, gear_ratio=rotor.gear_ratio * -7))
    assert np.array_equal(curve(described), curve(other))


def test_shaft_described_from_the_other_end():
    """Along reversed: the arm swings the other way, and z and forward change sign with it."""
    described = machine()
    rotor = described.rotors[0]
    along = tuple(-c for c in rotor.shaft.along)
    flipped = {North.PLUS_SHAFT: North.MINUS_SHAFT}
    magnets = tuple(
        replace(m, angle=-m.angle, height=-m.height, north=flipped.get(m.north, m.north))
        for m in rotor.magnets
    )
    shaft = si_shaft(rotor.shaft.through, along)
    other = with_rotor(described, replace(rotor, shaft=shaft, magnets=magnets))
    a, b = curve(described), curve(other)
    backwards = np.roll(a[::-1], 1)
    assert np.abs(b - backwards).max() < 2 * TOLERANCE * np.ptp(a)  # as for moving


def test_point_on_the_shaft_does_not_matter():
    """The shaft's point slid by 5 mm, heights counted from there."""
    described = machine()
    rotor = described.rotors[0]
    slid = tuple(np.array(rotor.shaft.through) + 5 * MM * np.array(rotor.shaft.along))
    magnets = tuple(replace(m, height=m.height - 5 * MM) for m in rotor.magnets)
    other = with_rotor(
        described, replace(rotor, shaft=si_shaft(slid, rotor.shaft.along), magnets=magnets)
    )
    a, b = curve(described), curve(other)
    assert np.abs(a - b).max() < 2 * TOLERANCE * np.ptp(a)  # as for moving


def test_rotors_and_magnets_superpose():
    described = machine()
    rotor = described.rotors[0]
    first, second = (replace(rotor, magnets=(m,)) for m in rotor.magnets)
    split = described.with_rotors((replace(first, name="a"), replace(second, name="b")))
    table = flux_table(split, angles=360, tolerance=TOLERANCE)
    whole = curve(described)
    parts = table.linkage_Wb[0]
    bound = TOLERANCE * (np.ptp(whole) + np.ptp(parts, axis=1).sum())  # each holds its own
    assert np.abs(parts.sum(axis=0) - whole).max() < bound


def test_winding_halves_superpose():
    """The winding cut in two along its length, half of the turns each."""
    described = machine()
    coil = described.coils[0]
    halves = [
        replace(
            coil,
            centre=tuple(np.array(coil.centre) + s * coil.length / 4 * np.array(coil.axis)),
            length=coil.length / 2,
            turns=coil.turns / 2,
        )
        for s in (-1, 1)
    ]
    whole = curve(described)
    parts = sum(curve(replace(described, coils=(half,))) for half in halves)
    assert np.abs(parts - whole).max() < 2.2 * TOLERANCE * np.ptp(whole)  # each holds its own


def test_magnet_halves_superpose():
    """A block sawn across the arm: two blocks on tracks of their own."""
    described = machine()
    rotor = described.rotors[0]
    one = replace(rotor, magnets=rotor.magnets[:1])
    half = si_magnet("half", Cuboid((10 * MM, 10 * MM, 5 * MM)), 1.2)
    pieces = tuple(
        replace(one.magnets[0], magnet=half, radius=one.magnets[0].radius + s * 5 * MM)
        for s in (-1, 1)
    )
    whole = curve(with_rotor(described, one))
    sawn = curve(with_rotor(described, replace(rotor, magnets=pieces)))
    assert np.abs(sawn - whole).max() < 2 * TOLERANCE * np.ptp(whole)  # each holds its own


@pytest.mark.parametrize(
    ("north", "sign"), [(North.PLUS_SHAFT, 1), (North.OUT, 1), (North.FORWARD, -1)]
)
@pytest.mark.parametrize("shape", SHAPES)
def test_even_and_odd_in_mirrored_machines(shape, north, sign):
    """A coil square to the arm at 90 degrees: the magnet comes as it goes, or with other sign."""
    magnet = si_magnet("m", SHAPES[shape], 1.2)
    mounted = (si_mounted(magnet, 22 * MM, 0.0, 14 * MM, north),)
    rotor = si_rotor("r", si_shaft((0, 0, 0), (0, 0, 1)), (1, 0, 0), mounted)
    coil = si_coil(
        "c", (0, 22 * MM, 0), (0, 0, 1), (1, 0, 0), (24 * MM, 16 * MM), 10 * MM, 4 * MM, 1000
    )
    y = curve(si_machine("", (), (rotor,), (coil,)))
    ahead, behind = y[90 + np.arange(1, 180)], np.roll(y, 90)[180 - np.arange(1, 180)]
    # The mirror is used, so that only a value in the mirror itself can be off by the tolerance.
    assert ahead == pytest.approx(sign * behind, abs=TOLERANCE * np.ptp(y))
    assert np.ptp(y) > 1e-5


def test_mirror_image_of_a_lopsided_machine():
    """Mirrored in the plane x = 0: coil, path and poles; an axial vector's x stays."""
    magnet = si_magnet("m", SHAPES["block"], 1.2)

    def lopsided(side):
        shaft = si_shaft((side * 1 * MM, 0, 0), (0, 0, 1))
        mounted = (
            si_mounted(magnet, 22 * MM, side * 0.3, 14 * MM, North.PLUS_SHAFT),
            si_mounted(magnet, 19 * MM, side * 1.4, 15 * MM, North.OUT),
        )
        # The mirror runs the turn the other way: seen so, the coil's axis (0, 0, 1) is reversed.
        axis = (-0.2 * side, 0.1, 1.0)
        coil = si_coil(
            "c",
            (side * 4 * MM, 21 * MM, 0),
            axis,
            (1.0, side * 0.2, 0.0),
            (24 * MM, 16 * MM),
            8 * MM,
            4 * MM,
            1000,
        )
        return si_machine("", (), (si_rotor("r", shaft, (0, 1, 0), mounted),), (coil,))

    right, left = curve(lopsided(1)), curve(lopsided(-1))
    # Axial and radial poles lie in mirrored planes and keep their sign here, as the coil's axis.
    backwards = np.roll(right[::-1], 1)
    assert np.abs(left - backwards).max() < 2 * TOLERANCE * np.ptp(right)  # as for moving


@pytest.mark.parametrize("shape", ["disc", "ball"])
def test_no_swing_on_the_rotors_axis(shape):
    """A coil round the shaft and a round magnet on it, magnetised along it: nothing changes."""
    magnet = si_magnet("m", SHAPES[shape], 1.2)
    mounted = (si_mounted(magnet, 0.0, 0.0, 14 * MM, North.PLUS_SHAFT),)
    rotor = si_rotor("r", si_shaft((0, 0, 0), (0, 0, 1)), (1, 0, 0), mounted)
    coil = si_coil("c", (0, 0, 0), (0, 0, 1), (1, 0, 0), (24 * MM, 16 * MM), 10 * MM, 4 * MM, 1000)
    y = curve(si_machine("", (), (rotor,), (coil,)))
    assert y.mean() > 1e-4
    assert np.ptp(y) < 1e-11 * y.mean()  # rounding


def test_balanced_wheel_under_a_coil_on_its_axis():
    """Four like poles on a wheel under a square coil on its shaft: only every fourth order."""
    magnet = si_magnet("m", SHAPES["block"], 1.2)
    mounted = tuple(
        si_mounted(magnet, 22 * MM, i * math.pi / 2, 14 * MM, North.PLUS_SHAFT) for i in range(4)
    )
    rotor = si_rotor("r", si_shaft((0, 0, 0), (0, 0, 1)), (1, 0, 0), mounted)
    coil = si_coil("c", (0, 0, 0), (0, 0, 1), (1, 0, 0), (24 * MM, 24 * MM), 10 * MM, 4 * MM, 1000)
    y = curve(si_machine("", (), (rotor,), (coil,)))
    assert np.roll(y, 90) == pytest.approx(y, abs=1e-12 * np.abs(y).max())  # phases of one series
    assert np.ptp(y) > 1e-3 * np.abs(y).max()
