import math
import pickle
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest
from machines import shipped

import fieldsim as fs
from fieldsim.operation import many_points
from fieldsim.operation.many_points import Variants, operating_points
from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.report.beside import workers

RING = fs.read("geometries/lamp_ring.yaml")
COILS = fs.read("geometries/two_coils.yaml")
# of power and current: what is asked of the circuits
TOLERANCE = 1e-4
ROUGH = {"tolerance": TOLERANCE, "circuit_tolerance": TOLERANCE}
ARRAYS = tuple(many_points._SHAPES)


def variants(count, seed=5):
    rng = np.random.default_rng(seed)
    return Variants(
        RING,
        [
            {
                "clearance": 0.001 + 0.002 * rng.random(),
                "magnets.bar.size[0]": 0.018 + 0.004 * rng.random(),
                "coils.pickup.opening[0]": 0.012 + 0.004 * rng.random(),
                "coils.pickup.wire.gauge": f"AWG {rng.integers(28, 36)}",
                "load.lamps.parallel": int(rng.integers(1, 8)),
            }
            for _ in range(count)
        ],
    )


def same(one, other):
    return all(np.array_equal(getattr(one, n), getattr(other, n), equal_nan=True) for n in ARRAYS)


def test_many_are_what_each_is_alone():
    machines = variants(8)
    speeds = [f"{60 + 10 * i} rpm" for i in range(8)]
    points = operating_points(machines, speeds, **ROUGH)
    assert len(points) == 8
    assert points.coils == ("pickup",)
    assert points.lamps == ("white LED",)
    assert points.can_be.all()
    for i, speed in enumerate(speeds):
        alone = fs.OperatingPoint(machines[i], speed, **ROUGH)
        figures, result = alone.figures["pickup"], alone.circuit_result
        (lamp,) = result.lamps
        assert points.speed_rad_per_s[i] == alone.speed.base_rad_per_s
        assert points.clearance_m[i] == min(c.distance_m for c in alone.clearances)
        one = operating_points([machines[i]], speed, **ROUGH)
        for name in ("peak_V", "rms_V", "rectified_mean_V", "peak_to_peak_linkage_Wb"):
            expected = getattr(figures, name)
            assert getattr(one, name)[0, 0] == pytest.approx(expected, rel=1e-12)
            # others may bring nodes and angles, within the tolerance of both
            assert getattr(points, name)[i, 0] == pytest.approx(expected, rel=2 * TOLERANCE)
        assert points.frequency_Hz[i, 0] == pytest.approx(figures.frequency_Hz)
        assert points.resistance_ohm[i] == pytest.approx(alone.coil_circuit.resistance_ohm)
        assert points.inductance_H[i] == pytest.approx(alone.coil_circuit.inductance_H)
        # two solutions within the tolerance of the truth differ by twice that
        near = 2e-4 * result.coils["pickup"].rms_current_A
        assert points.lamp_current_A[i, 0] == pytest.approx(lamp.average_current_A, abs=near)
        assert points.coil_current_A[i, 0] == pytest.approx(
            result.coils["pickup"].rms_current_A, abs=near
        )
        watt = 2e-4 * result.source_power_W
        for name in ("source_power_W", "load_W", "useful_power_W"):
            assert getattr(points, name)[i] == pytest.approx(getattr(result, name), abs=watt)
        assert points.coil_heat_W[i, 0] == pytest.approx(result.coils["pickup"].heat_W, abs=watt)
        outlet = result.outlets["pickup"]
        assert points.dc_voltage_V[i] == pytest.approx(
            result.average(outlet.dc_voltage_V), rel=1e-3
        )
        assert points.lights[i, 0] == lamp.lights
        assert points.all_light[i] == lamp.lights
        assert points.share_of_rated[i, 0] == pytest.approx(lamp.share_of_rated, rel=1e-3)
        torque = result.source_power_W / alone.speed.base_rad_per_s
        assert points.electric_torque_Nm[i] == pytest.approx(torque, rel=1e-3)


def test_whoever_works_the_results_are_the_same_bytes(monkeypatch):
    monkeypatch.setattr(many_points, "PIECE", 3)
    machines = variants(7)
    here = operating_points(machines, "90 rpm", **ROUGH)
    with workers(2) as pool:
        by_processes = operating_points(machines, "90 rpm", executor=pool, **ROUGH)
    with ThreadPoolExecutor(3) as pool:
        by_threads = operating_points(list(machines), "90 rpm", executor=pool, **ROUGH)
    assert same(here, by_processes)
    assert same(here, by_threads)


def test_a_cluster_engine_is_an_executor_too(monkeypatch):
    distributed = pytest.importorskip("distributed")
    monkeypatch.setattr(many_points, "PIECE", 2)
    machines = variants(4)
    here = operating_points(machines, "90 rpm", **ROUGH)
    with (
        distributed.LocalCluster(
            n_workers=2, threads_per_worker=1, dashboard_address=None
        ) as cluster,
        distributed.Client(cluster) as client,
    ):
        by_cluster = operating_points(machines, "90 rpm", executor=client.get_executor(), **ROUGH)
    assert same(here, by_cluster)


