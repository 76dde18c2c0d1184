"""What the wire of each coil comes to."""

from __future__ import annotations

from pathlib import Path

import pytest

from fieldsim.errors import ImpossibleError
from fieldsim.machine_file.reader import read
from fieldsim.studies.wind import wound_coils

GEOMETRIES = Path(__file__).parents[2] / "geometries"


def test_a_used_spool_is_wound_off():
    left, right = wound_coils(read(GEOMETRIES / "two_coils.yaml"))
    assert (left.name, right.name) == ("left", "right")
    winding = left.winding
    # 35 g of a 100 g spool, all but less than one turn
    assert winding.mass_kg + winding.leftover_kg == pytest.approx(0.035, rel=1e-9)
    assert 0 <= winding.leftover_m < 0.15
    # AWG 32: 164 ohm per 1000 ft (common practice, no published source) to its three digits
    assert left.resistance_ohm / winding.wire_length_m == pytest.approx(164 / 304.8, rel=5e-3)
    # 3 A/mm2 through 0.2019 mm of copper
    assert left.recommended_current_A == pytest.approx(0.0960, rel=1e-3)


def test_coils_without_wire_are_left_out(tmp_path):
    text = (GEOMETRIES / "lamp_ring.yaml").read_text(encoding="utf-8")
    spare = """  spare: {centre: [60 mm, 0 mm, 0 mm], axis: [0, 0, 1], side: [1, 0, 0],
    opening: [14 mm, 20 mm], length: 10 mm, build: 7 mm, turns: 100}
load:
"""
    path = tmp_path / "g.yaml"
    path.write_text(text.replace("load:\n", spare), encoding="utf-8")
    assert [c.name for c in wound_coils(read(path))] == ["pickup"]


def test_no_wire_at_all_is_refused():
    with pytest.raises(ImpossibleError, match="no coil has wire"):
        wound_coils(read(GEOMETRIES / "one_rotor.yaml"))
