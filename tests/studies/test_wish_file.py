import math
from pathlib import Path

import pytest

from fieldsim.errors import FieldsimError, GeometryError
from fieldsim.studies.wish import Choice, Span
from fieldsim.studies.wish_file import MUSTS, WISH_KEYS, read_wish
from fieldsim.words.wish_keys import wish_sections

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
    assert clearance == Span("clearance", 0.001, 0.004, 1e-5, "length")
    assert lamps == Span("load.lamps.parallel", 4, 8, 1.0)
    assert (wish.counts, wish.machines) == ((301, 5), 1505)
    assert wish.crank_speeds_rad_per_s == pytest.approx((2 * math.pi, 3 * math.pi))
    assert [(must.name, must.limits) for must in wish.musts] == [
        ("lamps_lit", ()),
        ("clearance_at_least", (0.002,)),
    ]
    assert (wish.wants, wish.seed, wish.tries) == (("light",), 1, 16)
    assert wish.machine.title == "Two facing rotors light a ring of lamps"


def test_the_same_file_is_the_same_wish(tmp_path):
    file = written(tmp_path)
    assert read_wish(file) == read_wish(file)
    assert read_wish(file) != read_wish(written(tmp_path, tries="17"))


def test_what_is_left_out_is_as_usual(tmp_path):
    wish = read_wish(written(tmp_path, crank_speed=None, must=None, tries=None))
    assert wish.crank_speeds_rad_per_s == pytest.approx((4 * math.pi,))
    assert (wish.musts, wish.seed, wish.tries) == ((), 1, 1000)


def texts(each):
    return [each.text(place) for place in range(each.count)]


def test_a_range_has_its_ends_and_round_values_between(tmp_path):
    vary = (
        "{clearance: {from: 1.23446 mm, to: 2.34567 mm, step: 0.5 mm}, "
        "load.lamps.parallel: {from: 4, to: 6}, coils.pickup.build: {from: 4 mm, to: 7 mm}, "
        "load.capacitor.value: {from: 10 uF, to: 1 mF}, rotors.upper.gear_ratio: [4, 8]}"
    )
    clearance, lamps, build, capacitor, ratio = read_wish(written(tmp_path, may_vary=vary)).varying
    assert texts(clearance) == ["1.23446 mm", "1.5 mm", "2 mm", "2.34567 mm"]
    assert texts(lamps) == ["4", "5", "6"]
    assert (build.count, build.text(1), build.text(300)) == (301, "4.01 mm", "7 mm")
    assert capacitor.text(1) == "12 uF"
    assert ratio == Choice("rotors.upper.gear_ratio", ("4", "8"))
    speed = read_wish(
        written(tmp_path, may_vary="{crank_speed: {from: 40 rpm, to: 120 rpm}}", crank_speed=None)
    ).varying[0]
    assert (speed.count, speed.text(1)) == (401, "40.2 rpm")


STOCK = "{wire: {AWG 28: 60 m, 0.2 mm: 150 m}, magnets: {tile: {size: [9 mm, 9 mm, 3 mm], remanence: N42, count: 9}}}"  # noqa: E501  (a line of a file)


def test_stock_is_read_and_brings_its_musts(tmp_path):
    vary = "{coils.pickup.wire.gauge: stock, magnets.bar: stock}"
    wish = read_wish(written(tmp_path, may_vary=vary, stock=STOCK))
    gauge, magnet = wish.varying
    assert texts(gauge) == ["AWG 28", "0.2 mm"]
    assert [length for _, length in wish.wire_m] == [60.0, 150.0]
    assert texts(magnet) == ["tile"]
    assert wish.magnets == (("magnets.bar", (9.0,)),)
    assert wish.made((1, 0)).magnets[0].size == pytest.approx((0.009, 0.009, 0.003))
    assert [must.name for must in wish.musts[2:]] == ["wire_in_stock", "magnets_in_stock"]


