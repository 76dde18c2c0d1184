"""Running the command line in this process."""

from __future__ import annotations

import signal
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import NamedTuple

import pytest

from fieldsim.cli import main

GEOMETRIES = Path(__file__).parents[2] / "geometries"


class Outcome(NamedTuple):
    code: int
    out: str
    err: str


@pytest.fixture
def run(capsys) -> Callable[..., Outcome]:
    """Return a function that runs a command and gives its exit code and what it wrote."""

    def call(*arguments) -> Outcome:
        capsys.readouterr()
        code = main([str(a) for a in arguments])
        return Outcome(code, *capsys.readouterr())

    return call


@pytest.fixture
def stoppable() -> Iterator[None]:
    """Let Ctrl-C stop this process, and those it starts, whoever started the tests.

    Under ``nohup`` or in the background of a script it is ignored, and children inherit that.
    """
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


@pytest.fixture
def refused(refused_for) -> Callable[..., str]:
    """Return a function that runs a command that must fail, and gives its one line."""

    def call(*arguments) -> str:
        (line,) = refused_for(*arguments)
        return line

    return call


@pytest.fixture
def refused_for(run) -> Callable[..., list[str]]:
    """Return a function that runs a command that must fail, and gives the lines it says why."""

    def call(*arguments) -> list[str]:
        outcome = run(*arguments)
        assert outcome.code == 2, outcome
        assert outcome.out == ""
        assert outcome.err.endswith("\n")
        told = outcome.err.removesuffix("\n").split("\n")
        for line in told:
            assert line.startswith("fieldsim: ")
            assert "Traceback" not in line
            assert len(line) < 700
            assert line.isprintable()
        return [line.removeprefix("fieldsim: ") for line in told]

    return call


@pytest.fixture
def one_rotor() -> str:
    """Return the text of the plainest geometry."""
    return (GEOMETRIES / "one_rotor.yaml").read_text(encoding="utf-8")


@pytest.fixture
def geometries() -> Path:
    """Return the folder of the shipped geometries."""
    return GEOMETRIES
