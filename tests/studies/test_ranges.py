import math
from dataclasses import replace

import numpy as np
import pytest

import fieldsim as fs
from fieldsim.machine.uncertain import DEFAULTS, GiveOrTake
from fieldsim.studies.ranges import ranges, takes_long

RING = fs.read("geometries/lamp_ring.yaml")
ROTOR = fs.read("geometries/one_rotor.yaml")
ROUGH = {"tolerance": 1e-4, "circuit_tolerance": 1e-4}
# So that next to nothing else moves: the smallest that may be said.
STILL = {
    "magnets.bar.remanence": "0.01 %",
    "clearance": "0.01 %",
    "coils.pickup.turns": "0.01 %",
    "coils.pickup.build": "0.01 %",
    "crank_speed": "0.01 %",
}


def point(machine, amounts=None, speed="90 rpm"):
    return fs.OperatingPoint(machine.changed({"uncertain": amounts or {}}), speed, **ROUGH)


def test_what_a_file_does_not_say_is_common_practice():
    study = ranges(point(RING), machines=2)
    found = {item.path: item for item in study.inputs}
    assert found["magnets.bar.remanence"].give_or_take == pytest.approx(0.05 * 1.2)
    assert found["clearance"].give_or_take == pytest.approx(0.5e-3)
    assert found["coils.pickup.turns"].give_or_take == pytest.approx(0.02 * 1364)
    assert found["coils.pickup.build"].value == pytest.approx(RING.coil("pickup").placed.build)
    assert found["load.lamps.forward"].value == pytest.approx(3.2, abs=1e-6)
    assert found["load.lamps.forward"].give_or_take == pytest.approx(0.1)
    assert found["crank_speed"].give_or_take == pytest.approx(0.1 * 3 * math.pi)
    assert not any(item.stated for item in study.inputs)
    assert len(found) == len(DEFAULTS)


def test_what_the_file_says_comes_first_and_adds():
    study = ranges(
        point(RING, {"clearance": "0.2 mm", "temperature": "5 K"}), machines=2, with_load=False
    )
    assert [item.path for item in study.inputs if item.stated] == ["clearance", "temperature"]
    assert study.input("clearance").give_or_take == pytest.approx(0.2e-3)
    assert study.input("temperature").give_or_take == pytest.approx(5.0)
    assert sum(item.path == "clearance" for item in study.inputs) == 1


def test_a_narrow_clearance_is_not_used_up():
    study = ranges(point(ROTOR.changed({"clearance": "0.4 mm"})), machines=16, with_load=False)
    assert study.input("clearance").give_or_take == pytest.approx(0.2e-3)
    assert study.share_that_can_be == 1.0


@pytest.mark.parametrize(
    ("path", "power"), [("magnets.bar.remanence", 1), ("crank_speed", 1), ("coils.pickup.turns", 1)]
)
def test_of_one_small_amount_the_range_is_the_linear_formula(path, power):
    plain = point(ROTOR)
    study = ranges(point(ROTOR, {**STILL, path: "1 %"}), machines=64, with_load=False)
    found = study.coil_ranges("pickup")["rms_V"]
    # nine of ten of an even spread of 1 % lie within 0.9 % to each side
    rms_V = plain.figures["pickup"].rms_V
    assert found.low == pytest.approx(rms_V * (1 - 0.009 * power), rel=5e-4)
    assert found.high == pytest.approx(rms_V * (1 + 0.009 * power), rel=5e-4)
    assert found.mostly_from == path
    assert found.share > 0.99


def test_several_amounts_together_against_plain_random_machines():
    # The voltage is a product: its law is that of random numbers, and the machines' must be it.
    amounts = {**STILL, "magnets.bar.remanence": "5 %", "crank_speed": "10 %"}
    study = ranges(point(ROTOR, amounts), machines=256, with_load=False)
    found = study.coil_ranges("pickup")["rms_V"]
    rng = np.random.default_rng(2)
    product = (1 + 0.05 * rng.uniform(-1, 1, 10_000)) * (1 + 0.10 * rng.uniform(-1, 1, 10_000))
    low, high = np.quantile(product, [0.05, 0.95]) * point(ROTOR).figures["pickup"].rms_V
    # of 256 machines the twentieth part is known to about one machine, 0.2 % here
    assert found.low == pytest.approx(low, rel=0.004)
    assert found.high == pytest.approx(high, rel=0.004)
    assert found.mostly_from == "crank_speed"
    # variances go with the squares: 100 of 125
    assert found.share == pytest.approx(0.8, abs=0.03)