@pytest.mark.parametrize(
    ("changes", "line", "said"),
    [
        ({"want": None}, 1, "want: is missing"),
        ({"wants": "light"}, 7, 'wants: unknown key; did you mean "want"?'),
        ({"want": "fame"}, 5, "want: must be one or two of: light, lowest crank speed"),
        ({"want": "[light, light]"}, 5, 'want: "light" is wanted twice'),
        ({"want": "[]"}, 5, "want: must be one or two of"),
        ({"want": "lowest crank speed"}, 5, "needs crank_speed under may_vary"),
        ({"may_vary": "{}"}, 3, "may_vary: is empty; write paths with values"),
        ({"may_vary": "clearance"}, 3, "may_vary: holds no keys; write paths with values"),
        ({"may_vary": "{clearance: []}"}, 3, "the list is empty"),
        ({"may_vary": "{clearance: 3 mm}"}, 3, "needs {from: ..., to: ...}, or a list of values"),
        ({"may_vary": "{load.lamps.paralel: [4]}"}, 3, 'did you mean "load.lamps.parallel"?'),
        ({"may_vary": "{clearance: {from: 4 mm, to: 1 mm}}"}, 3, "from must be below to"),
        ({"may_vary": "{clearance: {from: 1 mm}}"}, 3, '"to" is missing'),
        ({"may_vary": "{clearance: {from: 1, to: 4 mm}}"}, 3, "may_vary.clearance.from: "),
        ({"may_vary": "{clearance: {from: 1 mm, to: 2 m}}"}, 3, "2 m is not between"),
        ({"may_vary": "{clearance: {from: 1 mm, to: 2 mm, step: 0 mm}}"}, 3, "must be above zero"),
        ({"may_vary": "{clearance: {from: 1 mm, to: 2 mm, step: 2 mm}}"}, 3, "at most the whole"),
        ({"may_vary": "{clearance: {from: 1 mm, to: 2 mm, step: 1e-10 mm}}"}, 3, "at most 1,000"),
        ({"may_vary": "{clearance: {from: 1 mm, to: 2 mm, steps: 5}}"}, 3, 'did you mean "step"'),
        ({"may_vary": "{clearance: [1 mm, 1 mm]}"}, 3, '"1 mm" is listed twice'),
        ({"may_vary": "{clearance: [[1 mm]]}"}, 3, "must be one value"),
        ({"may_vary": "{coils.pickup.wire.gauge: [AWG 99]}"}, 3, "gauge[0]: "),
        ({"may_vary": "{load.lamps.parallel: {from: 4.5, to: 8}}"}, 3, "not a whole number"),
        ({"may_vary": "{load.lamps.parallel: {from: 4, to: 8, step: 1.5}}"}, 3, "not a whole"),
        ({"may_vary": "{load.lamps.parallel: {from: .nan, to: 8}}"}, 3, "nan is not finite"),
        ({"may_vary": "{coils.pickup.wire.gauge: {from: 28, to: 32}}"}, 3, "list the values"),
        ({"may_vary": "{crank_speed: [60 rpm]}", "crank_speed": None}, 2, "not a list"),
        (
            {"may_vary": "{coils.pickup.turns: [900], coils.pickup.wire.length: [90 m]}"},
            3,
            "may_vary.coils.pickup.wire.length: decides the same as coils.pickup.turns",
        ),
        ({"must": "{lamps_lit: false}"}, 4, "must.lamps_lit: must be true, or be left out"),
        ({"must": "{clearance_at_least: 5 mm}"}, 4, "contradicts may_vary.clearance, of which 4"),
        ({"must": "{clearance_at_least: 0 mm}"}, 4, "must be above zero"),
        ({"must": "{crank_force_at_most: 20 N}"}, 4, "the machine has no crank with an arm"),
        ({"must": "{glue_margin_at_least: 2}"}, 4, "the machine has no adhesive"),
        ({"must": "{clearance: 2 mm}"}, 4, 'did you mean "clearance_at_least"?'),
        ({"must": "{size_at_most: 20 mm}"}, 4, "needs three lengths, along x, y and z"),
        ({"must": "{size_at_most: [2 cm, 2 cm, 2]}"}, 4, "must.size_at_most[2]: "),
        ({"must": "{in_nine_of_ten: true}"}, 4, "there is no other must to hold it against"),
        ({"must": "[lamps_lit]"}, 4, "must hold conditions; allowed: lamps_lit"),
        ({"may_vary": "{crank_speed: {from: 40 rpm, to: 90 rpm}}"}, 2, "under may_vary too"),
        ({"crank_speed": "0 rpm"}, 2, "crank_speed: must not be zero"),
        ({"crank_speed": "[]"}, 2, "crank_speed: has 0 speeds"),
        ({"tries": "1"}, 6, "tries: must be a whole number from 2 to 100000"),
        ({"machine": "3"}, 1, "machine: must be the name of a geometry file"),
        ({"machine": "none.yaml"}, 1, "none.yaml: cannot be read"),
        ({"stock": "{}"}, 7, "stock: is empty; write wire: {AWG 32: 150 m}, or magnets"),
        ({"stock": "{wires: {}}"}, 7, 'did you mean "wire"?'),
        ({"stock": "{wire: {}}"}, 7, "stock.wire: is empty; write {AWG 32: 150 m}"),
        ({"stock": "{wire: {AWG 99: 1 m}}"}, 7, "stock.wire.AWG 99: "),
        ({"stock": "{wire: {AWG 32: 0 m}}"}, 7, "stock.wire.AWG 32: 0 m must be above zero"),
        ({"stock": "{wire: {AWG 32: 9 m}}"}, 7, "nothing takes it; write coils.NAME.wire.gauge"),
        ({"stock": "{magnets: {}}"}, 7, "stock.magnets: is empty"),
        ({"stock": "{magnets: {a: {size: [1 mm, 1 mm, 1 mm]}}}"}, 7, "a.remanence: this key is m"),
        ({"stock": "{magnets: {a: {size: 9, remanence: 1 T}}}"}, 7, "stock.magnets.a.size: "),
        ({"stock": "{magnets: {a: {sise: 1 mm}}}"}, 7, 'did you mean "size"?'),
        ({"stock": "{magnets: {a: {remanence: 1.2 T, count: 0}}}"}, 7, "count: must be a whole"),
        ({"may_vary": "{coils.pickup.wire.gauge: stock}"}, 3, "there is no stock.wire"),
        ({"may_vary": "{magnets.bar: stock}"}, 3, "there is no stock.magnets"),
        ({"may_vary": "{clearance: stock}"}, 3, "cannot be taken from stock; these can: mag"),
        (
            {"may_vary": "{magnets.bar: stock, magnets.bar.remanence: [1 T]}", "stock": STOCK},
            3,
            "may_vary.magnets.bar.remanence: contradicts magnets.bar",
        ),
    ],
)  # fmt: skip
def test_what_is_wrong_is_told_in_one_line_with_its_place(tmp_path, changes, line, said):
    file = written(tmp_path, **changes)
    with pytest.raises(GeometryError) as caught:
        read_wish(file)
    assert said in str(caught.value)
    assert len(caught.value.lines) == 1
    assert str(caught.value).startswith(f"{file}:{line}: ")


