"""Good files become the machine that they describe."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldsim.errors import FieldsimError, GeometryError, ImpossibleError
from fieldsim.machine.machine import Machine
from fieldsim.machine.magnets import ArmAxis, Cuboid, Cylinder, North, Sphere
from fieldsim.machine_file.reader import read, read_sound

MAGNETS = """
magnets:
  bar: {size: [20 mm, 10 mm, 0.5 cm], remanence: 12 kG}
  coin: {shape: disc, diameter: 1/2 in, thickness: 4000 um, remanence: 1250 mT}
  rod: {shape: cylinder, diameter: 8 mm, thickness: 14 mm, axis: arm, remanence: 1.1 T}
  ball: {shape: sphere, diameter: 0.25 in, remanence: 1 T}
"""
SHAFT = "shaft: {through: [1 mm, 2 mm, 3 mm], along: [0, 0, 2]}"
COILS = """
coils:
  pickup:
    centre: [0 mm, 22 mm, -40 mm]
    axis: [0, 0, 3]
    side: [2, 0, 1]
    opening: [24 mm, 16 mm]
    length: 12 mm
    build: 6 mm
    turns: 1.8e3
"""
MOUNT = "magnet: bar, radius: 22 mm, height: 11.5 mm, north: +shaft"


def described(
    tmp_path, rotor: str, title: str = "title: A machine\n", coils: str = COILS
) -> Machine:
    path = tmp_path / "a file.yaml"
    path.write_text(f"{title}{MAGNETS}\nrotors:\n  upper:\n    {SHAFT}\n{rotor}\n{coils}")
    return read_sound(path)


def with_mounts(*mounts: str, more: str = "") -> str:
    listed = "".join(f"      - {{{mount}}}\n" for mount in mounts)
    return f"    zero: [1, 0, 5]\n{more}    magnets:\n{listed}"


def test_magnets_in_every_unit(tmp_path):
    bar, coin, rod, ball = described(tmp_path, with_mounts(MOUNT)).magnets
    assert bar.shape == Cuboid((0.02, 0.01, 0.005))
    assert bar.remanence == pytest.approx(1.2, rel=1e-15)
    assert coin.shape == Cylinder(0.0127, 0.004, ArmAxis.SHAFT)
    assert coin.remanence == pytest.approx(1.25, rel=1e-15)
    assert rod.shape == Cylinder(0.008, 0.014, ArmAxis.ARM)
    assert ball.shape == Sphere(0.00635)


def test_rotor_and_defaults(tmp_path):
    machine = described(tmp_path, with_mounts(MOUNT))
    (rotor,) = machine.rotors
    assert rotor.shaft.through == (0.001, 0.002, 0.003)
    assert rotor.shaft.along == (0.0, 0.0, 1.0)
    assert rotor.zero == (1.0, 0.0, 0.0)  # made perpendicular to the shaft
    assert rotor.gear_ratio == machine.placed_rotors[0].gear_ratio == 1
    assert rotor.start == 0.0
    (mounted,) = rotor.magnets
    assert (mounted.radius, mounted.angle, mounted.height) == (0.022, 0.0, 0.0115)
    assert mounted.north is North.PLUS_SHAFT


def test_coil(tmp_path):
    (coil,) = described(tmp_path, with_mounts(MOUNT)).coils
    assert coil.name == "pickup"
    assert coil.axis == (0.0, 0.0, 1.0)
    assert coil.side == (1.0, 0.0, 0.0)
    assert coil.centre == (0.0, 0.022, -0.04)
    assert (coil.opening, coil.length, coil.build) == ((0.024, 0.016), 0.012, 0.006)
    assert coil.turns == 1800


@pytest.mark.parametrize(
    ("written", "ratio"),
    [
        ("9", Fraction(9)),
        ("-9", Fraction(-9)),
        ("2.5", Fraction(5, 2)),
        ("0.1", Fraction(1, 10)),  # one tenth, not the nearest binary number
        ("10/3", Fraction(10, 3)),
        ('"10/3"', Fraction(10, 3)),
        ("-63 / 14", Fraction(-9, 2)),
        ("1e2", Fraction(100)),
    ],
)
def test_gear_ratios_are_exact(written, ratio, tmp_path):
    (rotor,) = described(tmp_path, with_mounts(MOUNT, more=f"    gear_ratio: {written}\n")).rotors
    assert rotor.gear_ratio == ratio


@pytest.mark.parametrize(
    ("written", "angle"),
    [("15 deg", math.pi / 12), ("-0.25 turn", -math.pi / 2), ("1 rad", 1.0), ("90°", math.pi / 2)],
)
def test_start_and_angle(written, angle, tmp_path):
    more = f"    start: {written}\n"
    (rotor,) = described(tmp_path, with_mounts(f"{MOUNT}, angle: {written}", more=more)).rotors
    assert rotor.start == pytest.approx(angle, rel=1e-15)
    assert rotor.magnets[0].angle == pytest.approx(angle, rel=1e-15)


def test_count_spaces_evenly_and_alternates(tmp_path):
    short = with_mounts(f"{MOUNT}, angle: 10 deg, count: 4".replace("22 mm", "60 mm"))
    (rotor,) = described(tmp_path, short).placed_rotors
    degrees = [math.degrees(m.angle) for m in rotor.magnets]
    assert degrees == pytest.approx([10, 100, 190, 280], rel=1e-15)
    assert [m.north.value for m in rotor.magnets] == ["+shaft", "-shaft"] * 2
    listed = with_mounts(
        *(
            f"{MOUNT}, angle: {a} deg".replace("22 mm", "60 mm").replace("+", sign)
            for a, sign in zip((10, 100, 190, 280), "+-+-", strict=True)
        )
    )
    (long,) = described(tmp_path, listed).placed_rotors
    for one, other in zip(rotor.magnets, long.magnets, strict=True):
        assert (one.radius, one.height, one.north) == (other.radius, other.height, other.north)
        assert one.angle == pytest.approx(other.angle, rel=1e-15)


def test_same_poles_may_be_odd(tmp_path):
    (rotor,) = described(tmp_path, with_mounts(f"{MOUNT}, count: 3, poles: same")).placed_rotors
    assert [m.north for m in rotor.magnets] == [North.PLUS_SHAFT] * 3


@pytest.mark.parametrize("north", list(North))
def test_every_pole_and_its_opposite(north, tmp_path):
    mount = f"{MOUNT}, count: 2".replace("+shaft", north.value)
    (rotor,) = described(tmp_path, with_mounts(mount)).placed_rotors
    assert [m.north for m in rotor.magnets] == [north, north.reversed]


def test_title_defaults_to_the_file(tmp_path):
    assert described(tmp_path, with_mounts(MOUNT)).title == "A machine"
    assert described(tmp_path, with_mounts(MOUNT), title="").title == "a file"
    assert described(tmp_path, with_mounts(MOUNT)).file == str(tmp_path / "a file.yaml")


def test_strange_file_names_make_printable_titles(tmp_path):
    path = tmp_path / "odd\nname\x1b.yaml"
    path.write_text(f"{MAGNETS}\nrotors:\n  r:\n    {SHAFT}\n{with_mounts(MOUNT)}\n{COILS}")
    assert read_sound(path).title == "odd?name?"


def test_collisions_can_be_let_pass(tmp_path):
    mounts = with_mounts(MOUNT, MOUNT)
    with pytest.raises(ImpossibleError, match=r"magnet 1 .* runs into magnet 2"):
        described(tmp_path, mounts)
    path = tmp_path / "a file.yaml"
    assert len(read(path).placed_rotors[0].magnets) == 2


def test_error_carries_its_place(tmp_path):
    with pytest.raises(GeometryError) as caught:
        described(tmp_path, with_mounts(MOUNT.replace("22 mm", "22 T")))
    assert caught.value.place.key == "rotors.upper.magnets[0].radius"
    assert caught.value.place.file == str(tmp_path / "a file.yaml")
    assert isinstance(caught.value, FieldsimError)


@pytest.mark.parametrize(
    ("rotors", "magnets", "coils"),
    [("three_rotors", 8, 2), ("two_facing_rotors", 4, 1), ("bar_inside_coil", 1, 1)],
)
def test_shipped_geometries(rotors, magnets, coils, request):
    folder = request.config.rootpath / "geometries"
    geometry = read_sound(folder / f"{rotors}.yaml")
    assert sum(len(r.magnets) for r in geometry.placed_rotors) == magnets
    assert len(geometry.coils) == coils


@settings(max_examples=40, deadline=None, derandomize=True)
@given(
    edges=st.lists(st.floats(1e-4, 1.0), min_size=3, max_size=3),
    unit=st.sampled_from(
        [("m", 1.0), ("mm", 1e-3), ("in", 0.0254), ("cm", 1e-2), ("thou", 2.54e-5)]
    ),
)
def test_any_size_in_any_unit(edges, unit, tmp_path_factory):
    """Written in one unit, read in metres: three roundings apart at most."""
    name, metre = unit
    path = tmp_path_factory.mktemp("reader") / "m.yaml"
    size = ", ".join(f"{e / metre!r} {name}" for e in edges)
    text = MAGNETS.replace("20 mm, 10 mm, 0.5 cm", size)
    path.write_text(f"{text}\nrotors:\n  r:\n    {SHAFT}\n{with_mounts(MOUNT)}\n{COILS}")
    try:
        geometry = read(path)
    except GeometryError:
        assert min(edges) < 1e-4 * (1 + 1e-9) or max(edges) > 1 - 1e-9
        return
    assert geometry.magnets[0].size == pytest.approx(edges, rel=1e-15)
