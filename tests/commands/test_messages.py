"""Lines on standard error: one each, whatever they hold."""

import sys

from fieldsim.commands.messages import complain, one_line


def test_one_line_shows_no_control_characters():
    assert one_line("a\nb\r\x1b[2Jc\u2028d\ud800e é") == "a?b??[2Jc?d?e é"


def test_long_messages_keep_both_ends(capsys):
    complain("first " + "x" * 5000 + " last\n\n")
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("fieldsim: first x")
    assert err.endswith("x last\n")
    assert err.count("\n") == 1
    assert len(err) < 700


def test_without_standard_error_nothing_is_said(monkeypatch):
    monkeypatch.setattr(sys, "stderr", None)
    complain("lost")
