"""A part with another value is the same whether all of it is checked again or only what is new."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from machines import GEOMETRIES, shipped

from fieldsim.machine.coil_wire import CoilWire
from fieldsim.machine.iron import Core
from fieldsim.machine.load.load import LoadCapacitor
from fieldsim.machine.magnets import Cuboid, Magnet
from fieldsim.machine.mechanics import Crank
from fieldsim.machine.part import Part, PartError, replaced

SHIPPED = sorted(path.stem for path in GEOMETRIES.glob("*.yaml"))
ODD = [
    None, "none", True, 0, 1, -1.0, 0.004, 1e9, float("nan"), "8 mm", "AWG 30", "upper", "bar",
    "section", "out", "2/3", "3 mm\n", (), (1, 0, 0), (0.0, 0.02), [0, "8 mm", 1], {}, ("bar",),
    ("block", {"size": (0.02, 0.01, 0.005)}), Cuboid((0.02, 0.01, 0.005)), CoilWire(),
]  # fmt: skip


def parts_of(item: object) -> Iterator[Part]:
    """Yield a part and all parts in it."""
    if isinstance(item, tuple):
        for each in item:
            yield from parts_of(each)
    if isinstance(item, Part):
        yield item
        for each in fields(item):
            yield from parts_of(getattr(item, each.name))


PARTS = [part for name in SHIPPED for part in parts_of(shipped(name))]
EVERY_VALUE = [getattr(part, each.name) for part in PARTS for each in fields(part)]


def outcome(make, part, changes):
    """Return what is made, or the error's words."""
    try:
        made = make(part, **changes)
    except PartError as error:
        return str(error), error.path
    return made, repr(made), {each.name: getattr(made, each.name) for each in fields(made)}


@pytest.mark.parametrize("name", SHIPPED)
def test_every_key_given_as_it_is_changes_nothing(name):
    for part in parts_of(shipped(name)):
        for each in fields(part):
            same = {each.name: getattr(part, each.name)}
            assert outcome(replaced, part, same) == outcome(replace, part, same)


@settings(max_examples=300, deadline=None, derandomize=True)
@given(part=st.sampled_from(PARTS), data=st.data())
def test_other_values_make_the_same_part_or_the_same_error(part, data):
    names = data.draw(
        st.lists(st.sampled_from([f.name for f in fields(part)]), max_size=3, unique=True)
        if fields(part)
        else st.just([])
    )
    values = st.sampled_from(ODD) | st.sampled_from(EVERY_VALUE)
    changes = {name: data.draw(values) for name in names}
    assert outcome(replaced, part, changes) == outcome(replace, part, changes)


def test_a_wrong_value_is_told_as_of_a_part_that_is_made():
    coil = shipped("one_rotor").coils[0]
    with pytest.raises(PartError, match=r'^coil "pickup": length: -1 m is out of range'):
        replaced(coil, length=-1)
    with pytest.raises(PartError, match=r'^coil "pickup": side: is parallel'):
        replaced(coil, side=coil.axis)


def test_what_does_not_go_with_the_rest_is_refused():
    mount = shipped("lamp_ring").rotors[0].magnets[0]
    with pytest.raises(PartError, match="3 magnets cannot alternate"):
        replaced(mount, count=3)
    assert replaced(mount, count=3, poles="same").count == 3


@pytest.mark.parametrize(
    ("empty", "changes"),
    [
        (CoilWire(), {"packing": "hexagonal"}),
        (LoadCapacitor(), {"esr": 0.1}),
        (LoadCapacitor(), {"value": 1e-3}),
        (Crank(), {"arm": 0.1}),
        (Core(), {"offset": 0.001}),
    ],
)
def test_an_empty_part_gets_what_it_needs_or_is_refused(empty, changes):
    assert outcome(replaced, empty, changes) == outcome(replace, empty, changes)


def test_a_field_that_there_is_not_is_refused():
    magnet = Magnet("bar", Cuboid((0.02, 0.01, 0.005)), 1.2)
    with pytest.raises(PartError, match="unknown key"):
        replaced(magnet, strength=1.0)


def test_a_part_of_another_kind_is_no_shape():
    magnet = Magnet("bar", Cuboid((0.02, 0.01, 0.005)), 1.2)
    for make in (replace, replaced):
        with pytest.raises(
            PartError, match=r"^magnet \"bar\": a coil wire is not one of: block, disc"
        ):
            make(magnet, shape=CoilWire())
