"""Parts made in Python are checked as sharply as a file, and compare by what is physical."""

from __future__ import annotations

import math
import pickle
from dataclasses import FrozenInstanceError, fields, replace

import pytest
from machines import shipped

from fieldsim.errors import ImpossibleError
from fieldsim.machine.coil_wire import CoilWire, Spool
from fieldsim.machine.coils import Coil
from fieldsim.machine.connections import Connection
from fieldsim.machine.gearing import Gears, GearWheel
from fieldsim.machine.load.load import Lamps, Load, LoadCapacitor
from fieldsim.machine.machine import Machine
from fieldsim.machine.magnets import Cuboid, Cylinder, Magnet, North, Sphere
from fieldsim.machine.mechanics import Adhesive, Crank, Friction
from fieldsim.machine.part import Part, PartError, keys_of
from fieldsim.machine.rotors import Mount, Rotor
from fieldsim.machine.shaft import Shaft

COIL = {
    "name": "pickup",
    "centre": (0.0, 0.022, 0.0),
    "axis": (0, 0, 1),
    "side": (1, 0, 0),
    "opening": (0.024, 0.016),
    "length": 0.012,
    "build": 0.006,
    "turns": 1800,
}
MOUNT = {"magnet": "bar", "radius": 0.022, "height": 0.0115, "north": "+shaft"}
ROTOR = {"name": "upper", "shaft": Shaft((0, 0, 0), (0, 0, 1)), "zero": (1, 0, 0)}


def refusal(make) -> PartError:
    """Return the error of a part that cannot be; its text is one line."""
    with pytest.raises(PartError) as caught:
        make()
    assert "\n" not in str(caught.value)
    assert isinstance(caught.value, ImpossibleError)
    assert isinstance(caught.value, ValueError)
    return caught.value


@pytest.mark.parametrize(
    ("changes", "path", "words"),
    [
        ({"length": -1}, ("length",), "-1 m is out of range; allowed: 0.1 mm to 10 m"),
        ({"length": math.inf}, ("length",), "inf m is not a finite number"),
        ({"length": True}, ("length",), "true is not a length"),
        ({"length": None}, ("length",), "an empty value is not a length"),
        ({"build": 0.0}, ("build",), "0 m is out of range"),
        ({"build": None}, ("build",), "this key is missing"),
        ({"turns": math.nan}, ("turns",), "nan is not a finite number"),
        ({"turns": 0}, ("turns",), "0 is out of range; it must be at least 1"),
        ({"turns": 1.5}, ("turns",), "1.5 must be a whole number"),
        ({"turns": None}, ("turns",), "this key is missing"),
        ({"axis": (0, 0, 0)}, ("axis",), "a direction needs a length above zero"),
        ({"axis": (0, 0, math.nan)}, ("axis",), "nan is not a finite number"),
        ({"axis": (0, 1)}, ("axis",), "has 2 numbers; a direction has three"),
        ({"side": (0, 0, -3)}, ("side",), "is parallel to the coil's axis"),
        ({"opening": (0.02, -0.02)}, ("opening", 1), "-0.02 m is out of range"),
        ({"opening": (0.02,)}, ("opening",), "has 1 entry; it needs 2"),
        ({"centre": (0, 0, 11)}, ("centre", 2), "11 m is out of range"),
        ({"name": "two words"}, ("name",), '"two words" cannot be a name'),
        ({"lenght": 1}, ("lenght",), 'unknown key; did you mean "length"?'),
        ({"gauge": 32}, ("gauge",), "unknown key; gauge belongs under wire, in this coil"),
        ({"wire": {"guage": 32}}, ("wire", "guage"), 'did you mean "gauge"?'),
        ({"wire": 3}, ("wire",), "must be keys with values: gauge"),
        ({"wire": {"gauge": 99}}, ("wire", "gauge"), "AWG 99 is out of range"),
        ({"wire": CoilWire("AWG 10"), "length": 1e-3}, ("wire",), ""),
    ],
)
def test_a_coil_that_cannot_be(changes, path, words):
    error = refusal(lambda: Coil(**{**COIL, **changes}))
    assert error.path == path
    assert words in error.problem
    assert str(error).startswith(f'coil "{changes.get("name", "pickup")}": ')


