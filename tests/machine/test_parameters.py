"""Everything that can be changed: its path, its text, its range, and what cannot be."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from machines import GEOMETRIES, shipped
from pydantic import ValidationError

from fieldsim.errors import ImpossibleError
from fieldsim.machine.clearance.collision_error import CollisionError
from fieldsim.machine.coil_wire import CoilWire
from fieldsim.machine.load.load import LoadCapacitor
from fieldsim.machine.machine import Machine
from fieldsim.machine.parameters import parameter, parameters
from fieldsim.machine.part import PartError, made_from, problems_of, tree_of
from fieldsim.machine.paths import dotted, parsed_path
from fieldsim.machine.tree_changes import set_in_tree
from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.studies.vary import vary

SHIPPED = sorted(path.stem for path in GEOMETRIES.glob("*.yaml"))
MACHINES = {name: shipped(name) for name in SHIPPED}
ALL = [(name, p) for name, machine in MACHINES.items() for p in parameters(machine)]
IDS = [f"{name}:{p.path}" for name, p in ALL]
WITH_NUMBERS = [(name, p) for name, p in ALL if not p.choices and not isinstance(p.value, str)]


def is_direction(path: str) -> bool:
    return path.partition("[")[0].rpartition(".")[2] in ("axis", "side", "along", "zero")


def refusal(machine, changes) -> str:
    """Return what is said of changes that cannot be; one line."""
    with pytest.raises(ImpossibleError) as caught:
        machine.changed(changes)
    assert "\n" not in str(caught.value)
    return str(caught.value)


@pytest.mark.parametrize(("name", "item"), ALL, ids=IDS)
def test_path_text_and_range(name, item):
    machine = MACHINES[name]
    assert dotted(parsed_path(item.path)) == item.path
    assert parameter(machine, item.path) == item
    assert item.words
    if item.choices or isinstance(item.value, str):
        assert item.value == item.text
        assert math.isnan(item.least)
        assert math.isnan(item.step)
    else:
        slack = 1e-9 * abs(item.value)
        assert item.least - slack <= item.value <= item.most + slack
    if item.path.endswith("gear_ratio") and machine.gears:
        assert "the gears make it" in refusal(machine, {item.path: item.text})
    elif "clearance" in item.path:
        # the text is rounded to nine digits, and so near nothing is moved
        assert machine.changed({item.path: item.text}) == machine
    elif is_direction(item.path):
        # of a direction each entry is one of a unit vector: its text is rounded to six digits
        assert machine.changed({item.path: item.value}) == machine
    else:
        assert machine.changed({item.path: item.text}) == machine


@pytest.mark.parametrize(
    ("name", "item"), WITH_NUMBERS, ids=[f"{n}:{p.path}" for n, p in WITH_NUMBERS]
)
def test_a_step_up_changes_that_or_says_why_not(name, item):
    machine = MACHINES[name]
    if math.isnan(item.step):
        pytest.skip("no step is usual")
    assert item.step >= 0
    value = item.value + item.step
    if item.unit == "AWG":
        value = f"AWG {value:.0f}"
    elif isinstance(item.value, int):
        value = round(value)
    try:
        changed = machine.changed({item.path: value})
    except ImpossibleError:
        said = refusal(machine, {item.path: value})
        turned = "shaft" in item.path and "beside the shaft" in said  # what turns about it stays
        assert item.path.split(".")[0] in said or "clearance" in item.path or turned
        return
    if item.step == 0:
        assert changed == machine
        return
    assert changed.file == machine.file
    now = parameter(changed, item.path)
    assert now.words == item.words
    if is_direction(item.path):
        # Made a unit vector, and perpendicular: along itself a longer one is the same.
        start = item.path.partition("[")[0]
        whole = [parameter(changed, f"{start}[{i}]").value for i in range(3)]
        assert math.hypot(*whole) == pytest.approx(1.0, abs=1e-15)
        return
    assert changed != machine
    assert now.value == pytest.approx(item.value + item.step, rel=1e-6, abs=1e-9)


@pytest.mark.parametrize("name", SHIPPED)
@pytest.mark.parametrize("end", ["least", "most"])
def test_beyond_the_range_is_refused(name, end):
    machine = MACHINES[name]
    tried = 0
    for item in parameters(machine):
        bound = getattr(item, end)
        plain = item.unit not in ("", "AWG") and math.isfinite(bound)
        if not plain or item.path.endswith("gauge"):
            continue
        beyond = bound + (1 if end == "most" else -1) * max(abs(bound) * 0.01, 1e-9)
        assert "out of range" in refusal(machine, {item.path: beyond}), item.path
        tried += 1
    assert tried > 10


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"coils.pikcup.turns": 3}, 'no coil is called "pikcup"; there are: pickup'),
        ({"coil.pickup.turns": 3}, 'no such path; did you mean "coils"?'),
        ({"coils.pickup.wire.guage": 3}, 'did you mean "coils.pickup.wire.gauge"?'),
        (
            {"coils.pickup.wire.gauge": "AWG 99"},
            "AWG 99 is out of range; allowed: AWG 10 to AWG 46",
        ),
        ({"coils.pickup.length": "-1 mm"}, 'coils.pickup.length: "-1 mm" is out of range'),
        ({"coils.pickup.length": "1 T"}, "is not a length"),
        ({"coils.pickup.length": "1"}, "has no unit"),
        ({"coils.pickup.length": math.nan}, "not a finite number"),
        ({"coils.pickup.length": None}, "coils.pickup.length: is needed and cannot be left out"),
        ({"coils.pickup.length": "none"}, "is needed and cannot be left out"),
        ({"coils.pickup": 3}, "is a whole part; name one of its keys"),
        ({"coils.pickup.opening[2]": "1 mm"}, "coils.pickup.opening has 2 entries, counted from"),
        ({"rotors.upper.magnets[1].radius": "1 mm"}, "rotors.upper.magnets has 1 entry, counted"),
        ({"rotors.upper.magnets[0]": "1 mm"}, "is a whole part"),
        ({"rotors.upper.magnets.bar": "1 mm"}, "has 1 entry, counted from [0]"),
        ({"rotors.upper.magnets[0].magnet": "rod"}, 'no magnet is called "rod"'),
        ({"coils.pickup.length.mm": 3}, ""),
        ({"": 3}, "is not a path"),
        ({"coils..pickup": 3}, "is not a path"),
        ({"load.across": "nobody"}, 'load.across: no coil or connection is called "nobody"'),
        ({"clearance": "0 mm"}, 'clearance: "0 mm" is out of range; allowed: 0.001 mm to 1 m'),
        ({"clearance": "2"}, "has no unit"),
        ({"rotors.uper.clearance": "2 mm"}, 'no rotor is called "uper"'),
        ({"crank_speed": "2 rpm"}, "no such path"),
    ],
)
def test_bad_changes_are_one_line(changes, words):
    assert words in refusal(MACHINES["lamp_ring"], changes)


def test_a_parameter_that_is_not_there_has_a_nearest_one():
    with pytest.raises(ImpossibleError) as caught:
        parameter(MACHINES["lamp_ring"], "coils.pickup.wire.guage")
    assert str(caught.value) == (
        '"coils.pickup.wire.guage" is no parameter of this machine; did you mean '
        '"coils.pickup.wire.gauge"?'
    )


def test_a_geared_ratio_names_the_wheels_to_change():
    said = refusal(MACHINES["geared_pair"], {"rotors.lower.gear_ratio": 10})
    assert said == (
        "rotors.lower.gear_ratio: the gears make it; change gears.wheels.right.teeth or "
        "gears.wheels.idler.teeth or gears.wheels.spread.teeth or gears.wheels.pinion.teeth or "
        "gears.wheels.hand.teeth instead"
    )
    changed = MACHINES["geared_pair"].changed({"gears.wheels.hand.teeth": 75})
    assert changed.placed_rotor("upper").gear_ratio == 15
    assert changed.placed_rotor("lower").gear_ratio == -15


def test_entries_of_lists_and_of_positions():
    machine = MACHINES["one_rotor"].changed(
        {
            "rotors.upper.magnets[1].height": "12 mm",
            "coils.pickup.centre[1]": 0.025,
            "coils.pickup.opening[0]": "26 mm",
            "magnets.bar.size[2]": "6 mm",
            "rotors.upper.shaft.along[0]": 1,
        }
    )
    assert [m.height for m in machine.rotors[0].magnets] == [0.0115, 0.012]
    assert machine.coils[0].centre == (0.0, 0.025, 0.0)
    assert machine.coils[0].opening == pytest.approx((0.026, 0.016), rel=1e-15)
    assert machine.magnets[0].size == (0.02, 0.01, 0.006)
    assert machine.rotors[0].shaft.along == pytest.approx((0.5**0.5, 0, 0.5**0.5))


def test_none_removes_what_may_be_left_out():
    machine = MACHINES["lamp_ring"]
    without = machine.changed({"load.capacitor": "none"})
    assert without.load.capacitor == LoadCapacitor()
    assert without == machine.changed({"load.capacitor": None})
    assert machine.changed({"load.rectifier": "none", "load.diode": None}).load.rectifier == "none"
    assert not machine.changed({"load": "none"}).load
    bare = machine.changed(
        {"coils.pickup.wire": "none", "coils.pickup.turns": 900, "load": None}
    ).coils[0]
    assert (bare.wire, bare.turns) == (CoilWire(), 900)
    assert MACHINES["three_rotors"].changed({"rotors.side.start": None}).rotor("side").start == 0.0


def test_keys_that_the_file_leaves_out():
    machine = MACHINES["one_rotor"].changed(
        {
            "temperature": "30 degC",
            "crank.arm": "80 mm",
            "coils.pickup.wire.gauge": "AWG 34",
            "rotors.upper.magnets[0].count": 2,
            "rotors.upper.start": "90 deg",
            "load.across": "pickup",
            "load.capacitor.value": "100 uF",
            "adhesive.density": "7000 kg/m^3",
        }
    )
    assert machine.temperature == pytest.approx(303.15)
    assert machine.crank.arm == 0.08
    assert machine.crank.hand_force == 60.0
    assert machine.coils[0].wire.wire.name == "AWG 34 single"
    assert machine.rotors[0].start == pytest.approx(math.pi / 2)
    assert machine.load.capacitor.value == pytest.approx(1e-4)
    assert MACHINES["lamp_ring"].changed({"load.capacitor": "100 uF"}).load.capacitor.value == (
        pytest.approx(1e-4)
    )


def test_what_decides_the_turns_replaces_the_rest():
    machine = MACHINES["lamp_ring"]  # filled
    coil = machine.changed({"coils.pickup.turns": 500}).coils[0]
    assert (coil.turns, coil.wire.fill, coil.winding.turns) == (500, None, 500)
    coil = machine.changed({"coils.pickup.wire.length": "20 m", "coils.pickup.build": None}).coils[
        0
    ]
    assert (coil.turns, coil.wire.fill, coil.wire.length) == (None, None, 20.0)
    again = machine.changed({"coils.pickup.turns": 500}).changed(
        {"coils.pickup.wire.fill": "section"}
    )
    assert again == machine
    left = MACHINES["two_coils"]  # from spools
    coil = left.changed({"coils.left.wire.length": "20 m"}).coil("left")
    assert (coil.wire.spools, coil.wire.length) == ((), 20.0)
    coil = left.changed({"coils.left.wire.spools[0].used": "50 %"}).coil("left")
    assert coil.wire.spools[0].used == 0.5
    assert coil.winding.turns > left.coil("left").winding.turns


def test_other_rivals():
    machine = MACHINES["lamp_ring"]
    wire = machine.changed({"coils.pickup.wire.overall": "0.24 mm"})
    assert wire.coils[0].wire.overall == pytest.approx(0.24e-3)
    wire = wire.changed({"coils.pickup.wire.enamel": "heavy"}).coils[0].wire
    assert (wire.overall, wire.enamel.value) == (None, "heavy")
    geared = MACHINES["geared_pair"].changed({"gears.wheels.idler.on": "pinion"})
    idler = {wheel.name: wheel for wheel in geared.gears.wheels}["idler"]
    assert (idler.on, idler.driven_by) == ("pinion", None)
    joined = MACHINES["geared_pair"].changed({"connections.both.parallel": ["front", "rear"]})
    assert joined.connections[0].series == ()


def test_a_shape_is_changed_with_its_keys():
    disc = {
        "magnets.bar.shape": "disc",
        "magnets.bar.diameter": "12 mm",
        "magnets.bar.thickness": "5 mm",
    }
    machine = MACHINES["one_rotor"].changed(disc)
    assert machine.magnets[0].size == (0.012, 0.012, 0.005)
    back = machine.changed(
        {"magnets.bar.shape": "block", "magnets.bar.size": ["20 mm", "10 mm", "5 mm"]}
    )
    assert back == MACHINES["one_rotor"]
    assert 'a disc magnet needs "diameter"' in refusal(
        MACHINES["one_rotor"], {"magnets.bar.shape": "disc"}
    )
    assert '"ring" is not one of: block, disc, cylinder, sphere' in refusal(
        MACHINES["one_rotor"], {"magnets.bar.shape": "ring"}
    )


def test_colliding_machines_can_be_changed_but_not_computed():
    machine = MACHINES["one_rotor"].changed({"rotors.upper.magnets[0].height": "5 mm"})
    assert parameter(machine, "clearance").value < 0
    assert machine.changed({"rotors.upper.magnets[0].height": "11.5 mm"}) == MACHINES["one_rotor"]
    with pytest.raises(CollisionError, match='rotor "upper" runs into coil "pickup"'):
        OperatingPoint(machine)
    point = OperatingPoint(MACHINES["one_rotor"], tolerance=1e-2)
    with pytest.raises(CollisionError):
        point.changed({"rotors.upper.magnets[0].height": "5 mm"})
    with pytest.raises(ImpossibleError, match="runs into"):
        vary(point, {"rotors.upper.magnets[0].height": ["5 mm"]})


def test_errors_of_changes_carry_their_path():
    with pytest.raises(PartError) as caught:
        MACHINES["lamp_ring"].changed({"coils.pickup.wire.gauge": "32 BWG"})
    assert caught.value.path == ("coils", "pickup", "wire", "gauge")


NO_DISTANCES = {
    name: [p for p in parameters(machine) if not p.path.endswith(("clearance", "distance"))]
    for name, machine in MACHINES.items()
}
NUMBERS = {
    name: [p for p in items if isinstance(p.value, float)] for name, items in NO_DISTANCES.items()
}
OTHER = [None, "none", 0, 1, 2.5, "3 mm", "AWG 30", "-2/3", "x", "same", "section", [1, 0, 0], ()]


def with_all_checked(machine, changes):
    """Return the changed machine, or what is wrong, every part of it made anew."""
    tree = tree_of(machine)
    try:
        for path, value in changes.items():
            set_in_tree(tree, parsed_path(path), value)
        made = made_from(Machine, {**tree, "file": machine.file}, in_file=False)
    except PartError as error:
        return str(error), error.path
    except ValidationError as error:
        first = problems_of(Machine, error)[0]
        return str(PartError(first.path, first.text)), first.path
    return made, repr(made), made.file, [coil.share_m for coil in made.coils]


@settings(max_examples=150, deadline=None, derandomize=True)
@given(name=st.sampled_from(SHIPPED), data=st.data())
def test_what_is_not_changed_needs_no_check(name, data):
    machine = MACHINES[name]
    chosen = st.lists(st.sampled_from(NO_DISTANCES[name]), min_size=1, max_size=4)
    changes = {}
    for item in data.draw(chosen):
        if not (item.path.endswith("gear_ratio") and machine.gears):
            near = [item.text] + ([item.value * 1.25] if item in NUMBERS[name] else [])
            changes[item.path] = data.draw(st.sampled_from(near) | st.sampled_from(OTHER))
    try:
        made = machine.changed(changes)
        found = made, repr(made), made.file, [coil.share_m for coil in made.coils]
    except PartError as error:
        found = str(error), error.path
    assert found == with_all_checked(machine, changes)


def test_what_is_not_changed_stays_the_same_object():
    machine = MACHINES["lamp_ring"]
    changed = machine.changed({"coils.pickup.length": "9 mm", "load.lamps.parallel": 2})
    assert changed.rotors[0] is machine.rotors[0]
    assert changed.magnets[0] is machine.magnets[0]
    assert changed.coils[0] is not machine.coils[0]
    pair = MACHINES["two_coils"]
    changed = pair.changed({f"coils.{pair.coils[0].name}.length": "9 mm"})
    assert changed.coils[1] is pair.coils[1]
