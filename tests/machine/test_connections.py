"""Coils joined by name: what is built, and every way it can be wrong."""

from __future__ import annotations

import pytest
import yaml
from sections import complaint, section

from fieldsim.errors import ImpossibleError
from fieldsim.machine.connections import (
    BadConnectionError,
    CoilRef,
    Connection,
    InParallel,
    InSeries,
    Member,
    coil_refs,
    make_connections,
)

COILS = ("left", "right", "top", "spare")


def connection(name, *members, joining="series"):
    return Connection(name, **{joining: members})


def test_members_keep_their_order_and_sense():
    connections = make_connections([connection("pair", "left", "-right")], COILS)
    assert connections.source("pair") == InSeries((CoilRef("left"), CoilRef("right", True)))
    assert connections.source("spare") == CoilRef("spare")


def test_connections_nest_by_name_in_any_order():
    bank = connection("bank", "-pair", "top", joining="parallel")
    pair = connection("pair", "left", "right")
    for stated in ([bank, pair], [pair, bank]):
        connections = make_connections(stated, COILS)
        inner = InSeries((CoilRef("left"), CoilRef("right")), reverse=True)
        assert connections.source("bank") == InParallel((inner, CoilRef("top")))
        assert [ref.coil for ref in coil_refs(connections.source("bank"))] == [
            "left",
            "right",
            "top",
        ]
        assert connections.outermost == ("bank", "spare")


def test_without_connections_every_coil_stands_alone():
    assert make_connections([], COILS).outermost == COILS


@pytest.mark.parametrize(
    ("stated", "path", "message"),
    [
        (
            [connection("pair", "left", "rihgt")],
            ("pair", "series", 1),
            'no coil or connection is called "rihgt"; did you mean "right"?',
        ),
        (
            [connection("pair", "left", "zz", joining="parallel")],
            ("pair", "parallel", 1),
            'no coil or connection is called "zz"; there are: left, right, top, spare, pair',
        ),
        (
            [connection("pair", "left", "-left")],
            ("pair", "series", 1),
            '"left" is used twice, in "pair"; it has only two ends and can be used once',
        ),
        (
            [connection("a", "left", "right"), connection("b", "right", "top")],
            ("b", "series", 0),
            '"right" is used twice, in "a" and in "b"; it has only two ends and can be used once',
        ),
        (
            [
                connection("a", "left", "right"),
                connection("b", "a", "top"),
                connection("c", "a", "spare"),
            ],
            ("c", "series", 0),
            '"a" is used twice, in "b" and in "c"; it has only two ends and can be used once',
        ),
        (
            [connection("a", "a", "left")],
            ("a",),
            'connections contain each other: "a" in "a"',
        ),
        (
            [
                connection("a", "b", "left"),
                connection("b", "c", "right"),
                connection("c", "a", "top"),
            ],
            ("a",),
            'connections contain each other: "a" in "c" in "b" in "a"',
        ),
        ([connection("left", "right", "top")], ("left",), '"left" is already the name of a coil'),
        (
            [connection("a", "left", "right"), connection("a", "top", "spare")],
            ("a",),
            '"a" is the name of two connections',
        ),
    ],
)
def test_what_cannot_be_joined_is_one_line_with_its_place(stated, path, message):
    with pytest.raises(BadConnectionError) as caught:
        make_connections(stated, COILS)
    assert str(caught.value) == message
    assert caught.value.path == path


def chain(depth):
    coils = [f"c{k}" for k in range(depth + 1)]
    stated = [connection("n0", "c0", "c1")]
    stated += [connection(f"n{k}", f"n{k - 1}", f"c{k + 1}") for k in range(1, depth)]
    return stated, coils


def test_nesting_is_limited():
    stated, coils = chain(20)
    assert len(list(coil_refs(make_connections(stated, coils).source("n19")))) == 21
    with pytest.raises(BadConnectionError, match="nested deeper than 20 levels"):
        make_connections(*chain(21))
    with pytest.raises(BadConnectionError, match="nested deeper than 20 levels"):
        make_connections(*chain(3000))  # deeper than the interpreter would follow


def test_asking_for_an_unknown_name():
    with pytest.raises(ImpossibleError, match='called "pear"; did you mean "pair"'):
        make_connections([connection("pair", "left", "right")], COILS).source("pear")


def read(text):
    """Return all connections of a section, by the machine's rules."""
    stated = [
        section(Connection, yaml.safe_dump({"name": name, **each}))
        for name, each in yaml.safe_load(text).items()
    ]
    return make_connections(stated, ("left", "right", "third"))


def test_the_documented_example():
    connections = read("pair: {series: [left, -right]}\nbank: {parallel: [pair, third]}\n")
    pair = InSeries((CoilRef("left"), CoilRef("right", True)))
    assert connections.source("bank") == InParallel((pair, CoilRef("third")))


def test_a_space_after_the_minus_is_no_matter():
    assert read('pair: {series: [left, "- right"]}').source("pair").members[1].reverse


def test_members_are_written_as_they_are_read():
    stated = Connection("pair", series=["left", "-right"])
    assert stated.series == (Member("left"), Member("right", reverse=True))
    assert [str(member) for member in stated.members] == ["left", "-right"]


def test_names_are_checked_against_the_coils():
    with pytest.raises(BadConnectionError, match='no coil or connection is called "fourth"'):
        read("pair: {series: [left, fourth]}")


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("{}", 'a connection needs one of "series" and "parallel"; nest them by name'),
        (
            "{series: [left, right], parallel: [left, right]}",
            'a connection needs one of "series" and "parallel"; nest them by name',
        ),
        ("{series: left}", "must be a list of at least two names, like [left, -right]"),
        ("{series: [left]}", "has 1 names; allowed: a list of 2 to 1000"),
        ("{series: []}", "has 0 names; allowed: a list of 2 to 1000"),
        ("{series: [left, 3]}", "3 cannot be a name"),
        ("{series: [left, --right]}", '"-right" cannot be a name'),
        ("{series: [left, {series: [right, third]}]}", "a group of keys cannot be a name"),
        ("{serial: [left, right]}", 'unknown key; did you mean "series"?'),
    ],
)
def test_wrong_input_is_one_line(text, message):
    stated = {"name": "pair", **yaml.safe_load(text)}
    assert message in complaint(Connection, yaml.safe_dump(stated)).text


def test_a_list_beyond_reason_is_refused():
    stated = {"name": "pair", "series": ["left"] * 1001}
    assert "has 1001 names" in complaint(Connection, yaml.safe_dump(stated)).text
