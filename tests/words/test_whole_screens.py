"""Every word and number that the commands print, as approved by eye."""

from __future__ import annotations

import pytest
from approved import assert_approved
from shown import COMMANDS, file_name, line

from fieldsim.cli import main


@pytest.mark.parametrize("name", COMMANDS)
def test_screens(name, capsys):
    assert main(line(name)) == 0
    out, err = capsys.readouterr()
    assert err == ""
    assert_approved(f"screens/{file_name(name, 'txt')}", out)