def test_neighbours_change_next_to_nothing():
    alone = operating_points(variants(3), "90 rpm", **ROUGH)
    among = operating_points([*variants(3), *variants(6, seed=9)], "90 rpm", **ROUGH)
    assert among.lamp_current_A[:3] == pytest.approx(alone.lamp_current_A, rel=1e-5)
    for name in ("peak_V", "rms_V", "rectified_mean_V", "peak_to_peak_linkage_Wb"):
        assert getattr(among, name)[:3] == pytest.approx(getattr(alone, name), rel=2 * TOLERANCE)
    assert among.rms_V[:3] == pytest.approx(alone.rms_V, rel=0.1 * TOLERANCE)


def test_what_cannot_be_is_named_and_the_others_are_not_disturbed():
    machines = Variants(
        RING,
        [
            {},
            {"coils.pickup.length": "40 mm"},  # into the magnets
            {"magnets.bar.remanence": "90 T"},
            {"load.lamps.parallel": 3},
        ],
    )
    points = operating_points(machines, **ROUGH)
    assert points.can_be.tolist() == [True, False, False, True]
    assert "runs into" in points.problems[1]
    assert points.problems[2].startswith("magnets.bar.remanence: ")
    assert np.isnan(points.rms_V[1:3]).all()
    assert np.isnan(points.useful_power_W[1:3]).all()
    assert not points.all_light[1:3].any()
    assert points.rms_V[0] == pytest.approx(points.rms_V[3], rel=1e-12)
    assert points.lamp_current_A[3] > points.lamp_current_A[0]


def test_without_wire_or_load_there_is_the_open_voltage():
    points = operating_points([fs.read("geometries/one_rotor.yaml")], "60 rpm")
    assert points.rms_V[0, 0] > 1
    assert points.lamps == ()
    assert np.isnan(points.source_power_W[0])
    asked_for_no_more = operating_points([RING], "60 rpm", with_load=False, tolerance=1e-4)
    assert np.isnan(asked_for_no_more.useful_power_W[0])
    assert asked_for_no_more.rms_V[0, 0] > 1


def test_several_coils_and_lamps():
    points = operating_points(Variants(COILS, [{}, {"temperature": "60 degC"}]), "150 rpm", **ROUGH)
    assert points.coils == tuple(coil.name for coil in COILS.coils)
    alone = fs.OperatingPoint(COILS, "150 rpm", **ROUGH).circuit_result
    assert points.lamps == tuple(lamp.label for lamp in alone.lamps)
    assert points.lamp_current_A[0] == pytest.approx(
        [lamp.average_current_A for lamp in alone.lamps], rel=1e-3
    )
    assert (points.resistance_ohm[1] > 1.1 * points.resistance_ohm[0]).all()
    assert (points.lamp_current_A[1] < points.lamp_current_A[0]).all()


def test_machines_of_two_kinds_are_refused():
    with pytest.raises(fs.ImpossibleError, match="machine 1 has the coils"):
        operating_points([RING, COILS], **ROUGH)


def test_speeds():
    same_for_all = operating_points([RING, RING], 2 * math.pi, with_load=False, tolerance=1e-4)
    one_each = operating_points(
        [RING, RING], ["60 rpm", 4 * math.pi], with_load=False, tolerance=1e-4
    )
    assert same_for_all.rms_V[0] == pytest.approx(one_each.rms_V[0], rel=1e-12)
    assert one_each.rms_V[1] == pytest.approx(2 * one_each.rms_V[0], rel=1e-12)
    with pytest.raises(fs.ImpossibleError, match="1 crank speeds for 2 machines"):
        operating_points([RING, RING], ["60 rpm"])
    rotors = operating_points([RING], rotor_speeds="480 rpm", with_load=False, tolerance=1e-4)
    assert rotors.rms_V[0] == pytest.approx(same_for_all.rms_V[0], rel=1e-12)  # geared 8 to 1
    with pytest.raises(fs.ImpossibleError, match="not both"):
        operating_points([RING], "60 rpm", rotor_speeds="60 rpm")
    with pytest.raises(fs.ImpossibleError, match="fast"):
        operating_points([RING], "fast")


def test_none_and_progress(monkeypatch):
    monkeypatch.setattr(many_points, "PIECE", 2)
    assert len(operating_points([])) == 0
    told = []
    operating_points(
        [RING] * 5, with_load=False, tolerance=1e-4, progress=lambda *t: told.append(t)
    )
    assert told == [(2, 5), (4, 5), (5, 5)]


def test_variants_are_sent_as_changes():
    machines = variants(50)
    assert len(pickle.dumps(machines[10:20])) < 2 * len(pickle.dumps(RING)) + 10 * 500
    assert machines[10:20][3] == machines[13]
    assert list(machines)[49] == machines[49]


def test_machines_with_iron_get_the_tolerance_that_one_alone_gets():
    bolt = shipped("bolt_beside_magnets")
    points = operating_points(
        Variants(bolt, [{}, {"coils.pickup.core": None}]), "60 rpm", with_load=False
    )
    for place, machine in enumerate((bolt, bolt.changed({"coils.pickup.core": None}))):
        alone = OperatingPoint(machine, "60 rpm")
        assert points.rms_V[place, 0] == pytest.approx(alone.figures["pickup"].rms_V, rel=1e-12)