@pytest.mark.parametrize(
    ("make", "label", "path", "words"),
    [
        (lambda: Magnet("m", Cuboid((0.01,) * 3), 3.0), 'magnet "m"', "remanence", "out of range"),
        (lambda: Magnet("m", "block", 1.0), 'magnet "m"', "size", 'needs "size"'),
        (lambda: Cuboid((0.01, 0.01)), "cuboid", "size", "has 2 entries; it needs 3"),
        (lambda: Cylinder(0.01, -0.01), "cylinder", "thickness", "out of range"),
        (lambda: Sphere(0), "sphere", "diameter", "out of range"),
        (lambda: Mount(**{**MOUNT, "north": "up"}), "mount", "north", '"up" is not one of'),
        (lambda: Mount(**MOUNT, count=3), "mount", "count", "3 magnets cannot alternate"),
        (lambda: Shaft((0, 0, 0), (0, 0, 0)), "shaft", "along", "length above zero"),
        (lambda: Rotor(**ROTOR, magnets=()), 'rotor "upper"', "magnets", "at least one magnet"),
        (
            lambda: Rotor(**{**ROTOR, "zero": (0, 0, 1)}, magnets=(Mount(**MOUNT),)),
            'rotor "upper"', "zero", "is parallel to the shaft",
        ),
        (
            lambda: Rotor(**ROTOR, magnets=({**MOUNT, "radius": -1},)),
            'rotor "upper"', "magnets[0].radius", "-1 m is out of range",
        ),
        (lambda: Rotor(**ROTOR, magnets=(Mount(**MOUNT),), gear_ratio=0), 'rotor "upper"',
         "gear_ratio", "would never turn"),
        (lambda: Crank(-1), "crank", "arm", "out of range"),
        (lambda: Crank(hand_force=5), "crank", "arm", "this key is missing"),
        (lambda: Friction(crank=math.nan), "friction", "crank", "not a finite number"),
        (lambda: Adhesive(glued_on="below"), "adhesive", "glued_on", "is not a side of a magnet"),
        (lambda: Spool(), "spool", "", 'needs one of "mass" and "length"'),
        (lambda: Lamps(series=2), "lamps", "", 'need a "colour"'),
        (lambda: LoadCapacitor(esr=1.0), "load capacitor", "value", "this key is missing"),
        (lambda: Load(resistor=1.0), "load", "across", "this key is missing"),
        (lambda: Load("pickup"), "load", "", 'a load needs "lamps"'),
        (lambda: CoilWire(fill="section"), "coil wire", "gauge", "this key is missing"),
        (lambda: GearWheel("w", 20), 'gear wheel "w"', "", "neither"),
        (lambda: Gears(0.9), "gears", "wheels", "this key is missing"),
        (lambda: Connection("c"), 'connection "c"', "", 'needs one of "series"'),
        (lambda: Sphere(0.01, 0.02), "sphere", "", "2 values; it has: diameter"),
    ],
)  # fmt: skip
def test_other_parts_that_cannot_be(make, label, path, words):
    error = refusal(make)
    start = f"{label}: {path}: " if path else f"{label}: "
    assert str(error).startswith(start)
    assert words in error.problem


def test_a_machine_says_where_its_parts_do_not_fit():
    one = shipped("one_rotor")
    stranger = replace(one.rotors[0], magnets=(Mount(**{**MOUNT, "magnet": "rod"}),))
    error = refusal(lambda: replace(one, rotors=(stranger,)))
    assert error.path == ("rotors", "upper", "magnets", 0, "magnet")
    assert 'no magnet is called "rod"; there are: bar' in str(error)
    error = refusal(lambda: replace(one, load=Load("pikcup", resistor=10.0)))
    assert error.path == ("load", "across")
    assert 'no coil or connection is called "pikcup"' in str(error)
    error = refusal(lambda: replace(one, coils=one.coils * 2))
    assert 'two are called "pickup"' in str(error)
    assert "needs at least one rotor" in str(refusal(lambda: replace(one, rotors=())))


def test_directions_are_made_unit_and_perpendicular_once():
    coil = Coil(**{**COIL, "axis": (0, 0, 2), "side": (3, 0, 1)})
    assert (coil.axis, coil.side) == ((0.0, 0.0, 1.0), (1.0, 0.0, 0.0))
    assert coil == Coil(**COIL)
    odd = Coil(**{**COIL, "axis": (0.1, 0.2, 0.3), "side": (1, 0.7, -0.1)})
    assert math.hypot(*odd.axis) == pytest.approx(1.0, abs=1e-15)
    assert sum(a * b for a, b in zip(odd.axis, odd.side, strict=True)) == pytest.approx(
        0, abs=1e-15
    )
    again = odd
    for _ in range(5):
        again = replace(again)
        assert (again.axis, again.side) == (odd.axis, odd.side)
    assert Shaft((0, 0, 0), (0, 0, -5)).along == (0.0, 0.0, -1.0)
    turned = Rotor(**{**ROTOR, "zero": (2, 0, 5)}, magnets=(Mount(**MOUNT),))
    assert turned.zero == (1.0, 0.0, 0.0)


