"""A design's study: every part where there is one, and the reason where there is none."""

from pathlib import Path

import pytest

from fieldsim.errors import ImpossibleError
from fieldsim.machine_file.reader import read
from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.studies.design_study import study_design

GEOMETRIES = Path(__file__).parents[2] / "geometries"


def point(file, tolerance=1e-4):
    return OperatingPoint(read(file), "120 rpm", tolerance=tolerance)


def test_inside_a_coil_there_is_no_gap_to_study_and_without_a_load_no_light():
    shares = []
    study = study_design(point(GEOMETRIES / "bar_inside_coil.yaml"), progress=shares.append)
    assert study.gap is None
    assert "its gap is set by the coil's opening" in study.notes["gap"]
    assert study.light is None
    assert "add wire to the coil and a load section" in study.notes["light"]
    assert study.effort is not None
    assert set(study.notes) == {"gap", "gauges", "light"}
    assert study.gauges is None
    assert study.notes["gauges"].startswith("no coil has wire")
    assert shares == sorted(shares)
    assert shares[-1] == 1.0


def test_linkages_that_cancel_light_nothing(tmp_path):
    text = (GEOMETRIES / "lamp_ring.yaml").read_text(encoding="utf-8")
    place = text.index("  lower:")
    # Facing poles that repel: what one rotor gives the other takes away.
    opposed = text[:place] + text[place:].replace("north: +shaft", "north: -shaft", 1)
    file = tmp_path / "opposed.yaml"
    file.write_text(opposed, encoding="utf-8")
    study = study_design(point(file))
    assert study.light is None
    assert 'the linkages cancel in "pickup"' in study.notes["light"]
    best, other, *rest = study.sensitivity.helpful()
    assert best.words == 'all magnets of rotor "lower" turned over'
    # four poles: a quarter turn is as good
    assert other.words == 'rotor "lower" turned 90 deg back on its shaft (start: -90 deg)'
    assert best.lit == other.lit == 6
    assert rest == []
    assert 'the linkages cancel in "pickup"' in study.notes["gauges"]


def test_colliding_parts_are_refused(tmp_path):
    text = (GEOMETRIES / "one_rotor.yaml").read_text(encoding="utf-8")
    file = tmp_path / "tight.yaml"
    file.write_text(text.replace("height: 11.5 mm", "height: 8 mm"), encoding="utf-8")
    with pytest.raises(ImpossibleError, match="runs into"):
        study_design(point(file))
