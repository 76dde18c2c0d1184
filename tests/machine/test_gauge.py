"""Wire sizes as stated, and the lists and ranges of them."""

import pytest

from fieldsim.errors import ImpossibleError
from fieldsim.machine.gauge import gauge_from, gauges_of


def listed(text, own=None):
    return [str(gauge) for gauge in gauges_of(text, gauge_from(own) if own else None)]


@pytest.mark.parametrize(
    ("text", "own", "sizes"),
    [
        ("30..32", None, ["AWG 30", "AWG 31", "AWG 32"]),
        ("AWG 30 .. 31, 28", None, ["AWG 30", "AWG 31", "AWG 28"]),
        ("30, 30..31", "AWG 32", ["AWG 30", "AWG 31"]),
        ("30..32", "SWG 33", ["SWG 30", "SWG 31", "SWG 32"]),
        ("30, AWG 30", "SWG 33", ["SWG 30", "AWG 30"]),
        ("swg 40..41", "0.2 mm", ["SWG 40", "SWG 41"]),
        ("AWG 30..31", "0.2 mm", ["AWG 30", "AWG 31"]),
        ("30", "0.2 mm", ["AWG 30"]),
        # in a file in mm a range of numbers alone is of metric wires, and holds the file's own
        ("30..33", "0.2 mm", ["0.25 mm", "0.224 mm", "0.2 mm", "0.18 mm"]),
        ("30..32", "0.3 mm", ["0.3 mm", "0.25 mm", "0.224 mm"]),
        ("0.2 mm..0.25 mm", "0.21 mm", ["0.2 mm", "0.21 mm", "0.224 mm", "0.25 mm"]),
        ("0.2..0.25 mm", "AWG 32", ["0.2 mm", "0.224 mm", "0.25 mm"]),
        ("0.21 mm, 0.3 mm", None, ["0.21 mm", "0.3 mm"]),
    ],
)
def test_lists_and_ranges(text, own, sizes):
    assert listed(text, own) == sizes


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("24-30", '"24-30" is not a gauge; write 24..30'),
        ("0.1 mm - 0.2 mm", "write 0.1 mm..0.2 mm"),
        ("0.2", 'write gauges like 24..40, "28, 30" or "0.2 mm"'),
        ("", '"" is not a gauge'),
        ("32..30", "32..30 runs backwards; write 30..32"),
        ("0.3 mm..0.2 mm", "runs backwards; write 0.2 mm..0.3 mm"),
        ("AWG 24..SWG 30", "mixes gauges"),
        ("AWG 24..0.2 mm", "mixes gauges"),
        ("0.3 mm..0.31 mm", "no preferred wire gauge between 0.3 mm and 0.31 mm; list the sizes"),
        ("44..47", "AWG 47 is out of range"),
        ("10..60", "51 gauges; at most 40 are allowed"),
        ("SWG 49", "SWG 49 is out of range"),
        ("3 mm", "allowed: 0.039 mm to 2.6 mm"),
        ("0.1 mm..3 mm", "allowed: 0.039 mm to 2.6 mm"),
    ],
)
def test_what_is_refused(text, problem):
    with pytest.raises(ImpossibleError) as caught:
        gauges_of(text)
    assert problem in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_size_is_written_as_it_is_read():
    for text in ("AWG 32", "SWG 36", "0.22 mm"):
        assert str(gauge_from(text)) == text
    assert gauge_from(32) == gauge_from("AWG 32")
    assert (gauge_from("SWG 36").series, gauge_from("SWG 36").number) == ("SWG", 36)
    assert (gauge_from("0.22 mm").series, gauge_from("0.22 mm").number) == ("", None)
