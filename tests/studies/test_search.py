import itertools
import pickle
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import fieldsim as fs
from fieldsim.errors import ImpossibleError
from fieldsim.studies.search import search
from fieldsim.studies.wish import read_wish

GEOMETRIES = Path("geometries").resolve()
SIX = read_wish(GEOMETRIES / "wishes" / "six_lamps.yaml")


def wish(folder, text, machine=GEOMETRIES / "lamp_ring.yaml"):
    file = folder / "wish.yaml"
    file.write_text(f"machine: {machine}\n{text}", encoding="utf-8")
    return read_wish(file)


SMALL = """
crank_speed: 90 rpm
may_vary:
  coils.pickup.wire.gauge: [AWG 28, AWG 30, AWG 31, AWG 32, AWG 33, AWG 34]
  coils.pickup.build: [3 mm, 3.5 mm, 4 mm, 4.5 mm, 5 mm, 5.5 mm, 6 mm, 6.5 mm, 7 mm, 7.5 mm]
must: {lamps_lit: true, wire_length_at_most: 100 m}
want: light
tries: 40
"""


def test_the_best_of_a_full_grid_is_found_without_trying_all(tmp_path):
    asked = wish(tmp_path, SMALL)
    every = list(itertools.product(*(each.values for each in asked.varying)))
    paths = [each.path for each in asked.varying]
    machines = fs.Variants(asked.machine, [dict(zip(paths, v, strict=True)) for v in every])
    points = fs.operating_points(machines, "90 rpm", tolerance=1e-4, circuit_tolerance=1e-4)
    wire_m = np.array([machine.coils[0].wire_length_m for machine in machines])
    lets = points.all_light & (wire_m <= 100)
    light_W = np.where(lets, points.useful_power_W, -1)

    found = search(asked)
    assert len(found) == 40 < len(every)
    assert tuple(found.changes[found.best].values()) == every[int(light_W.argmax())]
    assert found.wanted[found.best, 0] == pytest.approx(light_W.max(), rel=1e-3)


def test_where_all_can_be_tried_all_are_tried_once(tmp_path):
    found = search(wish(tmp_path, SMALL.replace("tries: 40", "tries: 60")))
    assert len(found) == len({tuple(each.values()) for each in found.changes}) == 60


def test_a_load_like_the_coils_resistance_takes_most_power(tmp_path):
    # The EMF's source has the coil's resistance and, turned slowly, hardly any reactance: most
    # power goes into a load of the same resistance (maximum power transfer).
    machine = fs.read(GEOMETRIES / "lamp_ring.yaml").changed(
        {"load": {"across": "pickup", "resistor": "10 ohm"}}
    )
    fs.write(machine, tmp_path / "resistor.yaml")
    asked = wish(
        tmp_path,
        "crank_speed: 2 rpm\nmay_vary: {load.resistor: {from: 5 ohm, to: 500 ohm}}\n"
        "want: light\ntries: 250\n",
        tmp_path / "resistor.yaml",
    )
    found = search(asked)
    coil_ohm = fs.OperatingPoint(machine, "2 rpm").coil_circuit.resistance_ohm[0]
    assert 5 < coil_ohm < 500
    best_ohm = found.machine(found.best).load.resistor
    assert best_ohm == pytest.approx(coil_ohm, rel=0.03)
    # Whichever resistance: V^2 R / (R + r)^2, here as a share of the most.
    ohm = np.array([found.machine(i).load.resistor for i in range(len(found))])
    share = 4 * ohm * coil_ohm / (ohm + coil_ohm) ** 2
    assert found.wanted[:, 0] / found.wanted.max() == pytest.approx(share, rel=2e-3)


def same_bytes(one, other):
    assert one.changes == other.changes
    assert one.problems == other.problems
    assert one.wanted.tobytes() == other.wanted.tobytes()
    assert one.misses.tobytes() == other.misses.tobytes()


