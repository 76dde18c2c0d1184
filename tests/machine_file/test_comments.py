"""Comments: each key's meaning once, beside its line or above it, and no other change."""

from __future__ import annotations

import yaml
from hypothesis import HealthCheck, Phase, given, settings
from machine_files import described_machines
from machines import shipped

from fieldsim.machine_file.comments import comment, commented
from fieldsim.machine_file.reader import read
from fieldsim.machine_file.writer import explained_text, machine_text


@settings(
    max_examples=15,
    deadline=None,
    derandomize=True,
    suppress_health_check=list(HealthCheck),
    phases=[Phase.generate],
)
@given(machine=described_machines())
def test_any_machine_explained_reads_as_itself(machine, tmp_path_factory):
    path = tmp_path_factory.mktemp("comments") / "machine.yaml"
    path.write_text(explained_text(machine, {"rotors": "What turns.\nAnd how."}), encoding="utf-8")
    assert read(path) == machine
    assert "\n# What turns.\n# And how.\nrotors:" in path.read_text(encoding="utf-8")


def test_only_comments_and_line_ends_are_added():
    machine = shipped("geared_pair")
    explained = explained_text(machine, {})
    assert yaml.safe_load(explained) == yaml.safe_load(machine_text(machine))
    assert explained != machine_text(machine)


def test_a_meaning_stands_beside_its_line_or_above_it():
    text = "a:\n  b: 1\n  c: {d: 1, e: 2}\nf: 2\n"
    meanings = {("a", "b"): "short", ("a", "c"): "long " * 20, ("a", "c", "d"): "not shown"}
    assert commented(text, meanings, {"f": "Above f."}).splitlines() == [
        "a:",
        "  b: 1                            # short",
        "  # " + " ".join(["long"] * 15),
        "  # " + " ".join(["long"] * 5),
        "  c: {d: 1, e: 2}",
        "",
        "# Above f.",
        "f: 2",
    ]


def test_a_comment_keeps_its_lines_and_its_indents():
    assert comment("one\n  two", 4) == ["    # one", "    #   two"]
