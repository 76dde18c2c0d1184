"""The ``connections`` section as written."""

from __future__ import annotations

import pytest
import yaml
from fieldsim.machine_file.connections_schema import ConnectionsSection, connections_from_sections
from pydantic import TypeAdapter, ValidationError

from fieldsim.machine.connections import BadConnectionError, CoilRef, InParallel, InSeries

COILS = ("left", "right", "third")


def read(text):
    sections = TypeAdapter(ConnectionsSection).validate_python(yaml.safe_load(text))
    return connections_from_sections(sections, COILS)


def test_the_documented_example():
    connections = read("pair: {series: [left, -right]}\nbank: {parallel: [pair, third]}\n")
    pair = InSeries((CoilRef("left"), CoilRef("right", True)))
    assert connections.source("bank") == InParallel((pair, CoilRef("third")))


def test_a_space_after_the_minus_is_no_matter():
    assert read('pair: {series: [left, "- right"]}').source("pair").members[1].reverse


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("pair: {}", 'a connection needs one of "series" and "parallel"; nest them by name'),
        (
            "pair: {series: [left, right], parallel: [left, right]}",
            'a connection needs one of "series" and "parallel"; nest them by name',
        ),
        ("pair: {series: left}", "must be a list of at least two names, like [left, -right]"),
        ("pair: {series: [left]}", "has 1 names; allowed: a list of 2 to 1000"),
        ("pair: {series: [left, 3]}", "3 cannot be a name"),
        ("pair: {series: [left, --right]}", '"-right" cannot be a name'),
        ("pair: {series: [left, {series: [right, third]}]}", "a group of keys cannot be a name"),
        ("pair: {serial: [left, right]}", 'unknown key; did you mean "series"?'),
        ("pair: [left, right]", "must be keys with values: series, parallel"),
        ('"2 x": {series: [left, right]}', '"2 x" cannot be a name'),
    ],
)
def test_wrong_input_is_one_line(text, message):
    with pytest.raises(ValidationError) as caught:
        read(text)
    first = caught.value.errors()[0]["msg"]
    assert message in first
    assert "\n" not in first


def test_a_list_beyond_reason_is_refused():
    with pytest.raises(ValidationError, match="has 1001 names"):
        read(f"pair: {{series: [{', '.join(['left'] * 1001)}]}}")


def test_names_are_checked_against_the_coils():
    with pytest.raises(BadConnectionError, match='no coil or connection is called "fourth"'):
        read("pair: {series: [left, fourth]}")
