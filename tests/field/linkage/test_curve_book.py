import math
from dataclasses import replace

import numpy as np
import pytest

import fieldsim as fs
from fieldsim.field.linkage import curve_book
from fieldsim.field.linkage.curve_book import CurveBook, standing
from fieldsim.field.linkage.track import CoilInRotor, Track
from fieldsim.field.linkage.track_curve import quick_curves, track_curve
from fieldsim.machine.frames import frame_matrix, perpendicular_part, unit
from fieldsim.machine.magnets import ArmAxis, Cuboid, Cylinder, Sphere
from fieldsim.waveform.flux_table import flux_table

SHAPES = [
    Cuboid((0.02, 0.01, 0.005)),
    Cylinder(0.012, 0.006, ArmAxis.SHAFT),
    Sphere(0.011),
]
DIRECTIONS = {
    "flat": ((0, 0, 1), (1, 0, 0)),
    "flat, turned round": ((0, 0, -1), (0.6, 0.8, 0)),
    "upright": ((0, 1, 0), (0, 0, 1)),
    "upright, turned round": ((-0.6, -0.8, 0), (0, 0, -1)),
    "askew": ((0.3, -0.4, 0.7), (1, 0.2, 0)),
}
CENTRES = {
    "above": (0.021, -0.012, 0.016),
    "below": (-0.008, 0.024, -0.017),
    "on the shaft": (0.0, 0.0, -0.03),
}


@pytest.fixture
def counted(monkeypatch):
    made = []

    def counting(*given):
        made.append(given)
        return track_curve(*given)

    def counting_together(asked, most_points):
        made.extend((track, coil, 0.0, relative) for track, coil, relative in asked)
        return quick_curves(asked, most_points)

    monkeypatch.setattr(curve_book, "track_curve", counting)
    monkeypatch.setattr(curve_book, "quick_curves", counting_together)
    return made


def coil_in_rotor(centre, axis, side):
    axis = unit(axis)
    frame = frame_matrix(perpendicular_part(side, axis), axis)
    return CoilInRotor(np.array(centre), frame, (0.006, 0.009), 0.004, 0.003)


@pytest.mark.parametrize("north", ArmAxis)
@pytest.mark.parametrize("shape", SHAPES, ids=["block", "disc", "ball"])
@pytest.mark.parametrize("direction", DIRECTIONS.values(), ids=DIRECTIONS)
@pytest.mark.parametrize("centre", CENTRES.values(), ids=CENTRES)
def test_a_curve_of_its_like_is_its_own(centre, direction, shape, north):
    track, coil = Track(shape, 0.022, 0.002, north), coil_in_rotor(centre, *direction)
    own, of_its_like = track_curve(track, coil, 0.0, 1e-3), CurveBook().curve(track, coil, 1e-3)
    orders = min(len(own.harmonics_m2), len(of_its_like.harmonics_m2))
    apart = own.harmonics_m2[:orders] - of_its_like.harmonics_m2[:orders]
    # both are within what was asked for; where symmetry leaves nothing, of the magnet's own flux
    own_m2 = 1e-7 * shape.volume_m3 ** (2 / 3)
    assert 2 * np.abs(apart).sum() < 4e-3 * max(own.swing_m2, own_m2)


def test_sixteen_coils_round_a_shaft_share_one_curve(counted):
    magnet = fs.Magnet("bar", fs.Cuboid((0.02, 0.01, 0.005)), 1.2)
    rotor = fs.Rotor(
        "rotor",
        fs.Shaft((0, 0, 0), (0, 0, 1)),
        (1, 0, 0),
        (fs.Mount("bar", 0.03, 0.012, fs.North.PLUS_SHAFT),),
    )
    coils = []
    for i in range(16):
        a = 2 * math.pi * i / 16
        out = (math.cos(a), math.sin(a), 0.0)
        centre = (0.03 * out[0], 0.03 * out[1], 0.0)
        coils.append(fs.Coil(f"c{i}", centre, (0, 0, 1), out, (0.006, 0.004), 0.01, 0.002, 100))
    table = flux_table(fs.Machine("ring", (magnet,), (rotor,), tuple(coils)), tolerance=1e-4)
    assert len(counted) == 1
    steps = table.angles // 8
    assert table.angles % 16 == 8  # so that only every other coil stands on a listed angle
    for i in range(8):
        turned = np.roll(table.linkage_Wb[0, 0], i * steps)
        assert table.linkage_Wb[2 * i, 0] == pytest.approx(turned, rel=1e-9, abs=1e-15)


