"""Joined coils beside the coils, in every study and in its tables."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from machines import shipped

from fieldsim.machine.connections import Connection
from fieldsim.machine.load.load import Load
from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.studies.compare import compare
from fieldsim.studies.gap import gap_study
from fieldsim.studies.vary import vary
from fieldsim.tables.json_documents import comparison_json, emf_json, gap_json, vary_json
from fieldsim.tables.result_datasets import (
    comparison_dataset,
    emf_dataset,
    gap_dataset,
    vary_dataset,
)
from fieldsim.waveform.figures import emf_figures
from fieldsim.words.emf_text import comparison_text, emf_text, gap_text
from fieldsim.words.vary_text import vary_text

TWO = replace(shipped("two_coils"), load=Load())
BARE = tuple(replace(c, wire=type(c.wire)(), turns=900, build=0.006) for c in TWO.coils)
UNKNOWN = replace(TWO, coils=BARE, connections=(Connection("pair", parallel=["left", "right"]),))


def at(machine):
    return OperatingPoint(machine, "90 rpm", tolerance=1e-4)


POINT, UNKNOWN_POINT = at(TWO), at(UNKNOWN)
GAPS = (1e-3, 2e-3, 3e-3)


def columns(dataset):
    names, values = dataset.columns()
    return dict(zip(names, values, strict=True))


def test_emf_has_the_same_attributes_for_both():
    found = emf_json(POINT)
    assert found["connections"]["pair"].keys() == found["coils"]["left"].keys()
    left, pair = found["coils"]["left"], found["connections"]["pair"]
    assert pair["rms_V"] == pytest.approx(2 * left["rms_V"], rel=1e-4)
    assert emf_json(UNKNOWN_POINT)["connections"] == {"pair": None}
    assert emf_json(at(shipped("one_rotor")))["connections"] == {}


def test_emf_tables_have_further_columns():
    found = columns(emf_dataset(POINT.waveform, POINT.connection_waveform))
    assert list(found) == ["time_s", "emf_V[left]", "emf_V[right]", "connection_emf_V[pair]"]
    total = np.add(found["emf_V[left]"], found["emf_V[right]"])
    assert np.allclose(found["connection_emf_V[pair]"], total)
    plain = columns(emf_dataset(UNKNOWN_POINT.waveform, UNKNOWN_POINT.connection_waveform))
    assert list(plain) == ["time_s", "emf_V[left]", "emf_V[right]"]


def test_compare_measures_connections_by_name_or_by_the_only_coil():
    one = at(shipped("one_rotor"))
    comparison = compare([one, POINT, UNKNOWN_POINT])
    pair = POINT.connection_figures["pair"].rms_V
    assert comparison.ratio_to_first(comparison.designs[1], "pair", "rms_V") == pytest.approx(
        pair / one.figures["pickup"].rms_V
    )
    assert comparison.ratio_to_first(comparison.designs[2], "pair", "rms_V") is None
    again = compare([POINT, at(TWO.changed({"magnets.bar.remanence": 1.0}))])
    assert again.ratio_to_first(again.designs[1], "pair", "rms_V") == pytest.approx(0.8)
    found = comparison_json(comparison)["designs"]
    assert [d["connection_rms_ratio_to_first"] for d in found[::2]] == [{}, {"pair": None}]
    shown = columns(comparison_dataset(comparison))["connection_rms_V[pair]"]
    assert np.isnan(shown[0])
    assert shown[1] == pair
    text = comparison_text(comparison, POINT.speed, width=140)
    rows = [line.split() for line in text.splitlines() if " pair " in line]
    assert rows[1][-7:] == ["-"] * 7
    assert f"{pair:.3f}" in rows[0]
    assert "pair: coils in parallel share by their resistances" in text


def test_gap_follows_connections():
    study = gap_study(POINT, GAPS)
    for row in study.rows:
        assert row.connections["pair"].rms_V == pytest.approx(2 * row.figures["left"].rms_V, 1e-4)
        assert row.percent_per_tenth_mm["pair"] == pytest.approx(
            row.percent_per_tenth_mm["left"], rel=1e-3
        )
    assert study.fits["pair"].decay_length_m == pytest.approx(
        study.fits["left"].decay_length_m, rel=1e-3
    )
    found = gap_json(study)
    slope = "rms_change_percent_per_0.1_mm"
    assert set(found["fits"]) == set(found["rows"][0][slope]) == {"left", "right"}
    assert set(found["connection_fits"]) == {"pair"}
    assert set(found["rows"][0][f"connection_{slope}"]) == {"pair"}
    assert "connection_rms_V[pair]" in columns(gap_dataset(study))
    lines = gap_text(study, TWO, POINT.speed).splitlines()
    assert [line.split()[1] for line in lines[4:7]] == ["left", "right", "pair"]


def test_gap_without_wire_shows_dashes():
    study = gap_study(UNKNOWN_POINT, GAPS[:1])
    found = gap_json(study)
    assert found["rows"][0]["connections"] == {"pair": None}
    assert found["connection_fits"] == {}
    row = next(r for r in gap_text(study, TWO, POINT.speed).splitlines() if " pair " in r)
    assert row.split()[2:] == ["-"] * 4


def test_vary_shows_connections():
    study = vary(POINT, {"clearance": ["1 mm", "2 mm"]})
    found = vary_json(study)["rows"]
    assert [row["connections"]["pair"]["rms_V"] for row in found] == [
        row.connections["pair"].rms_V for row in study.rows
    ]
    names = list(columns(vary_dataset(study)))
    assert names[-5:] == [
        f"connection_{figure}[pair]"
        for figure in
        ("peak_V", "rms_V", "rectified_mean_V", "frequency_Hz", "peak_to_peak_linkage_Wb")
    ]  # fmt: skip
    text = vary_text(study, POINT.speed, 120)
    assert "pair V RMS, open" in text
    assert f"{study.rows[0].connections['pair'].rms_V:.2f}" in text


def test_screens_name_how_coils_are_joined():
    text = emf_text(POINT)
    rows = {line.split()[0]: line.split()[1:] for line in text.splitlines() if line[:4] == "pair"}
    figures = emf_figures(POINT.connection_waveform)["pair"]
    assert f"{figures.peak_V:.2f}" in text
    assert rows
    assert "pair is left and right in series." in text
    assert "pair   " in emf_text(UNKNOWN_POINT)


def test_what_opposed_coils_leave_is_nothing_beside_them():
    opposed = replace(TWO, connections=(Connection("pair", series=["left", "-right"]),))
    row = next(r for r in emf_text(at(opposed)).splitlines() if r.startswith("pair"))
    assert row.split() == ["pair", "0", "0", "0", "-", "-", "0"]
