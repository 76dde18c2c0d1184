"""Points in the company of others: in order, with curves made together, and what each is alone."""

import numpy as np
import pytest
from machines import shipped

import fieldsim as fs
from fieldsim.errors import ImpossibleError
from fieldsim.field.linkage import curve_book
from fieldsim.operation import company
from fieldsim.operation.company import in_company

TOLERANCE = 1e-4


@pytest.fixture
def calls(monkeypatch):
    """How many curves were made in each call."""
    made = []
    whole = curve_book.quick_curves

    def counting(asked, most_points):
        found = whole(asked, most_points)
        made.append(sum(curve is not None for curve in found))
        return found

    monkeypatch.setattr(curve_book, "quick_curves", counting)
    return made


def rows(name, changes):
    point = fs.OperatingPoint(shipped(name), "90 rpm", tolerance=TOLERANCE)
    return [point.changed(each) for each in changes]


GAPS = [{"clearance": gap} for gap in np.linspace(0.001, 0.012, 7).tolist()]


@pytest.mark.parametrize("name", ["two_facing_rotors", "three_rotors", "bar_inside_coil"])
def test_each_is_what_it_is_alone(name, calls):
    points = rows(name, GAPS)
    found = [(point, point.figures) for point in in_company(points)]
    assert calls[0] == max(calls) >= len(GAPS)
    for point, figures in found:
        alone = fs.OperatingPoint(point.machine, "90 rpm", tolerance=TOLERANCE)
        for coil, mine in alone.figures.items():
            error = point.waveform.relative_error + alone.waveform.relative_error
            swing = mine.peak_to_peak_linkage_Wb
            assert figures[coil].peak_to_peak_linkage_Wb == pytest.approx(swing, rel=2 * error)
            assert figures[coil].rms_V == pytest.approx(mine.rms_V, rel=20 * error)
    assert [point for point, _ in found] == points


def test_so_many_at_a_time(calls, monkeypatch):
    monkeypatch.setattr(company, "TOGETHER", 3)
    for point in in_company(rows("one_rotor", GAPS)):
        assert point.figures["pickup"].rms_V > 0
    assert [made for made in calls if made] == [3, 3, 1]


def test_one_that_is_too_large_is_refused_when_it_is_asked_and_not_before(monkeypatch):
    points = rows("one_rotor", GAPS[:2])
    too_large = points[1].machine

    def refuse(machine, _):
        if machine is too_large:
            raise ImpossibleError("too large")

    monkeypatch.setattr("fieldsim.waveform.flux_table.refuse_large", refuse)
    first, second = in_company(points)
    assert first.figures["pickup"].rms_V > 0
    with pytest.raises(ImpossibleError, match="too large"):
        _ = second.figures


def test_nobody():
    assert list(in_company([])) == []