@pytest.mark.parametrize(
    "text", ["", "light\n", "- a\n", "want: [\n", "want: light\nwant: light\n"]
)
def test_what_is_no_wish_at_all_is_told_in_one_line(tmp_path, text):
    file = tmp_path / "wish.yaml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(FieldsimError) as caught:
        read_wish(file)
    assert len(caught.value.lines) == 1
    assert "magnets, rotors" not in str(caught.value)


def test_a_machine_without_lamps_cannot_have_them_lit(tmp_path):
    file = written(
        tmp_path,
        machine=RING.parent / "one_rotor.yaml",
        may_vary="{clearance: [3 mm, 4 mm]}",
    )
    with pytest.raises(GeometryError, match=r"must\.lamps_lit: the machine has no lamps"):
        read_wish(file)


def test_the_tables_of_keys_have_what_is_read():
    rows = {each.path: tuple(row[0].strip("`") for row in each.rows) for each in wish_sections()}
    assert rows == {"wish": WISH_KEYS, "wish.stock": ("wire", "magnets"), "wish.must": tuple(MUSTS)}


def test_the_machine_may_be_a_shipped_one_unless_a_file_has_its_name(tmp_path):
    wish = read_wish(written(tmp_path, machine="lamp_ring"))
    assert wish.machine.title == "Two facing rotors light a ring of lamps"
    text = RING.read_text(encoding="utf-8").replace("Two facing", "Other facing")
    (tmp_path / "lamp_ring").write_text(text, encoding="utf-8")
    wish = read_wish(written(tmp_path, machine="lamp_ring"))
    assert wish.machine.title == "Other facing rotors light a ring of lamps"
