"""The help of every command: complete, and in the same words for the same options."""

import click
import pytest

from fieldsim.cli import COMMANDS, cli

SPEED = 'Speed of the crank, like "90 rpm" or "1.5 turn/s".  [default: 120 rpm]'


def options(name):
    command = cli.get_command(click.Context(cli), name)
    return {p.opts[0]: p for p in command.params if isinstance(p, click.Option)}


@pytest.mark.parametrize("name", COMMANDS)
def test_help_of_a_command(name, run):
    outcome = run(name, "--help")
    assert (outcome.code, outcome.err) == (0, "")
    about = {"keys": "[SECTION]", "new": "[KIND]", "live": "[GEOMETRY]", "search": "WISH"}.get(
        name, "GEOMETR"
    )
    assert outcome.out.startswith(f"Usage: fieldsim {name} [OPTIONS] {about}")
    assert max(map(len, outcome.out.splitlines())) <= 80
    found = options(name)
    if name != "live":  # a page has no figures to print
        assert found["--json"].help == "Print one JSON object, SI units."
    for option in found.values():
        assert option.help[0].isupper()
        assert option.metavar or option.is_flag or option.type.name in ("integer", "float")


def test_the_same_option_has_the_same_words_everywhere():
    words = {}
    for command in COMMANDS:
        for name, option in options(command).items():
            words.setdefault(name, {}).setdefault(option.help, []).append(command)
    assert list(words["--crank-speed"]) == [SPEED]
    assert {name for name, texts in words.items() if len(texts) > 1} == {
        "--out", "--gauges", "--values",
    }  # fmt: skip
    # Elsewhere a table; here a picture, a file to begin with, a folder, and the best machine.
    alone = [commands for commands in words["--out"].values() if len(commands) == 1]
    assert sorted(alone) == [["draw"], ["new"], ["report"], ["search"]]


@pytest.mark.parametrize("name", COMMANDS)
def test_defaults_are_told(name, run):
    """What is used when an option is left out stands in the help: none is a secret."""
    text = " ".join(run(name, "--help").out.split())
    for option in options(name).values():
        if isinstance(option.default, str | int | float) and not option.is_flag:
            assert f"[default: {option.default}]" in text, option.opts
