"""A wish where a geometry is asked for, and the other way round."""

from __future__ import annotations

import pytest
from machines import GEOMETRIES

import fieldsim as fs
from fieldsim.errors import FileTroubleError
from fieldsim.machine_file.reader import read_text

RING, WISH = GEOMETRIES / "lamp_ring.yaml", GEOMETRIES / "wishes" / "six_lamps.yaml"


def test_a_geometry_is_no_wish():
    with pytest.raises(FileTroubleError) as caught:
        fs.read_wish(RING)
    (line,) = caught.value.lines
    assert line.startswith(f"{RING}: this is a geometry, not a wish; a wish names one")


def test_a_wish_is_no_geometry():
    with pytest.raises(FileTroubleError) as caught:
        fs.read(WISH)
    (line,) = caught.value.lines
    assert line.startswith(f"{WISH}: this is a wish, not a geometry; fieldsim search")


def test_a_wish_is_no_machine_of_another_wish(tmp_path):
    path = tmp_path / "a.yaml"
    path.write_text(f"machine: {WISH}\nmay_vary: {{}}\nwant: light\n", encoding="utf-8")
    with pytest.raises(fs.GeometryError, match=r"a.yaml:1: machine: .*is a wish, not a geometry"):
        fs.read_wish(path)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("machine: a\nmagnets: {}\n", "machine"),  # keys of both: told by its keys
        ("tries: 3\n", "tries"),  # keys of neither that count
    ],
)
def test_what_could_be_either_is_told_by_its_keys(text, said):
    with pytest.raises(fs.GeometryError, match=f"{said}: .*unknown"):
        read_text(text)
