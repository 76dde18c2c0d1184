"""Iron as it is drawn: where it stands, closed all around, and what a picture shows of it."""

import numpy as np
import pytest
from machines import IRON
from scipy.spatial import ConvexHull

import fieldsim as fs
from fieldsim.drawing.iron_solids import core_solids, iron_solids, loose_iron_solids
from fieldsim.drawing.solids import Material
from fieldsim.machine_file.reader import read_text

TUBE = {"shape": "tube", "outer": "12 mm", "inner": "6 mm", "length": "12 mm"}
VOLUMES = {
    "plate": np.pi / 4 * 80**2 * 3,
    "ball": np.pi / 6 * 12**3,
    "frame": 60 * 5 * 30,
    "": np.pi / 4 * (12**2 - 6**2) * 12,
}


@pytest.fixture(scope="module")
def machine():
    return read_text(IRON).changed({"coils.pickup.core": TUBE})


def test_solids_fill_the_pieces(machine):
    """Facets lose some per cent of what is round."""
    found = dict.fromkeys(VOLUMES, 0.0)
    for solid in iron_solids(machine):
        assert solid.material is Material.IRON
        found[solid.part] += ConvexHull(1e3 * solid.corners).volume
    for name, volume in VOLUMES.items():
        assert found[name] == pytest.approx(volume, rel=0.06 if name != "frame" else 1e-9)


def test_cores_are_apart_from_the_rest(machine):
    assert {s.part for s in loose_iron_solids(machine)} == {"plate", "ball", "frame"}
    assert len(core_solids(machine, "pickup")) == 20


def test_seams_between_pieces_of_one_part_are_not_drawn(machine):
    for solid in core_solids(machine, "pickup"):
        assert [face.shown for face in solid.faces].count(False) == 2


def test_picture_names_iron_and_says_what_it_is(machine):
    figure = fs.draw_machine(machine)
    words = " ".join(text.get_text() for text in figure.findobj(lambda a: hasattr(a, "get_text")))
    for each in ("plate", "ball", "frame", "iron"):
        assert each in words
    assert "Core of coil pickup: tube, 12 mm outside, 6 mm inside, length 12 mm" in words
    assert "Iron frame: block, 60 × 5 × 30 mm, mild steel" in words
    assert "turns with upper" in words


def test_no_iron_in_the_legend_where_there_is_none(machine):
    figure = fs.draw_machine(machine.changed({"iron": None, "coils.pickup.core": None}))
    (legend,) = figure.legends
    assert "iron" not in [text.get_text() for text in legend.get_texts()]
