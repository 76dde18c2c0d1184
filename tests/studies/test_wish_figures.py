from pathlib import Path

import numpy as np
import pytest

import fieldsim as fs
from fieldsim.machine.overall_size import overall_size_m
from fieldsim.studies.ranges import ranges
from fieldsim.studies.search import search

RING = Path("geometries/lamp_ring.yaml").resolve()


def found(folder, text, machine=RING):
    file = folder / "wish.yaml"
    file.write_text(f"machine: {machine}\n{text}", encoding="utf-8")
    return search(fs.read_wish(file))


def test_every_crank_speed_counts(tmp_path):
    text = "may_vary: {clearance: [2 mm, 3 mm]}\nwant: light\nmust: {lamps_lit: true}\n"
    both = found(tmp_path, f"crank_speed: [20 rpm, 90 rpm]\n{text}")
    fast = found(tmp_path, f"crank_speed: 90 rpm\n{text}")
    slow = found(tmp_path, f"crank_speed: 20 rpm\n{text}")
    assert both.figures.wanted == pytest.approx(slow.figures.wanted)
    assert fast.fulfils.all()
    assert not both.fulfils.any()


def test_the_lowest_speed_is_that_from_which_the_lamps_light(tmp_path):
    text = (
        "may_vary: {crank_speed: {from: 30 rpm, to: 60 rpm, step: 0.02 rpm}}\n"
        "want: lowest crank speed\nmust: {lamps_lit: true}\ntries: 60\n"
    )
    lowest = found(tmp_path, text)
    needed = fs.OperatingPoint(fs.read(RING), "30 rpm").lamp_speeds[0].lowest_speed_rad_per_s
    # The next step, 0.02 rpm, or what the figures' tolerance of 1e-4 makes of the speed.
    speed = -lowest.figures.wanted[lowest.best, 0]
    assert speed == pytest.approx(needed, rel=1e-3)


def test_force_glue_and_effort_are_those_of_the_effort(tmp_path):
    machine = fs.read(RING).changed(
        {
            "crank": {"arm": "100 mm"},
            "adhesive": {"shear_strength": "3 MPa", "peel_strength": "3 MPa"},
        }
    )
    fs.write(machine, tmp_path / "cranked.yaml")
    text = (
        "crank_speed: 90 rpm\nmay_vary: {coils.pickup.build: [5 mm, 7 mm]}\n"
        "must: {crank_force_at_most: 0.1 N, glue_margin_at_least: 100000}\nwant: least effort\n"
    )
    one = found(tmp_path, text, tmp_path / "cranked.yaml")
    effort = fs.OperatingPoint(one.machine(1), "90 rpm", tolerance=1e-5).effort
    most_Nm = max(effort.crank.peak_torque_Nm, effort.slow_peak_torque_Nm)
    load = max(magnet.glue_load for hold in effort.holds for magnet in hold.magnets)
    assert -one.figures.wanted[1, 0] == pytest.approx(effort.crank.average_torque_Nm, rel=1e-3)
    excess = [most_Nm / 0.1 / 0.1 - 1, load * 1e5 - 1]
    assert one.figures.excess[1] == pytest.approx(excess, rel=1e-2)
    assert min(excess) > 0


def test_wire_of_a_size_is_shared_by_all_coils_of_that_size(tmp_path):
    machine = RING.parent / "two_coils.yaml"
    left, right = (coil.name for coil in fs.read(machine).coils)
    text = (
        "crank_speed: 90 rpm\nstock: {wire: {AWG 30: 50 m, AWG 34: 200 m}}\n"
        f"may_vary: {{coils.{left}.wire.gauge: stock, coils.{right}.wire.gauge: stock}}\n"
        "want: light\n"
    )
    some = found(tmp_path, text, machine)
    assert [must.name for must in some.wish.musts] == ["wire_in_stock"]
    assert len(some) == 4
    for i in range(4):
        lengths = {"AWG 30": 0.0, "AWG 34": 0.0}
        for coil in some.machine(i).coils:
            lengths[str(coil.wire.gauge)] += coil.wire_length_m
        share = max(lengths["AWG 30"] / 50, lengths["AWG 34"] / 200)
        assert some.figures.excess[i, 0] == pytest.approx(share - 1)


MAGNETS = """
stock:
  magnets:
    long bar: {size: [20 mm, 10 mm, 5 mm], remanence: 1.2 T, count: 8}
    short bar: {size: [15 mm, 10 mm, 5 mm], remanence: N42, count: 7}
    disc: {shape: disc, diameter: 15 mm, thickness: 5 mm, remanence: 1.3 T}
may_vary: {magnets.bar: stock}
want: light
"""


def test_magnets_in_stock_are_whole_magnets_and_may_be_too_few(tmp_path):
    some = found(tmp_path, MAGNETS)
    assert [some.values(i)["magnets.bar"] for i in range(3)] == ["long bar", "short bar", "disc"]
    assert some.figures.excess[:, 0] == pytest.approx([0.0, 8 / 7 - 1, -1.0])
    assert some.fulfils.tolist() == [True, False, True]
    (disc,) = some.machine(2).magnets
    assert disc == fs.Magnet("bar", fs.Cylinder(0.015, 0.005), 1.3)
    assert some.machine(0).magnets == fs.read(RING).magnets


def test_the_size_is_the_longest_edge_beside_what_is_allowed(tmp_path):
    text = "may_vary: {clearance: [2 mm, 4 mm]}\nwant: light\n"
    limits = "must: {size_at_most: [80 mm, 80 mm, 25 mm]}\n"
    some = found(tmp_path, text + limits)
    edges = [overall_size_m(some.machine(i)) for i in range(2)]
    share = [max(np.array(each) / [0.08, 0.08, 0.025]) for each in edges]
    assert some.figures.excess[:, 0] == pytest.approx(np.array(share) - 1)
    assert some.fulfils.tolist() == [True, False]


def test_what_must_hold_in_nine_of_ten_machines_built_holds_in_those(tmp_path):
    speeds = (37, 45)
    for speed in speeds:
        text = (
            f"crank_speed: {speed} rpm\nmay_vary: {{clearance: [2 mm]}}\nwant: light\n"
            "must: {lamps_lit: true, in_nine_of_ten: true}\n"
        )
        some = found(tmp_path, text)
        point = fs.OperatingPoint(some.machine(0), f"{speed} rpm", tolerance=1e-3)
        built = ranges(point, machines=32).points
        share = (built.can_be & built.all_light).mean()
        assert some.fulfils[0] == (share >= 0.9)
        lit = some.figures.excess[0, 0] <= 0
        assert lit == point.light.lamps[0].lights
        if speed == 37:
            assert lit
            assert not some.fulfils[0]
            assert 0 < some.figures.excess[0, 1] < 1
    assert some.fulfils[0]


def test_what_misses_a_must_as_it_stands_misses_nine_of_ten(tmp_path):
    text = (
        "crank_speed: 20 rpm\nmay_vary: {clearance: [2 mm, 3 mm]}\nwant: light\n"
        "must: {in_nine_of_ten: true, lamps_lit: true}\n"
    )
    some = found(tmp_path, text)
    assert (some.figures.excess[:, 0] == 1).all()
    assert (some.figures.excess[:, 1] > 0).all()