def test_replace_checks_again():
    coil = Coil(**COIL)
    assert "out of range" in str(refusal(lambda: replace(coil, length=-1)))
    wound = Coil(**{**COIL, "turns": None, "wire": CoilWire("AWG 32", fill="section")})
    thin = replace(wound, build=0.003)
    assert thin.winding.turns < wound.winding.turns
    assert thin.resistance_ohm(293.15) < wound.resistance_ohm(293.15)
    with pytest.raises(FrozenInstanceError):
        coil.length = 1.0


def test_quantities_may_be_text_or_numbers_in_si_units():
    assert Coil(**{**COIL, "length": "12 mm", "turns": "1800"}) == Coil(**COIL)
    assert Mount(**MOUNT).north is North.PLUS_SHAFT


EMPTY = [CoilWire, Load, LoadCapacitor, Lamps, Gears, Crank, Friction, Adhesive]


@pytest.mark.parametrize("kind", EMPTY)
def test_what_may_be_left_out_is_false_where_it_is_empty(kind: type[Part]):
    assert kind.optional
    assert not kind()
    assert kind() == kind()
    assert replace(kind()) == kind()
    assert repr(kind()) == f"{kind.__name__}()"


def test_what_is_there_is_true():
    assert all((Friction(crank=0.01), Crank(0.06), Load("c", resistor=1.0), CoilWire("AWG 32")))
    assert Cuboid((0.01, 0.01, 0.01))
    one = shipped("one_rotor")
    assert one
    assert not any((one.load, one.gears, one.crank, one.friction, one.adhesive, one.coils[0].wire))


@pytest.mark.parametrize(
    "changes",
    [
        {"title": "Another"},
        {"load.capacitor": "none"},
        {"load.lamps.parallel": 5},
        {"coils.pickup.wire.gauge": "AWG 33"},
        {"magnets.bar.remanence": 1.1},
        {"rotors.lower.start": 0.1},
        {"rotors.lower.gear_ratio": -8},
        {"temperature": "25 degC"},
        {"friction.crank": "1 mN*m"},
        {"crank.arm": "60 mm"},
    ],
)
def test_machines_that_differ_are_not_equal(changes):
    machine = shipped("lamp_ring")
    changed = machine.changed(changes)
    assert changed != machine
    back = replace(changed, **{f.name: getattr(machine, f.name) for f in fields(machine) if f.init})
    assert back == machine


def test_wire_and_load_count_and_the_file_does_not():
    machine = shipped("lamp_ring")
    assert replace(machine, load=Load()) != machine
    coil = machine.coils[0]
    bare = replace(coil, turns=coil.winding.turns, build=coil.winding.build_m, wire=CoilWire())
    assert replace(machine, coils=(bare,)) != machine
    moved = replace(machine, file="elsewhere.yaml")
    assert moved == machine
    assert hash(moved) == hash(machine)
    assert len({moved, machine, machine.changed({"title": "x"})}) == 2


@pytest.mark.parametrize("name", ["lamp_ring", "geared_pair", "two_coils", "three_rotors"])
def test_machines_can_be_pickled(name):
    machine = shipped(name)
    _ = machine.train, machine.placed_rotors  # what is worked out does not get in the way
    again = pickle.loads(pickle.dumps(machine))
    assert again == machine
    assert hash(again) == hash(machine)
    assert again.file == machine.file


def test_parts_are_shown_by_what_differs_from_the_defaults():
    assert repr(CoilWire("AWG 32", fill="section")).startswith("CoilWire(gauge=Gauge(awg=32, ")
    shown = repr(shipped("one_rotor"))
    assert shown.startswith("Machine(title='One rotor beside a rectangular coil', ")
    assert "file=" not in shown
    assert "load=" not in shown


def test_every_key_of_a_machine_says_what_it_means():
    kinds: set[type[Part]] = {Machine}
    found = list(kinds)
    for kind in found:
        for key in keys_of(kind).values():
            assert key.said.words
            for held in [key.holds, *(key.inline.kinds.values() if key.inline else ())]:
                if held is not None and held not in found:
                    found.append(held)
    assert {Coil, CoilWire, Spool, Rotor, Mount, Shaft, Load, GearWheel, Cylinder} <= set(found)


def test_a_part_of_a_load_with_nothing_but_an_unknown_key_says_that():
    error = refusal(lambda: Load("pickup", parts=({"size": 1},)))
    assert error.path == ("parts", 0, "size")
    assert error.problem.startswith('unknown key; did you mean "use"? Allowed here: name, resistor')
    with pytest.raises(PartError, match="a part is one of"):
        Load("pickup", parts=({},))