def test_lamps_near_their_limit_light_in_some_machines_only():
    slow, fast = (ranges(point(RING, speed=rpm), machines=32) for rpm in ("38 rpm", "90 rpm"))
    assert 0.2 < slow.share_all_light < 0.9
    assert fast.share_all_light == 1.0
    current = fast.lamp_ranges("white LED")["average_current_A"]
    (lamp,) = point(RING).circuit_result.lamps
    assert current.low < lamp.average_current_A < current.high
    assert fast.power_ranges()["dc_voltage_V"].mostly_from == "load.lamps.forward"


def test_the_middle_machine_is_the_stated_one():
    # with nothing moved the drawn machine is wound, lit and turned as the file says
    study = ranges(point(RING, {**STILL, "load.lamps.forward": "0.01 %"}), machines=4)
    result = point(RING).circuit_result
    current = study.lamp_ranges("white LED")["average_current_A"]
    assert current.low == pytest.approx(result.lamps[0].average_current_A, rel=3e-3)
    assert current.high == pytest.approx(result.lamps[0].average_current_A, rel=3e-3)


def test_machines_that_cannot_be_are_counted():
    tight = ROTOR.changed({"clearance": "0.3 mm", "uncertain": {"clearance": "0.6 mm"}})
    study = ranges(fs.OperatingPoint(tight, "60 rpm", **ROUGH), machines=32, with_load=False)
    # evenly from 0.3 mm too little to 0.9 mm: a quarter
    assert study.share_that_can_be == pytest.approx(0.75, abs=0.04)
    assert study.machines == round(32 * study.share_that_can_be)
    assert study.coil_ranges("pickup")["rms_V"].low > 0


def test_the_same_seed_gives_the_same_range():
    one, other = (ranges(point(ROTOR), machines=8, with_load=False) for _ in range(2))
    assert one.coil_ranges("pickup") == other.coil_ranges("pickup")


def test_rotor_speeds_are_kept():
    at = fs.OperatingPoint(ROTOR, rotor_speed="600 rpm", **ROUGH)
    found = ranges(at, machines=16, with_load=False).coil_ranges("pickup")["rms_V"]
    assert found.low < at.figures["pickup"].rms_V < found.high


def test_amounts_in_their_units():
    assert GiveOrTake("temperature", "5 degC").amount(293.15, "K") == pytest.approx(5.0)
    assert GiveOrTake("rotors.upper.start", "2 deg").amount(0.0, "rad") == pytest.approx(
        math.radians(2)
    )
    assert GiveOrTake("load.lamps.parallel", "1").amount(6, "") == 1.0
    for text in ("0 mm", "0 %"):
        with pytest.raises(ValueError, match="above zero"):
            GiveOrTake("clearance", text).amount(0.002, "m")
    with pytest.raises(ValueError, match="plain number"):
        GiveOrTake("coils.pickup.turns", "5 mm").amount(900, "")


@pytest.mark.parametrize(
    ("amounts", "message"),
    [
        ({"clearence": "0.5 mm"}, "uncertain.clearence: no such path"),
        ({"clearance": "0.5 T"}, 'uncertain.clearance: "0.5 T" is not a length'),
        ({"clearance": "-0.5 mm"}, 'uncertain.clearance: "-0.5 mm" is no amount'),
        ({"clearance": "500 %"}, 'uncertain.clearance: "500 %" is out of range'),
        ({"clearance": True}, "uncertain.clearance: is no amount"),
        ({"title": "5 %"}, "uncertain.title: is no number"),
        ({"coils.pickup.wire.gauge": "5 %"}, "uncertain.coils.pickup.wire.gauge: is no number"),
    ],
)
def test_wrong_amounts(amounts, message):
    with pytest.raises(fs.ImpossibleError, match="^" + message.replace(".", r"\.")):
        RING.changed({"uncertain": amounts})


@pytest.mark.parametrize("name", ["bolt_beside_magnets", "steel_discs"])
def test_machines_with_iron_have_a_range(name):
    machine = fs.read(f"geometries/{name}.yaml")
    assert not takes_long(machine)
    at = fs.OperatingPoint(machine, "120 rpm")
    study = ranges(at, with_load=False)
    assert len(study.points) == len(study.offsets) > 64
    found = study.coil_ranges("pickup")["rms_V"]
    assert found.low < at.figures["pickup"].rms_V < found.high
    # Between those that are worked out: one of them, with its own iron and its own eddy currents.
    speed = study.points.speed_rad_per_s[5]
    alone = fs.OperatingPoint(study.points.machines[5], crank_speed_rad_per_s=speed)
    assert study.points.rms_V[5, 0] == pytest.approx(alone.figures["pickup"].rms_V, rel=5e-3)


def test_many_pieces_of_iron_take_long():
    machine = fs.read("geometries/bolt_beside_magnets.yaml")
    balls = [
        fs.IronPiece(f"ball{i}", fs.Ball(0.004), (0.5, 0.02 * i, 0.0), (0, 0, 1)) for i in range(4)
    ]
    assert takes_long(replace(machine, iron=tuple(balls)))
