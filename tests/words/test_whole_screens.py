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


@pytest.mark.parametrize(
    "name", ["check geared", "flux three", "emf two", "compare", "effort three", "wind two"]
)
@pytest.mark.parametrize("width", [40, 60])
def test_a_narrow_screen_says_the_same(name, width, capsys, monkeypatch):
    said = {}
    for columns in (200, width):
        monkeypatch.setenv("COLUMNS", str(columns))
        assert main(line(name)) == 0
        said[columns] = capsys.readouterr().out
    assert max(map(len, said[width].splitlines())) <= width
    assert set(said[200].replace("─", "").split()) <= set(said[width].split())
