"""A report as JSON: the first screen's words and numbers, and nothing that JSON cannot hold."""

import json
import math
from pathlib import Path
from types import SimpleNamespace

import pytest

from fieldsim.report.report import FailedDesign, Report
from fieldsim.report.report_json import report_json
from fieldsim.words.first_screen import Answer


def chapter(**facts):
    known = {
        "lamp_current_average_A": 0.01,
        "hand_power_W": 2.0,
        "crank_peak_torque_Nm": 0.3,
    } | facts
    answer = Answer(question="Does it light?", answer="Yes.", reason="It does.")
    return SimpleNamespace(
        number=1,
        title="A machine",
        file="a.yaml",
        answers=(answer,),
        facts=SimpleNamespace(**known),
        voltages=(3.0, 2.0, 1.5),
    )


def test_words_and_numbers():
    failed = FailedDesign(2, "b.yaml", "b.yaml:1: the file is empty")
    assert report_json(Report((chapter(),), (failed,), 12.5), Path("out/index.html")) == {
        "page": "out/index.html",
        "crank_speed_rad_per_s": 12.5,
        "designs": [
            {
                "number": 1,
                "title": "A machine",
                "file": "a.yaml",
                "answers": [{"question": "Does it light?", "answer": "Yes.", "reason": "It does."}],
                "open_peak_V": 3.0,
                "open_rms_V": 2.0,
                "open_rectified_mean_V": 1.5,
                "lamp_current_average_A": 0.01,
                "hand_power_W": 2.0,
                "crank_peak_torque_Nm": 0.3,
            }
        ],
        "failed": [{"number": 2, "file": "b.yaml", "problem": "b.yaml:1: the file is empty"}],
    }


@pytest.mark.parametrize("name", ["lamp_current_average_A", "hand_power_W", "crank_peak_torque_Nm"])
def test_what_is_not_known_is_null(name):
    found = report_json(Report((chapter(**{name: math.nan}),), (), 1.0), Path("index.html"))
    (design,) = json.loads(json.dumps(found, allow_nan=False))["designs"]
    assert list(design.values()).count(None) == 1
