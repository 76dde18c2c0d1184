import math
from pathlib import Path

import pytest

from fieldsim.errors import GeometryError
from fieldsim.studies.wish import read_wish

RING = Path("geometries/lamp_ring.yaml").resolve()
GOOD = {
    "machine": str(RING),
    "crank_speed": "[60 rpm, 90 rpm]",
    "may_vary": "{clearance: {from: 1 mm, to: 4 mm}, load.lamps.parallel: {from: 4, to: 8}}",
    "must": "{lamps_lit: true, clearance_at_least: 2 mm}",
    "want": "light",
    "tries": "16",
}


def written(folder, **changes):
    keys = {**GOOD, **changes}
    file = folder / "wish.yaml"
    text = "".join(f"{key}: {value}\n" for key, value in keys.items() if value is not None)
    file.write_text(text, encoding="utf-8")
    return file


def test_a_wish_is_read_with_its_units(tmp_path):
    wish = read_wish(written(tmp_path))
    clearance, lamps = wish.varying
    assert (clearance.low, clearance.high, clearance.count) == (0.001, 0.004, None)
    assert (lamps.low, lamps.high, lamps.count) == (4, 8, 5)
    assert wish.crank_speeds_rad_per_s == pytest.approx((2 * math.pi, 3 * math.pi))
    assert [(must.name, must.limit) for must in wish.musts] == [
        ("lamps_lit", 0.0),
        ("clearance_at_least", 0.002),
    ]
    assert (wish.wants, wish.seed, wish.tries) == (("light",), 1, 16)
    assert wish.machine.title == "Two facing rotors light a ring of lamps"


def test_the_same_file_is_the_same_wish(tmp_path):
    file = written(tmp_path)
    assert read_wish(file) == read_wish(file)
    assert read_wish(file) != read_wish(written(tmp_path, tries="17"))


def test_values_share_the_way_evenly_and_never_leave_it(tmp_path):
    vary = "{clearance: {from: 1.23446 mm, to: 2.34567 mm}, load.lamps.parallel: {from: 4, to: 6}}"
    clearance, lamps = read_wish(written(tmp_path, may_vary=vary)).varying
    assert [lamps.at(share) for share in (0, 0.33, 0.34, 0.67, 1)] == ["4", "4", "5", "6", "6"]
    assert clearance.at(0.0) == "1.23446 mm"  # to four digits it would be less
    assert clearance.at(1.0) == "2.34567 mm"
    assert clearance.at(0.5) == "1.79 mm"


@pytest.mark.parametrize(
    ("changes", "line", "said"),
    [
        ({"want": None}, 1, 'want: is missing'),
        ({"wants": "light"}, 7, 'wants: unknown key; did you mean "want"?'),
        ({"want": "fame"}, 5, "want: must be one or two of: light, lowest crank speed"),
        ({"want": "[light, light]"}, 5, 'want: "light" is wanted twice'),
        ({"want": "lowest crank speed"}, 5, "needs crank_speed under may_vary"),
        ({"may_vary": "{}"}, 3, "may_vary: must hold paths with values"),
        ({"may_vary": "{clearance: []}"}, 3, "a list of at least one value"),
        ({"may_vary": "{load.lamps.paralel: [4]}"}, 3, 'did you mean "load.lamps.parallel"?'),
        ({"may_vary": "{clearance: {from: 4 mm, to: 1 mm}}"}, 3, "from must be below to"),
        ({"may_vary": "{clearance: {from: 1 mm}}"}, 3, '"to" is missing'),
        ({"may_vary": "{clearance: {from: 1, to: 4 mm}}"}, 3, "may_vary.clearance.from: "),
        ({"may_vary": "{clearance: {from: 1 mm, to: 2 m}}"}, 3, "2 m is not between"),
        ({"may_vary": "{clearance: [1 mm, 1 mm]}"}, 3, '"1 mm" is listed twice'),
        ({"may_vary": "{coils.pickup.wire.gauge: [AWG 99]}"}, 3, "gauge[0]: "),
        ({"may_vary": "{load.lamps.parallel: {from: 4.5, to: 8}}"}, 3, "not a whole number"),
        ({"may_vary": "{coils.pickup.wire.gauge: {from: 28, to: 32}}"}, 3, "list the values"),
        ({"must": "{lamps_lit: false}"}, 4, "must.lamps_lit: must be true, or be left out"),
        ({"must": "{clearance_at_least: 5 mm}"}, 4, "contradicts may_vary.clearance, which ends"),
        ({"must": "{clearance_at_least: 0 mm}"}, 4, "must be above zero"),
        ({"must": "{crank_force_at_most: 20 N}"}, 4, "the machine has no crank with an arm"),
        ({"must": "{glue_margin_at_least: 2}"}, 4, "the machine has no adhesive"),
        ({"must": "{clearance: 2 mm}"}, 4, 'did you mean "clearance_at_least"?'),
        ({"may_vary": "{crank_speed: {from: 40 rpm, to: 90 rpm}}"}, 2, "under may_vary too"),
        ({"crank_speed": "0 rpm"}, 2, "crank_speed: must not be zero"),
        ({"tries": "1"}, 6, "tries: must be a whole number from 2 to 100000"),
        ({"machine": "3"}, 1, "machine: must be the name of a geometry file"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_told_in_one_line_with_its_place(tmp_path, changes, line, said):
    file = written(tmp_path, **changes)
    with pytest.raises(GeometryError) as caught:
        read_wish(file)
    assert said in str(caught.value)
    assert len(caught.value.lines) == 1
    assert str(caught.value).startswith(f"{file}:{line}: ")


def test_a_machine_without_lamps_cannot_have_them_lit(tmp_path):
    file = written(
        tmp_path,
        machine=RING.parent / "one_rotor.yaml",
        may_vary="{clearance: [3 mm, 4 mm]}",
    )
    with pytest.raises(GeometryError, match=r"must\.lamps_lit: the machine has no lamps"):
        read_wish(file)
