"""Machines with solid iron: what is asked at each speed anew."""

from __future__ import annotations

import json

import pytest
from machines import shipped

from fieldsim.cautions import Doubt
from fieldsim.cli import main
from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.studies.lamp_start import lamp_start

SLOW_RPM = 1.0


@pytest.fixture(scope="module")
def dark():
    """Return a machine whose lamps stay dark."""
    return OperatingPoint(shipped("bolt_beside_magnets"), f"{SLOW_RPM} rpm")


def test_lamps_light_from_the_speed_that_is_told(dark):
    (lamp,) = dark.lamp_speeds
    ratio = lamp.lowest_speed_rad_per_s / dark.speed.base_rad_per_s
    for factor, lights in ((0.99, False), (1.01, True)):
        assert dark.changed({}, factor * ratio).circuit_result.lamps[0].lights is lights


def test_a_start_takes_iron_as_at_rest_and_says_so(dark):
    point = dark.changed({}, 300 / SLOW_RPM)
    start = lamp_start(point, 0.3, 0.1)
    assert Doubt.STILL_IRON in {note.kind for note in start.notes}
    ferrite = point.changed({"coils.pickup.core.material": "ferrite rod"})
    assert Doubt.STILL_IRON not in {n.kind for n in lamp_start(ferrite, 0.3, 0.1).notes}
    assert point.resting_emf.waveform.emf_V.max() > 1.01 * point.machine_emf.waveform.emf_V.max()


def test_samples_asked_for_are_of_the_same_emf(tmp_path, capsys):
    path = tmp_path / "emf.csv"
    asked = ["emf", "geometries/bolt_beside_magnets.yaml", "--crank-speed", "500 rpm", "--samples",
             "2000", "--out", str(path), "--json", "--exact"]  # fmt: skip
    assert main(asked) == 0
    peak = json.loads(capsys.readouterr().out)["coils"]["pickup"]["peak_V"]
    listed = max(abs(float(line.split(",")[1])) for line in path.read_text().splitlines()[1:])
    assert listed == pytest.approx(peak, rel=1e-3)