def test_two_workers_and_a_stop_change_not_one_byte():
    asked = replace(SIX, tries=120)
    stages = []
    alone = search(asked, progress=stages.append)
    assert [len(stage) for stage in stages] == [25, 50, 60, 85, 110, 120]
    with ProcessPoolExecutor(2) as executor:
        same_bytes(search(asked, executor=executor), alone)
    later = []
    stopped = pickle.loads(pickle.dumps(stages[3]))
    same_bytes(search(asked, known=stopped, progress=later.append), alone)
    assert [len(stage) for stage in later] == [60, 85, 110, 120]
    with pytest.raises(ImpossibleError, match="for another wish"):
        search(replace(asked, seed=2), known=stopped)


def test_another_seed_looks_elsewhere():
    one, other = (search(replace(SIX, tries=8, seed=seed)) for seed in (1, 2))
    assert one.changes != other.changes


def test_of_two_wants_no_other_beats_the_unbeaten_in_both():
    found = search(SIX)
    light, wire = found.wanted.T
    free = found.fulfils
    plain = {
        i
        for i in np.flatnonzero(free)
        if not (
            free & (light >= light[i]) & (wire >= wire[i]) & ((light > light[i]) | (wire > wire[i]))
        ).any()
    }
    assert set(found.unbeaten) == plain
    assert len(plain) > 5
    assert found.best == found.unbeaten[0] == max(plain, key=lambda i: light[i])


def test_what_stands_in_the_way_is_what_alone_would_let_most_through(tmp_path):
    text = SMALL.replace("100 m}", "1 m}")
    found = search(wish(tmp_path, text))
    assert found.best is None
    assert found.unbeaten == ()
    assert found.hardest_must == "wire_length_at_most"
    assert found.freed["wire_length_at_most"] > found.freed["lamps_lit"] == 0
    # The first is then the one that misses least in all.
    assert found.misses.sum(axis=1).argmin() == found.order[0]


def test_machines_that_cannot_be_come_last(tmp_path):
    text = "may_vary: {coils.pickup.length: [10 mm, 25 mm]}\nwant: light\n"
    found = search(wish(tmp_path, text))
    assert [bool(text) for text in found.problems] == [False, True]
    assert found.order == (0, 1)
    assert found.fulfils.tolist() == [True, False]


def test_every_crank_speed_counts(tmp_path):
    text = "may_vary: {clearance: [2 mm, 3 mm]}\nwant: light\nmust: {lamps_lit: true}\n"
    both = search(wish(tmp_path, f"crank_speed: [20 rpm, 90 rpm]\n{text}"))
    fast = search(wish(tmp_path, f"crank_speed: 90 rpm\n{text}"))
    slow = search(wish(tmp_path, f"crank_speed: 20 rpm\n{text}"))
    assert both.wanted == pytest.approx(slow.wanted)
    assert fast.fulfils.all()
    assert not both.fulfils.any()


def test_the_lowest_speed_is_that_from_which_the_lamps_light(tmp_path):
    text = (
        "may_vary: {crank_speed: {from: 20 rpm, to: 120 rpm}}\nwant: lowest crank speed\n"
        "must: {lamps_lit: true}\ntries: 150\n"
    )
    found = search(wish(tmp_path, text))
    point = fs.OperatingPoint(SIX.machine, "20 rpm")
    needed = point.lamp_speeds[0]
    assert -found.wanted[found.best, 0] == pytest.approx(needed.lowest_speed_rad_per_s, rel=5e-3)


def test_force_glue_and_effort_are_those_of_the_effort(tmp_path):
    machine = SIX.machine.changed(
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
    found = search(wish(tmp_path, text, tmp_path / "cranked.yaml"))
    effort = fs.OperatingPoint(found.machine(1), "90 rpm", tolerance=1e-5).effort
    most_Nm = max(effort.crank.peak_torque_Nm, effort.slow_peak_torque_Nm)
    load = max(magnet.glue_load for hold in effort.holds for magnet in hold.magnets)
    assert -found.wanted[1, 0] == pytest.approx(effort.crank.average_torque_Nm, rel=1e-3)
    assert found.misses[1] == pytest.approx([most_Nm / 0.1 / 0.1 - 1, 1 - 1 / load / 1e5], rel=1e-2)
    assert (found.misses[1] > 0).all()
