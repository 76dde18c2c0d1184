"""A report's tables: what is shown and what the files hold are the same numbers."""

import math
from html.parser import HTMLParser

import numpy as np

from fieldsim.report.tables import ReportTable, lever_table
from fieldsim.studies.sensitivity import Effect, Kind, LeverEffect, Sensitivity
from fieldsim.tables.dataset import labelled_dataset, save_dataset
from fieldsim.words.numbers import change, number


def sample():
    data = labelled_dataset("coil", ("a", "b"), {"rms_V": np.array([1.0, 2.0])}, "t")
    return ReportTable("d1_emf", "EMF", ["coil", "RMS, V"], [["a", "1"], ["b", "2"]], data)


def tags(markup):
    found = []

    class Reader(HTMLParser):
        def handle_starttag(self, tag, attrs):
            found.append((tag, dict(attrs)))

    Reader().feed(markup)
    return found


def test_every_row_and_column_has_a_header():
    found = tags(sample().markup())
    scopes = [attributes.get("scope") for tag, attributes in found if tag == "th"]
    assert scopes == ["col", "col", "row", "row"]
    assert ("caption", {}) in found
    links = [attributes["href"] for tag, attributes in found if tag == "a"]
    assert links == list(sample().files()) == ["d1_emf.csv", "d1_emf.h5"]


def test_further_files_are_linked_too():
    table = ReportTable("t", "c", ["a"], [["x"]], sample().dataset,
                        {"curve": ("the curve", sample().dataset)})  # fmt: skip
    links = [attributes["href"] for tag, attributes in tags(table.markup()) if tag == "a"]
    assert sorted(links) == sorted(table.files())
    assert len(links) == 4


def test_turned():
    turned = sample().turned()
    assert turned.header == ["coil", "a", "b"]
    assert turned.rows == [["RMS, V", "1", "2"]]
    assert turned.turned().rows == [["a", "1"], ["b", "2"]]
    assert list(turned.files()) == list(sample().files())


def test_cells_are_text():
    table = ReportTable("t", "<i>", ["<b>"], [["<script>alert(1)</script>"]], sample().dataset)
    assert not {"i", "b", "script"} & {tag for tag, _ in tags(table.markup())}


def test_levers_side_by_side(tmp_path):
    closer = Effect("closer", 1.2, voltage_gain=0.2)
    further = Effect("further", 0.8, voltage_gain=-0.2)
    nan = math.nan
    blocked = Effect("wider", problem="a runs into b")
    levers = (LeverEffect("gap", further, closer), LeverEffect("width", blocked, further))
    table = lever_table(Sensitivity("coil", 1.0, nan, nan, Kind.VOLTAGE, levers), "d", "title")
    assert table.header == ["step", "RMS", "RMS, other way"]
    assert table.rows == [
        ["closer", change(0.2), change(-0.2)],
        ["further", change(-0.2), change(nan)],
    ]
    save_dataset(table.dataset, tmp_path / "t.csv")
    lines = (tmp_path / "t.csv").read_text().splitlines()
    assert lines[0] == "step,rms_V,lamp_current_average_A,load_W,voltage_gain,light_gain,power_gain"
    assert lines[1] == "closer,1.2,,,0.2,,"
    assert len(lines) == 5


def test_light_has_columns_of_its_own():
    step = Effect("more", 1.1, 0.012, voltage_gain=0.1, light_gain=0.2)
    found = Sensitivity("coil", 1.0, 0.01, 0.1, Kind.LIGHT, (LeverEffect("x", step, step),))
    table = lever_table(found, "d", "t")
    assert table.header == ["step", "RMS", "light", "RMS, other way", "light, other way"]
    assert table.rows[0][1:3] == [change(0.1), change(0.2)]


def test_a_load_without_lamps_has_its_power():
    step = Effect("more", 1.1, load_W=0.2, voltage_gain=0.1, power_gain=0.3)
    found = Sensitivity("coil", 1.0, math.nan, 0.1, Kind.POWER, (LeverEffect("x", step, step),))
    assert found.gain(step) == 0.3
    table = lever_table(found, "d", "t")
    assert table.header == ["step", "RMS", "power", "RMS, other way", "power, other way"]
    assert table.rows[0][1:3] == [change(0.1), change(0.3)]


def test_numbers_are_typeset():
    rows = [["a", number(-1.0), number(math.nan), change(-0.2)]]
    table = ReportTable("t", "", ["x", "y", "z", "w"], rows, sample().dataset)
    for cell in (">−1.00</td>", ">–</td>", ">−20.0\N{NO-BREAK SPACE}%</td>"):
        assert cell in table.markup()


def test_a_step_that_harms_and_has_no_opposite_is_named_itself(tmp_path):
    taken_out = Effect("core taken out", rms_V=0.2, voltage_gain=-0.84)
    levers = (LeverEffect("core", taken_out, Effect("")),)
    found = Sensitivity("coil", 1.0, math.nan, math.nan, Kind.VOLTAGE, levers)
    table = lever_table(found, "d", "t")
    assert table.rows == [["core taken out", change(-0.84), change(math.nan)]]
    save_dataset(table.dataset, tmp_path / "t.csv")
    lines = (tmp_path / "t.csv").read_text().splitlines()
    assert [line.split(",")[0] for line in lines] == ["step", "core taken out"]