def test_facing_rotors_and_what_is_not_magnetic_cost_nothing_more(counted):
    machine = fs.read("geometries/lamp_ring.yaml")
    book = CurveBook()
    first = flux_table(machine, tolerance=1e-4, book=book)
    assert len(counted) == 1  # two rotors face each other
    stronger = flux_table(
        machine.changed({"magnets.bar.remanence": "1.32 T"}), tolerance=1e-4, book=book
    )
    assert stronger.linkage_Wb == pytest.approx(1.1 * first.linkage_Wb, rel=1e-9, abs=1e-15)
    geared = machine.changed({"rotors.lower.gear_ratio": "-8", "load.lamps.parallel": 2})
    assert flux_table(geared, tolerance=1e-4, book=book) == first
    assert len(counted) == 1
    flux_table(machine.changed({"clearance": "3 mm"}), tolerance=1e-4, book=book)
    assert len(counted) == 2


def test_a_tighter_tolerance_is_computed_and_serves_the_looser(counted):
    track = Track(SHAPES[0], 0.022, 0.0, ArmAxis.SHAFT)
    coil = coil_in_rotor((0.022, 0, 0.01), (0, 0, 1), (1, 0, 0))
    book = CurveBook()
    rough, fine = book.curve(track, coil, 1e-3), book.curve(track, coil, 1e-6)
    assert fine.error_m2 < 1e-5 * fine.swing_m2 < rough.error_m2 * 10
    assert book.curve(track, coil, 1e-3).error_m2 == fine.error_m2
    assert [relative for *_, relative in counted] == [1e-3, 1e-6]


def test_what_stands_otherwise_is_not_its_like():
    track = Track(SHAPES[0], 0.022, 0.0, ArmAxis.SHAFT)
    coil = coil_in_rotor((0.022, 0.001, 0.01), (0, 0, 1), (1, 0, 0))
    others = [
        (track, replace(coil, build=0.0041)),
        (track, replace(coil, half_length=0.0031)),
        (track, replace(coil, half_opening=(0.009, 0.006))),
        (track, replace(coil, centre=coil.centre + np.array([0, 0, 1e-9]))),
        (track, coil_in_rotor((0.022, 0.001, 0.01), (0, 0, 1), (1, 0.1, 0))),
        (replace(track, radius=0.0221), coil),
        (replace(track, north=ArmAxis.ARM), coil),
        (replace(track, shape=SHAPES[2]), coil),
    ]
    keys = [standing(*each).key for each in [(track, coil), *others]]
    assert len(set(keys)) == len(keys)


def test_what_was_learnt_together_is_not_made_again(counted):
    track = Track(SHAPES[0], 0.022, 0.0, ArmAxis.SHAFT)
    coils = [coil_in_rotor((0.022, 0, z), (0, 0, 1), (1, 0, 0)) for z in (0.01, 0.012, -0.01)]
    book = CurveBook()
    book.learn([(track, coils[0], 1e-4), (track, coils[1], 1e-5), (track, coils[2], 1e-3)])
    # the third is the first, mirrored
    assert [relative for *_, relative in counted] == [1e-4, 1e-5]
    curves = [book.curve(track, coil, 1e-4) for coil in coils]
    assert len(counted) == 2
    assert curves[0].swing_m2 == curves[2].swing_m2 != curves[1].swing_m2
    book.learn([(track, coils[0], 1e-4), (track, coils[1], 1e-3)])
    assert len(counted) == 2
    book.learn([])
    assert len(counted) == 2


def test_what_takes_long_or_leans_is_left_to_be_made_alone(counted):
    track = Track(SHAPES[0], 0.022, 0.0, ArmAxis.SHAFT)
    square = coil_in_rotor((0.022, 0, 0.01), (0, 0, 1), (1, 0, 0))
    leaning = coil_in_rotor((0.022, 0, 0.01), (0.2, 0.1, 1), (1, 0, 0))
    near = coil_in_rotor((0.022, 0, 0.00551), (0, 0, 1), (1, 0, 0))
    book = CurveBook()
    book.learn([(track, square, 1e-4), (track, leaning, 1e-4), (track, near, 1e-9)])
    assert len(book.curves) == 1
    for coil, relative in ((square, 1e-4), (leaning, 1e-4), (near, 1e-9)):
        assert book.curve(track, coil, relative).swing_m2 > 0
    assert len(book.curves) == 3
    assert len(counted) == 3 + 2
