"""The answers that a report begins with, for machines whose trouble is known."""

from __future__ import annotations

import json

import pytest
from machines import GEOMETRIES

from fieldsim.cli import main

RING = (GEOMETRIES / "lamp_ring.yaml").read_text(encoding="utf-8")
LOWER = "height: -9.5 mm, north: +shaft"


@pytest.fixture
def answers(tmp_path, capsys):
    """Return a function from a change of the lamp ring to its answers by question."""

    def run(old, new):
        assert RING.count(old) == 1
        (tmp_path / "g.yaml").write_text(RING.replace(old, new), encoding="utf-8")
        arguments = [str(tmp_path / "g.yaml"), "--crank-speed", "90 rpm", "--json"]
        assert main(["report", *arguments, "--out", str(tmp_path / "out")]) == 0
        (design,) = json.loads(capsys.readouterr().out)["designs"]
        assert design["open_rms_V"] is not None
        return {a["question"]: (a["answer"], a["reason"]) for a in design["answers"]}

    return run


def test_rotors_that_cancel_are_told_to_turn_one_round(answers):
    found = answers(LOWER, LOWER.replace("+", "-"))
    assert list(found) == ["Does it light?", "How hard must I crank?", "What helps most?"]
    assert found["Does it light?"][0].startswith("No")
    answer, reason = found["What helps most?"]
    assert answer == "Turn one part round."
    assert reason == ('All magnets of rotor "lower" turned over: pickup then gives 6.93 V RMS.')


def test_one_lamp_where_six_were_is_told_that_it_gets_too_much(answers):
    found = answers("parallel: 6", "parallel: 1")
    assert found["Does it light?"][0].startswith("Yes, but above what the lamps are rated for.")
    assert found["What helps most?"][0] == "Nothing more is needed."
    assert "more lamps side by side" in found["What helps most?"][1]
