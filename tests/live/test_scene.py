"""What the page draws: where the parts stand, which of them turn."""

from pathlib import Path

import numpy as np
import pytest

from fieldsim.drawing.solids import rotor_solids
from fieldsim.live.scene import scene
from fieldsim.machine_file.reader import read

GEOMETRIES = sorted((Path(__file__).parents[2] / "geometries").glob("*.yaml"))


def lamp_ring():
    return read(next(f for f in GEOMETRIES if f.stem == "lamp_ring"))


def corners(drawn, solid):
    """Return a solid's faces, (corners, 3) each [mm], while the crank stands at zero."""
    axes, centre = np.array(solid["axes"]), np.array(solid["centre"])
    return [np.array(f) @ axes.T + centre for f in drawn["shapes"][solid["shape"]]["faces"]]


def middle(drawn, solid):
    shape = drawn["shapes"][solid["shape"]]
    return np.array(solid["axes"]) @ shape["middle"] + solid["centre"]


def test_a_magnet_stands_where_its_arm_holds_it():
    drawn = scene(lamp_ring())
    halves = [s for s in drawn["solids"] if s["part"] == "upper"][:2]  # the first magnet
    points = np.concatenate([face for half in halves for face in corners(drawn, half)])
    # radius 26 mm along y, height 9.5 mm; 20 mm along the arm, 10 across it, 5 along the shaft
    assert points.min(axis=0) == pytest.approx([-5, 16, 7], abs=1e-3)
    assert points.max(axis=0) == pytest.approx([5, 36, 12], abs=1e-3)
    north, south = (middle(drawn, half) for half in halves)
    assert north[2] > south[2]  # +shaft


def test_the_winding_stands_still_around_its_opening():
    drawn = scene(lamp_ring())
    sides = [s for s in drawn["solids"] if s["material"] == "winding"]
    assert {s["rotor"] for s in sides} == {None}
    points = np.concatenate([face for side in sides for face in corners(drawn, side)])
    assert points.min(axis=0) == pytest.approx([-14, 9, -5], abs=0.1)  # the build that is used
    assert points.max(axis=0) == pytest.approx([14, 43, 5], abs=0.1)


@pytest.mark.parametrize("file", GEOMETRIES, ids=lambda f: f.stem)
def test_all_lies_in_the_ball_around_it(file):
    machine = read(file)
    drawn = scene(machine)
    points = np.concatenate([face for s in drawn["solids"] for face in corners(drawn, s)])
    assert np.linalg.norm(points - drawn["middle"], axis=1).max() <= drawn["reach"] + 2e-3
    assert [r["ratio"] for r in drawn["rotors"]] == [
        float(r.gear_ratio) for r in machine.placed_rotors
    ]
    turning = {s["rotor"] for s in drawn["solids"] if s["material"] in ("north", "south")}
    assert turning == set(range(len(machine.rotors)))


@pytest.mark.parametrize("file", GEOMETRIES, ids=lambda f: f.stem)
def test_pieces_of_a_face_cover_it(file):
    for shape in scene(read(file))["shapes"]:
        for face in map(np.array, shape["faces"]):
            edges = np.linalg.norm(np.roll(face, -1, axis=0) - face, axis=1)
            assert edges.max() < 40


def test_magnets_that_are_alike_share_their_shapes():
    drawn = scene(lamp_ring())
    turning = {s["shape"] for s in drawn["solids"] if s["rotor"] is not None}
    assert len(turning) == 2  # the upper half and the lower one, be they north or south
    assert len(drawn["shapes"]) == 2 + 4  # and the sides of the winding


def test_halves_stand_where_the_drawing_has_them():
    machine = lamp_ring()
    drawn = scene(machine)
    for solid, plain in zip(drawn["solids"], rotor_solids(machine), strict=False):
        assert solid["material"] == plain.material.value
        points = np.concatenate(corners(drawn, solid))
        assert points.min(axis=0) == pytest.approx(1e3 * plain.corners.min(axis=0), abs=2e-3)
        assert points.max(axis=0) == pytest.approx(1e3 * plain.corners.max(axis=0), abs=2e-3)
