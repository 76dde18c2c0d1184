"""What the page draws: where the parts stand, which of them turn."""

from pathlib import Path

import numpy as np
import pytest

from fieldsim.live.scene import scene
from fieldsim.machine_file.reader import read

GEOMETRIES = sorted((Path(__file__).parents[2] / "geometries").glob("*.yaml"))


def lamp_ring():
    return read(next(f for f in GEOMETRIES if f.stem == "lamp_ring"))


def test_a_magnet_stands_where_its_arm_holds_it():
    drawn = scene(lamp_ring())
    halves = [s for s in drawn["solids"] if s["part"] == "upper"][:2]  # the first magnet
    corners = np.array([c for half in halves for face in half["faces"] for c in face])
    # radius 26 mm along y, height 9.5 mm; 20 mm along the arm, 10 across it, 5 along the shaft
    assert corners.min(axis=0) == pytest.approx([-5, 16, 7], abs=1e-3)
    assert corners.max(axis=0) == pytest.approx([5, 36, 12], abs=1e-3)
    north, south = (np.array(half["middle"]) for half in halves)
    assert north[2] > south[2]  # +shaft


def test_the_winding_stands_still_around_its_opening():
    drawn = scene(lamp_ring())
    sides = [s for s in drawn["solids"] if s["material"] == "winding"]
    assert {s["rotor"] for s in sides} == {None}
    corners = np.array([c for side in sides for face in side["faces"] for c in face])
    assert corners.min(axis=0) == pytest.approx([-14, 9, -5], abs=0.1)  # the build that is used
    assert corners.max(axis=0) == pytest.approx([14, 43, 5], abs=0.1)


@pytest.mark.parametrize("file", GEOMETRIES, ids=lambda f: f.stem)
def test_all_lies_in_the_ball_around_it(file):
    machine = read(file)
    drawn = scene(machine)
    corners = np.array([c for s in drawn["solids"] for face in s["faces"] for c in face[:3]])
    assert np.linalg.norm(corners - drawn["middle"], axis=1).max() <= drawn["reach"] + 2e-3
    assert [r["ratio"] for r in drawn["rotors"]] == [
        float(r.gear_ratio) for r in machine.placed_rotors
    ]
    turning = {s["rotor"] for s in drawn["solids"] if s["material"] in ("north", "south")}
    assert turning == set(range(len(machine.rotors)))


@pytest.mark.parametrize("file", GEOMETRIES, ids=lambda f: f.stem)
def test_pieces_of_a_face_cover_it(file):
    for solid in scene(read(file))["solids"]:
        for face in solid["faces"]:
            corners = np.array(face)
            edges = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
            assert edges.max() < 40
