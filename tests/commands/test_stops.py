"""Stopping the program, whatever was under way."""

from __future__ import annotations

import os
import signal

import pytest

import fieldsim.cli
from fieldsim.cli import main

pytestmark = pytest.mark.usefixtures("stoppable")


def test_what_a_stopped_library_says_is_not_shown(monkeypatch, capsys):
    def interrupted(*_, **__):
        try:
            os.kill(os.getpid(), signal.SIGINT)
        except KeyboardInterrupt:
            raise ImportError("half loaded") from None

    monkeypatch.setattr(fieldsim.cli.cli, "main", interrupted)
    assert main(["check", "a.yaml"]) == 130
    assert capsys.readouterr().err == "fieldsim: stopped\n"


def test_the_same_error_unstopped_is_a_fault_and_stays_one(monkeypatch):
    def broken(*_, **__):
        raise ImportError("half loaded")

    monkeypatch.setattr(fieldsim.cli.cli, "main", broken)
    with pytest.raises(ImportError, match="half loaded"):
        main(["check", "a.yaml"])


def test_the_handler_of_before_is_back():
    before = signal.getsignal(signal.SIGINT)
    main(["--help"])
    assert signal.getsignal(signal.SIGINT) is before
